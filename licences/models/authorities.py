"""Authorities (regulators) and how their licences are renewed."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from sites.models import Registered


def default_reminder_steps() -> list[int]:
    return [90, 30, 14, 3]


class Authority(Registered):
    """The body that grants licences."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    country = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["code"]
        verbose_name_plural = "authorities"
        constraints = [
            models.CheckConstraint(
                condition=~Q(code=""),
                name="authority_code_given",
                violation_error_message="An authority needs a code.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class RenewalPolicy(Registered):
    """When a licence of this authority may be renewed, and when people are reminded."""

    authority = models.OneToOneField(Authority, on_delete=models.CASCADE, related_name="renewal_policy")
    window_opens_days = models.PositiveIntegerField("window opens (days before expiry)", default=180)
    last_filing_days = models.PositiveIntegerField("last filing day (days before expiry)", default=0)
    reminder_steps_days = models.JSONField(
        "reminders (days before the last filing day)",
        default=default_reminder_steps,
        help_text="For example [90, 30, 14, 3].",
    )
    unused_after_days = models.PositiveIntegerField("a channel counts as unused after (days)", default=365)

    class Meta:
        ordering = ["authority__code"]
        verbose_name_plural = "renewal policies"
        constraints = [
            models.CheckConstraint(
                condition=Q(window_opens_days__gte=F("last_filing_days")),
                name="policy_window_before_last_day",
                violation_error_message="The window must open on or before the last filing day.",
            ),
        ]

    def __str__(self) -> str:
        return f"Renewal at {self.authority.code}"

    def clean(self) -> None:
        steps = self.reminder_steps_days
        if not isinstance(steps, list) or not all(isinstance(s, int) and 0 <= s <= 3650 for s in steps):
            raise ValidationError(
                {
                    "reminder_steps_days": f"{steps!r} was given; a list of whole days from 0 to 3650 was expected, "
                    "for example [90, 30, 14]."
                }
            )
        if len(set(steps)) != len(steps):
            raise ValidationError(
                {"reminder_steps_days": "Each reminder step may stand only once in the list."}
            )
