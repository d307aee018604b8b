"""Reminders: one row per licence, step and recipient, so that each is sent once."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from .licences import Licence


class Reminder(models.Model):
    """One step of a licence's reminder policy for one person. Rows are made before mail is sent."""

    class Step(models.TextChoices):
        WINDOW_OPENS = "window_opens", "the renewal window opens"
        BEFORE_LAST_DAY = "before_last_day", "before the last filing day"
        EXPIRED = "expired", "the licence has expired"

    class State(models.TextChoices):
        WAITING = "waiting", "waiting to be sent"
        SENDING = "sending", "being sent"
        SENT = "sent", "sent"
        OVERTAKEN = "overtaken", "no longer needed"

    licence = models.ForeignKey(Licence, on_delete=models.CASCADE, related_name="reminders")
    recipient = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reminders"
    )
    step = models.CharField(max_length=16, choices=Step.choices)
    days_before = models.PositiveIntegerField(default=0)
    expires_on = models.DateField("expiry the reminder is about")
    due_on = models.DateField("due")
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    claimed_until = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    attempts = models.PositiveIntegerField(default=0)
    last_error = models.TextField(blank=True)

    class Meta:
        ordering = ["due_on", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["licence", "recipient", "step", "days_before", "expires_on"], name="reminder_once"
            ),
        ]
        indexes = [models.Index(fields=["state", "due_on"], name="reminder_due")]
        default_permissions = ("view",)

    def __str__(self) -> str:
        return f"{self.licence}: {self.get_step_display()} ({self.due_on})"
