"""Reminders: one row per licence, step and recipient, so that each is sent once; and how a person wants them."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q

from licences.life import StepKind, Topic
from sites.models import Registered

from .licences import Licence


class Reminder(models.Model):
    """One step of a licence's reminder policy for one person. Rows are made before mail is sent.

    ``escalated`` rows tell a manager that nobody acknowledged the step. ``about_on`` tells one round
    from the next: the expiry for a renewal, else the date itself.
    """

    class Step(models.TextChoices):
        WINDOW_OPENS = StepKind.WINDOW_OPENS.value, "the renewal window opens"
        BEFORE_LAST_DAY = StepKind.BEFORE_LAST_DAY.value, "before the last filing day"
        BEFORE_EXPIRY = StepKind.BEFORE_EXPIRY.value, "before the expiry"
        EXPIRED = StepKind.EXPIRED.value, "the licence has expired"
        BRING_INTO_USE = StepKind.BRING_INTO_USE.value, "before the bring-into-use date"
        USE_NOTICE = StepKind.USE_NOTICE.value, "before the notice of use"
        FEE = StepKind.FEE.value, "before a fee is due"

    class State(models.TextChoices):
        WAITING = "waiting", "waiting to be sent"
        SENDING = "sending", "being sent"
        SENT = "sent", "sent"
        SNOOZED = "snoozed", "put off"
        OVERTAKEN = "overtaken", "no longer needed"

    licence = models.ForeignKey(Licence, on_delete=models.CASCADE, related_name="reminders")
    recipient = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reminders"
    )
    step = models.CharField(max_length=16, choices=Step.choices)
    days_before = models.IntegerField(default=0, help_text="Negative: days after.")
    about_on = models.DateField("date the reminder is about")
    act_by = models.DateField("act by")
    due_on = models.DateField("due")
    ready_on = models.DateField("in the next mail from")
    escalated = models.BooleanField("told to a manager", default=False)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    claimed_until = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    attempts = models.PositiveIntegerField(default=0)
    last_error = models.TextField(blank=True)
    acknowledged_at = models.DateTimeField(null=True)
    acknowledged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    snoozed_until = models.DateField("put off until", null=True)
    snooze_reason = models.CharField("why it was put off", max_length=200, blank=True)
    rounds = models.PositiveIntegerField("times put off", default=0)

    class Meta:
        ordering = ["due_on", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["licence", "recipient", "step", "days_before", "about_on", "escalated"],
                name="reminder_once",
            ),
        ]
        indexes = [models.Index(fields=["state", "due_on"], name="reminder_due")]
        default_permissions = ("view",)
        permissions = [("answer_reminder", "Can acknowledge and put off reminders of others")]

    def __str__(self) -> str:
        return f"{self.licence}: {self.step_words} ({self.due_on})"

    @property
    def topic(self) -> Topic:
        return StepKind(self.step).topic

    @property
    def step_words(self) -> str:
        """The step with its days: “30 days before the last filing day”."""
        words = str(self.get_step_display())
        if not self.days_before:
            day = "on the day: " if words.startswith("before") else ""
            return day + words.removeprefix("before ")
        if self.days_before < 0:
            return f"{-self.days_before} day{'s' if self.days_before < -1 else ''} after the expiry"
        days = "1 day" if self.days_before == 1 else f"{self.days_before} days"
        return f"{days} {words}" if words.startswith("before") else f"{days} before {words}"


def all_topics() -> list[str]:
    return [topic.value for topic in Topic]


class ReminderSettings(Registered):
    """How one person wants reminders: how often, when, of what; and their calendar's address.

    The address is signed and not stored; ``calendar_number`` goes into it, 0 means that none is given
    out, and the next number makes the old address void.
    """

    class Rhythm(models.TextChoices):
        AT_ONCE = "at_once", "at once, on the day each falls due"
        DAILY = "daily", "one mail a day at most"
        WEEKLY = "weekly", "one mail a week"

    class Weekday(models.IntegerChoices):
        MONDAY = 0, "Monday"
        TUESDAY = 1, "Tuesday"
        WEDNESDAY = 2, "Wednesday"
        THURSDAY = 3, "Thursday"
        FRIDAY = 4, "Friday"
        SATURDAY = 5, "Saturday"
        SUNDAY = 6, "Sunday"

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="reminder_settings"
    )
    rhythm = models.CharField("how often", max_length=8, choices=Rhythm.choices, default=Rhythm.DAILY)
    weekday = models.PositiveSmallIntegerField(
        "day of a weekly mail", choices=Weekday.choices, default=Weekday.MONDAY
    )
    hour = models.PositiveSmallIntegerField(
        "not before (hour of the day)", default=6, validators=[MaxValueValidator(23)]
    )
    topics = models.JSONField("of what", default=all_topics, blank=True)
    calendar_number = models.PositiveIntegerField("number of the calendar's address", default=0)

    class Meta:
        ordering = ["person__username"]
        verbose_name = "settings of reminders"
        verbose_name_plural = "settings of reminders"
        default_permissions = ("view",)
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__lte=6) & Q(hour__lte=23),
                name="reminder_settings_in_the_week",
                violation_error_message="A weekday and an hour from 0 to 23 were expected.",
            )
        ]

    def __str__(self) -> str:
        return f"reminders of {self.person}"

    def clean(self) -> None:
        known = all_topics()
        if not isinstance(self.topics, list) or any(topic not in known for topic in self.topics):
            raise ValidationError(
                {"topics": f"{self.topics!r} was given; a list out of {known} was expected."}
            )
