"""The interference log: what was observed on a link, who it was, what was done and what came of it."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.models import Holder
from sites.models import Registered
from sites.models.documents import documents_of_it
from sites.saying import when_read
from sites.sentences import sentence
from sites.words import gettext_noop

from .checks import Finding
from .links import Link, Station


class InterferenceEntry(Registered):
    """Interference that was observed on a link. It is open until a day on which it was closed, with its outcome.

    Evidence (recordings, spectra, letters) is attached as documents.
    """

    link = models.ForeignKey(
        Link, verbose_name=_("link"), on_delete=models.CASCADE, related_name="interference"
    )
    began_on = models.DateField(_("from"))
    ended_on = models.DateField(
        _("until"), null=True, blank=True, help_text=_("Empty: it goes on, or nobody knows.")
    )
    times = models.CharField(
        _("at what times"), max_length=120, blank=True, help_text=_("For example: working days from 7 to 9.")
    )
    station = models.ForeignKey(
        Station,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="interference",
        verbose_name=_("observed at the station"),
    )
    place = models.CharField(_("observed elsewhere"), max_length=160, blank=True)
    frequency_hz = models.BigIntegerField(_("frequency (Hz)"), null=True, blank=True)
    level_dbm = models.FloatField(_("level at the receiver (dBm)"), null=True, blank=True)
    observed = models.TextField(_("what was observed"))
    other_party = models.ForeignKey(
        Holder,
        verbose_name=_("other party"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="interference",
    )
    source = models.CharField(
        _("what it came from"),
        max_length=200,
        blank=True,
        help_text=_("As far as it is known, or what is suspected."),
    )
    finding = models.ForeignKey(
        Finding,
        verbose_name=_("finding"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="interference",
    )
    done = models.TextField(_("what was done"), blank=True)
    outcome = models.TextField(_("outcome"), blank=True)
    closed_on = models.DateField(_("closed"), null=True, blank=True, help_text=_("Empty: it is open."))

    documents = documents_of_it()

    class Meta:
        verbose_name = _("interference entry")
        ordering = ["-began_on", "-id"]
        verbose_name_plural = _("interference entries")
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("began_on")),
                name="interference_dates_in_order",
                violation_error_message=_("The last day must not lie before the first."),
            ),
            models.CheckConstraint(
                condition=Q(closed_on__isnull=True) | Q(closed_on__gte=F("began_on")),
                name="interference_closed_after_it_began",
                violation_error_message=_("It cannot be closed before it began."),
            ),
            models.CheckConstraint(
                condition=Q(closed_on__isnull=True) | ~Q(outcome=""),
                name="interference_closed_with_outcome",
                violation_error_message=_("It is closed: say what the outcome was."),
            ),
            models.CheckConstraint(
                condition=Q(level_dbm__isnull=True) | Q(level_dbm__gte=-200, level_dbm__lte=60),
                name="interference_level_in_range",
                violation_error_message=_("The level must lie between -200 and 60 dBm."),
            ),
            models.CheckConstraint(
                condition=Q(frequency_hz__isnull=True) | Q(frequency_hz__gt=0),
                name="interference_frequency_positive",
                violation_error_message=_("The frequency must be positive."),
            ),
        ]

    def __str__(self) -> str:
        return gettext("{link} interference from {began_on}").format(link=self.link, began_on=self.began_on)

    def clean(self) -> None:
        if self.station is not None and self.station.link_id != self.link_id:
            raise ValidationError(
                {
                    "station": when_read(
                        sentence(
                            gettext_noop("This station is not one of {link}; choose one of its own."),
                            link=self.link,
                        )
                    )
                }
            )
