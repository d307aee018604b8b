"""Steps in the life of a licence or of one of its channels: what happened, when, who entered it."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from licences.life import Step
from licences.life.records import CHANNEL_STEPS
from sites.models import Registered

from .channels import LicensedChannel
from .licences import Licence


class LicenceEvent(Registered):
    """One step. ``changes`` keeps what it set: field → [before, after], as plain JSON values."""

    licence = models.ForeignKey(Licence, on_delete=models.CASCADE, related_name="events")
    channel = models.ForeignKey(
        LicensedChannel, on_delete=models.CASCADE, null=True, blank=True, related_name="events"
    )
    step = models.CharField(max_length=16, choices=[(step.value, step.done) for step in Step])
    on = models.DateField("on")
    proof = models.CharField(
        "proof", max_length=200, blank=True, help_text="The letter, receipt or file number that shows it."
    )
    note = models.TextField(blank=True)
    changes = models.JSONField(default=dict, editable=False)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    entered_by_name = models.CharField(max_length=200)

    class Meta:
        ordering = ["licence", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(channel__isnull=True)
                | models.Q(step__in=[step.value for step in CHANNEL_STEPS]),
                name="event_step_of_channel",
                violation_error_message="One channel alone can be surrendered or cancelled.",
            )
        ]

    def __str__(self) -> str:
        about = self.channel if self.channel is not None else self.licence
        return f"{about}: {self.get_step_display()} on {self.on}"
