"""Reminders of every date of a licence, acknowledged, put off and escalated; settings of each person."""

import datetime as dt

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import F, Q

import licences.models.authorities
import licences.models.reminders

STEPS = [
    ("window_opens", "the renewal window opens"),
    ("before_last_day", "before the last filing day"),
    ("before_expiry", "before the expiry"),
    ("expired", "the licence has expired"),
    ("bring_into_use", "before the bring-into-use date"),
    ("use_notice", "before the notice of use"),
    ("fee", "before a fee is due"),
]
STATES = [
    ("waiting", "waiting to be sent"),
    ("sending", "being sent"),
    ("sent", "sent"),
    ("snoozed", "put off"),
    ("overtaken", "no longer needed"),
]
LISTS = [
    ("window_steps_days", "window", "before the window opens", "0: on the day it opens."),
    ("expiry_steps_days", "expiry", "before the expiry", ""),
    (
        "after_expiry_steps_days",
        "after_expiry",
        "after the expiry",
        "1: on the first day without the licence.",
    ),
    ("use_steps_days", "use", "before the bring-into-use date", ""),
    ("notice_steps_days", "notice", "before the notice of use", ""),
    ("fee_steps_days", "fee", "before a fee is due", ""),
]
PERSON = settings.AUTH_USER_MODEL


def fill(apps, schema_editor):
    """The step after the expiry was counted as 0 and is day 1; the other dates follow from what is stored."""
    alias = schema_editor.connection.alias
    rows = apps.get_model("licences", "Reminder").objects.using(alias)
    rows.filter(step="expired", days_before=0).update(days_before=-1)
    rows.update(act_by=F("about_on"), ready_on=F("due_on"))
    policies = apps.get_model("licences", "RenewalPolicy").objects.using(alias)
    days = dict(policies.values_list("authority_id", "last_filing_days"))
    to_file = rows.filter(step__in=("window_opens", "before_last_day"), licence__authority__in=days)
    for row in to_file.select_related("licence"):
        day = row.about_on.toordinal() - days[row.licence.authority_id]
        row.act_by = dt.date.fromordinal(min(max(1, day), dt.date.max.toordinal()))
        row.save(update_fields=["act_by"])


def added(model, name, field, preserve_default=True):
    return migrations.AddField(model, name, field, preserve_default=preserve_default)


def filled_date(name, words):
    return added(
        "reminder", name, models.DateField(words, default=dt.date(2000, 1, 1)), preserve_default=False
    )


class Migration(migrations.Migration):
    dependencies = [("licences", "0004_applications"), migrations.swappable_dependency(PERSON)]

    operations = [
        *(
            added(
                "renewalpolicy",
                name,
                models.JSONField(
                    f"reminders (days {words})",
                    default=getattr(licences.models.authorities, f"default_{default}_steps"),
                    blank=True,
                    help_text=help_text,
                ),
            )
            for name, default, words, help_text in LISTS
        ),
        added(
            "renewalpolicy",
            "escalate_after_days",
            models.PositiveIntegerField(
                "managers are told after (days without acknowledgement)",
                null=True,
                blank=True,
                default=7,
                help_text="Empty: never.",
            ),
        ),
        migrations.RemoveConstraint("reminder", "reminder_once"),
        migrations.RenameField("reminder", "expires_on", "about_on"),
        migrations.AlterField("reminder", "about_on", models.DateField("date the reminder is about")),
        migrations.AlterField("reminder", "step", models.CharField(max_length=16, choices=STEPS)),
        migrations.AlterField(
            "reminder", "state", models.CharField(max_length=10, choices=STATES, default="waiting")
        ),
        migrations.AlterField(
            "reminder", "days_before", models.IntegerField(default=0, help_text="Negative: days after.")
        ),
        filled_date("act_by", "act by"),
        filled_date("ready_on", "in the next mail from"),
        added("reminder", "escalated", models.BooleanField("told to a manager", default=False)),
        added("reminder", "acknowledged_at", models.DateTimeField(null=True)),
        added(
            "reminder",
            "acknowledged_by",
            models.ForeignKey(
                PERSON, on_delete=django.db.models.deletion.PROTECT, null=True, related_name="+"
            ),
        ),
        added("reminder", "snoozed_until", models.DateField("put off until", null=True)),
        added(
            "reminder", "snooze_reason", models.CharField("why it was put off", max_length=200, blank=True)
        ),
        added("reminder", "rounds", models.PositiveIntegerField("times put off", default=0)),
        migrations.RunPython(fill, migrations.RunPython.noop),
        migrations.AddConstraint(
            "reminder",
            models.UniqueConstraint(
                fields=["licence", "recipient", "step", "days_before", "about_on", "escalated"],
                name="reminder_once",
            ),
        ),
        migrations.AlterModelOptions(
            "reminder",
            {
                "ordering": ["due_on", "id"],
                "default_permissions": ("view",),
                "permissions": [("answer_reminder", "Can acknowledge and put off reminders of others")],
            },
        ),
        migrations.CreateModel(
            name="ReminderSettings",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("changed_at", models.DateTimeField(auto_now=True)),
                (
                    "rhythm",
                    models.CharField(
                        "how often",
                        max_length=8,
                        default="daily",
                        choices=[
                            ("at_once", "at once, on the day each falls due"),
                            ("daily", "one mail a day at most"),
                            ("weekly", "one mail a week"),
                        ],
                    ),
                ),
                (
                    "weekday",
                    models.PositiveSmallIntegerField(
                        "day of a weekly mail",
                        default=0,
                        choices=[
                            (0, "Monday"), (1, "Tuesday"), (2, "Wednesday"), (3, "Thursday"), (4, "Friday"),
                            (5, "Saturday"), (6, "Sunday"),
                        ],
                    ),
                ),
                (
                    "hour",
                    models.PositiveSmallIntegerField(
                        "not before (hour of the day)",
                        default=6,
                        validators=[django.core.validators.MaxValueValidator(23)],
                    ),
                ),
                ("topics", models.JSONField("of what", default=licences.models.reminders.all_topics, blank=True)),
                ("calendar_number", models.PositiveIntegerField("number of the calendar's address", default=0)),
                (
                    "person",
                    models.OneToOneField(
                        PERSON, on_delete=django.db.models.deletion.CASCADE, related_name="reminder_settings"
                    ),
                ),
            ],
            options={
                "verbose_name": "settings of reminders",
                "verbose_name_plural": "settings of reminders",
                "ordering": ["person__username"],
                "default_permissions": ("view",),
                "constraints": [
                    models.CheckConstraint(
                        condition=Q(weekday__lte=6) & Q(hour__lte=23),
                        name="reminder_settings_in_the_week",
                        violation_error_message="A weekday and an hour from 0 to 23 were expected.",
                    )
                ],
            },
        ),
    ]  # fmt: skip
