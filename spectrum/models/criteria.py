"""Protection criteria: what receivers of a band are protected against, by default or for one authority."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from licences.models import Authority
from sites.models import Registered


class ProtectionCriterion(Registered):
    """Overrides the default criterion for the receivers in a band, of one authority's licences or of all."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    authority = models.ForeignKey(
        Authority,
        verbose_name=_("authority"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="protection_criteria",
        help_text=_("Empty: whatever the authority."),
    )
    frequency_min_mhz = models.FloatField(_("from (MHz)"))
    frequency_max_mhz = models.FloatField(_("to (MHz)"))
    i_over_n_limit_db = models.FloatField(_("I/N of one interferer (dB)"), default=-6.0)
    long_term_time_percent = models.FloatField(_("for this part of the time (%)"), default=20.0)
    aggregate_i_over_n_limit_db = models.FloatField(_("I/N of all interferers (dB)"), default=-5.87)
    short_term_time_percent = models.FloatField(_("C/I to be kept for all but (% of time)"), default=0.1)
    source = models.CharField(_("document that sets it"), max_length=200)

    class Meta:
        verbose_name = _("protection criterion")
        ordering = ["frequency_min_mhz", "name"]
        verbose_name_plural = _("protection criteria")
        constraints = [
            models.CheckConstraint(
                condition=Q(frequency_min_mhz__gt=0, frequency_max_mhz__gte=F("frequency_min_mhz")),
                name="criterion_band_in_order",
                violation_error_message=_("The band must be positive, lowest frequency first."),
            ),
            models.CheckConstraint(
                condition=Q(long_term_time_percent__gte=0.001, long_term_time_percent__lte=50),
                name="criterion_long_percent",
                violation_error_message=_(
                    "The long-term percentage must lie between 0.001 and 50 (ITU-R P.452)."
                ),
            ),
            models.CheckConstraint(
                condition=Q(short_term_time_percent__gte=0.001, short_term_time_percent__lte=50),
                name="criterion_short_percent",
                violation_error_message=_(
                    "The short-term percentage must lie between 0.001 and 50 (ITU-R P.452)."
                ),
            ),
            models.CheckConstraint(
                condition=Q(i_over_n_limit_db__gte=-40, i_over_n_limit_db__lte=40)
                & Q(aggregate_i_over_n_limit_db__gte=-40, aggregate_i_over_n_limit_db__lte=40),
                name="criterion_limits_in_range",
                violation_error_message=_("I/N limits must lie between -40 and 40 dB."),
            ),
        ]

    def __str__(self) -> str:
        return self.name
