"""Reminders: one row per licence, step and recipient, so that each is sent once; and how a person wants them."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, ngettext_lazy
from django.utils.translation import gettext_lazy as _

from licences.life import StepKind, Topic
from sites.models import Registered
from sites.saying import when_read
from sites.sentences import sentence
from sites.words import gettext_noop

from .licences import Licence


class Reminder(models.Model):
    """One step of a licence's reminder policy for one person. Rows are made before mail is sent.

    ``escalated`` rows tell a manager that nobody acknowledged the step. ``about_on`` tells one round
    from the next: the expiry for a renewal, else the date itself.
    """

    class Step(models.TextChoices):
        WINDOW_OPENS = StepKind.WINDOW_OPENS.value, _("the renewal window opens")
        BEFORE_LAST_DAY = StepKind.BEFORE_LAST_DAY.value, _("before the last filing day")
        BEFORE_EXPIRY = StepKind.BEFORE_EXPIRY.value, _("before the expiry")
        EXPIRED = StepKind.EXPIRED.value, _("the licence has expired")
        UNDECIDED = StepKind.UNDECIDED.value, _("the licence has expired and its renewal is not decided")
        BRING_INTO_USE = StepKind.BRING_INTO_USE.value, _("before the bring-into-use date")
        USE_NOTICE = StepKind.USE_NOTICE.value, _("before the notice of use")
        FEE = StepKind.FEE.value, _("before a fee is due")

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting to be sent")
        SENDING = "sending", _("being sent")
        SENT = "sent", _("sent")
        SNOOZED = "snoozed", _("put off")
        OVERTAKEN = "overtaken", _("no longer needed")

    licence = models.ForeignKey(
        Licence, on_delete=models.CASCADE, related_name="reminders", verbose_name=_("licence")
    )
    recipient = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="reminders",
        verbose_name=_("recipient"),
    )
    step = models.CharField(_("step"), max_length=16, choices=Step.choices)
    days_before = models.IntegerField(_("days before"), default=0, help_text=_("Negative: days after."))
    about_on = models.DateField(_("date the reminder is about"))
    act_by = models.DateField(_("act by"))
    due_on = models.DateField(_("due"))
    ready_on = models.DateField(_("in the next mail from"))
    escalated = models.BooleanField(_("told to a manager"), default=False)
    state = models.CharField(_("state"), max_length=10, choices=State.choices, default=State.WAITING)
    claimed_until = models.DateTimeField(_("claimed until"), null=True)
    sent_at = models.DateTimeField(_("sent at"), null=True)
    attempts = models.PositiveIntegerField(_("attempts"), default=0)
    last_error = models.TextField(_("last error"), blank=True)
    acknowledged_at = models.DateTimeField(_("acknowledged at"), null=True)
    acknowledged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
        verbose_name=_("acknowledged by"),
    )
    snoozed_until = models.DateField(_("put off until"), null=True)
    snooze_reason = models.CharField(_("why it was put off"), max_length=200, blank=True)
    rounds = models.PositiveIntegerField(_("times put off"), default=0)

    class Meta:
        verbose_name = _("reminder")
        verbose_name_plural = _("reminders")
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
        step, days = StepKind(self.step), self.days_before
        if days > 0:
            return str(_DAYS_BEFORE[step] % {"days": days})
        if days < 0:
            return str(_DAYS_AFTER % {"days": -days})
        return str(_ON_THE_DAY.get(step, self.get_step_display()))


_DAYS_BEFORE = {
    StepKind.WINDOW_OPENS: ngettext_lazy(
        "%(days)d day before the renewal window opens",
        "%(days)d days before the renewal window opens",
        "days",
    ),
    StepKind.BEFORE_LAST_DAY: ngettext_lazy(
        "%(days)d day before the last filing day", "%(days)d days before the last filing day", "days"
    ),
    StepKind.BEFORE_EXPIRY: ngettext_lazy(
        "%(days)d day before the expiry", "%(days)d days before the expiry", "days"
    ),
    StepKind.EXPIRED: ngettext_lazy(
        "%(days)d day before the licence has expired", "%(days)d days before the licence has expired", "days"
    ),
    StepKind.UNDECIDED: ngettext_lazy(
        "%(days)d day before the licence has expired", "%(days)d days before the licence has expired", "days"
    ),
    StepKind.BRING_INTO_USE: ngettext_lazy(
        "%(days)d day before the bring-into-use date", "%(days)d days before the bring-into-use date", "days"
    ),
    StepKind.USE_NOTICE: ngettext_lazy(
        "%(days)d day before the notice of use", "%(days)d days before the notice of use", "days"
    ),
    StepKind.FEE: ngettext_lazy(
        "%(days)d day before a fee is due", "%(days)d days before a fee is due", "days"
    ),
}
_DAYS_AFTER = ngettext_lazy("%(days)d day after the expiry", "%(days)d days after the expiry", "days")
_ON_THE_DAY = {
    StepKind.BEFORE_LAST_DAY: _("on the day: the last filing day"),
    StepKind.BEFORE_EXPIRY: _("on the day: the expiry"),
    StepKind.BRING_INTO_USE: _("on the day: the bring-into-use date"),
    StepKind.USE_NOTICE: _("on the day: the notice of use"),
    StepKind.FEE: _("on the day: a fee is due"),
}


def all_topics() -> list[str]:
    return [topic.value for topic in Topic]


class ReminderSettings(Registered):
    """How one person wants reminders: how often, when, of what; and their calendar's address.

    The address is signed and not stored; ``calendar_number`` goes into it, 0 means that none is given
    out, and the next number makes the old address void.
    """

    class Rhythm(models.TextChoices):
        AT_ONCE = "at_once", _("at once, on the day each falls due")
        DAILY = "daily", _("one mail a day at most")
        WEEKLY = "weekly", _("one mail a week")

    class Weekday(models.IntegerChoices):
        MONDAY = 0, _("Monday")
        TUESDAY = 1, _("Tuesday")
        WEDNESDAY = 2, _("Wednesday")
        THURSDAY = 3, _("Thursday")
        FRIDAY = 4, _("Friday")
        SATURDAY = 5, _("Saturday")
        SUNDAY = 6, _("Sunday")

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        on_delete=models.CASCADE,
        related_name="reminder_settings",
        verbose_name=_("person"),
    )
    rhythm = models.CharField(_("how often"), max_length=8, choices=Rhythm.choices, default=Rhythm.DAILY)
    weekday = models.PositiveSmallIntegerField(
        _("day of a weekly mail"), choices=Weekday.choices, default=Weekday.MONDAY
    )
    hour = models.PositiveSmallIntegerField(
        _("not before (hour of the day)"), default=6, validators=[MaxValueValidator(23)]
    )
    topics = models.JSONField(_("of what"), default=all_topics, blank=True)
    calendar_number = models.PositiveIntegerField(_("number of the calendar's address"), default=0)

    class Meta:
        ordering = ["person__username"]
        verbose_name = _("settings of reminders")
        verbose_name_plural = _("settings of reminders")
        default_permissions = ("view",)
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__lte=6) & Q(hour__lte=23),
                name="reminder_settings_in_the_week",
                violation_error_message=_("A weekday and an hour from 0 to 23 were expected."),
            )
        ]

    def __str__(self) -> str:
        return gettext("reminders of {person}").format(person=self.person)

    def clean(self) -> None:
        known = all_topics()
        if not isinstance(self.topics, list) or any(topic not in known for topic in self.topics):
            raise ValidationError(
                {
                    "topics": when_read(
                        sentence(
                            gettext_noop("{topics} was given; a list out of {known} was expected."),
                            topics=repr(self.topics),
                            known=known,
                        )
                    )
                }
            )
