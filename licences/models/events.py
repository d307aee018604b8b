"""Steps in the life of a licence or of one of its channels: what happened, when, who entered it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.life import Step
from licences.life.records import CHANNEL_STEPS
from sites.lazily import lazily
from sites.models import Registered
from sites.reading import written_day

from .channels import LicensedChannel
from .licences import Licence


def _done(step: Step) -> str:
    return step.done


class LicenceEvent(Registered):
    """One step. ``changes`` keeps what it set: field → [before, after], as plain JSON values.

    ``number`` counts the steps of a licence in the order in which they were entered.
    """

    licence = models.ForeignKey(
        Licence, on_delete=models.CASCADE, related_name="events", verbose_name=_("licence")
    )
    channel = models.ForeignKey(
        LicensedChannel,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="events",
        verbose_name=_("channel"),
    )
    number = models.PositiveIntegerField(_("number of the step"), editable=False)
    step = models.CharField(
        _("step"), max_length=16, choices=[(step.value, lazily(_done, step)) for step in Step]
    )
    on = models.DateField(_("on"))
    proof = models.CharField(
        _("proof"),
        max_length=200,
        blank=True,
        help_text=_("The letter, receipt or file number that shows it."),
    )
    note = models.TextField(_("note"), blank=True)
    changes = models.JSONField(_("changes"), default=dict, editable=False)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    entered_by_name = models.CharField(_("entered by name"), max_length=200)

    class Meta:
        verbose_name = _("licence event")
        verbose_name_plural = _("licence events")
        ordering = ["licence", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["licence", "number"],
                name="event_number_once",
                violation_error_message=_(
                    "Somebody entered another step of this licence at the same moment. Enter yours again."
                ),
            ),
            models.CheckConstraint(
                condition=models.Q(channel__isnull=True)
                | models.Q(step__in=[step.value for step in CHANNEL_STEPS]),
                name="event_step_of_channel",
                violation_error_message=_("One channel alone can be surrendered or cancelled."),
            ),
        ]

    def __str__(self) -> str:
        about = self.channel if self.channel is not None else self.licence
        return gettext("{about}: {step} on {day}").format(
            about=about, step=self.get_step_display(), day=written_day(self.on)
        )
