"""Applications: what was asked of an authority, when, and what it decided."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from licences.applying import State
from sites.lazily import lazy_words
from sites.models import Registered
from sites.models.documents import documents_of_it

from .authorities import Authority
from .holders import Holder


class Application(Registered):
    """An application for licences. Its links stand in the app that knows links; its state moves by its services.

    ``filed_as`` keeps what was filed about the application itself: the fields that were asked on that day and their
    values. What was filed of each station stands beside the links.
    """

    number = models.CharField(
        _("number"), max_length=40, unique=True, help_text=_("Our own number, for example A-2026-014.")
    )
    authority = models.ForeignKey(
        Authority, on_delete=models.PROTECT, related_name="applications", verbose_name=_("authority")
    )
    holder = models.ForeignKey(
        Holder, on_delete=models.PROTECT, related_name="applications", verbose_name=_("holder")
    )
    contact = models.TextField(
        _("responsible contact"),
        blank=True,
        help_text=_("Name, address, e-mail and telephone, as the authority asks."),
    )
    remarks = models.TextField(_("remarks"), blank=True, help_text=_("Printed on the data sheet."))
    state = models.CharField(
        _("state"),
        max_length=9,
        choices=[(state.value, lazy_words(state)) for state in State],
        default=State.DRAFTING.value,
        editable=False,
    )
    drawn_up_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        editable=False,
        verbose_name=_("drawn up by"),
    )
    filed_on = models.DateField(_("filed"), null=True, blank=True, editable=False)
    filed_despite = models.TextField(_("filed in spite of findings, because"), blank=True, editable=False)
    filed_as = models.JSONField(_("what was filed"), null=True, default=None, blank=True, editable=False)
    authority_reference = models.CharField(
        _("the authority's reference"), max_length=80, blank=True, editable=False
    )
    decided_on = models.DateField(_("decided"), null=True, blank=True, editable=False)
    decision_remarks = models.TextField(_("remarks on the decision"), blank=True, editable=False)

    documents = documents_of_it()

    class Meta:
        verbose_name = _("application")
        verbose_name_plural = _("applications")
        ordering = ["-id"]
        permissions = [("file_application", "Can file applications and record what came of them")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(number=""),
                name="application_number_given",
                violation_error_message=_("An application needs a number of ours."),
            ),
            models.CheckConstraint(
                condition=Q(state="drafting", filed_on__isnull=True, decided_on__isnull=True)
                | Q(state="filed", filed_on__isnull=False, decided_on__isnull=True)
                | Q(
                    state__in=("granted", "refused", "withdrawn"),
                    filed_on__isnull=False,
                    decided_on__isnull=False,
                    decided_on__gte=F("filed_on"),
                ),
                name="application_dates_fit_state",
                violation_error_message=_(
                    "An application is decided on or after the day on which it was filed."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def asked(self) -> list[str]:
        """The fields of the data sheet that are asked: as they were when it was filed, until then the authority's."""
        kept: list[str] = self.filed_as["asked"] if self.filed_as else self.authority.asked_fields
        return kept
