"""What a regulator's extracts say of each thing, and where that differs from the register."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from .extracts import ExtractMapping, ExtractRun


class RegulatorRecord(models.Model):
    """One thing as the extracts of a mapping state it: its values in the last extract and before their last change."""

    class Kind(models.TextChoices):
        LICENCE = "licence", "licence"
        CHANNEL = "channel", "licensed channel"
        SITE = "site", "site"
        LINK = "link", "link"
        STATION = "station", "station"

    mapping = models.ForeignKey(ExtractMapping, on_delete=models.CASCADE, related_name="records")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    key = models.CharField(max_length=160, help_text="What names it in the extract; the same in every file.")
    label = models.CharField(max_length=200)
    own = models.BooleanField("our own", default=False)
    object_id = models.PositiveBigIntegerField(
        "number in the register", null=True, blank=True, help_text="Empty: the register does not have it."
    )
    now: Any = models.JSONField("in the last extract that had it", default=dict)
    then: Any = models.JSONField("before its last change", default=dict, blank=True)
    row = models.PositiveIntegerField("row of the file", default=0)
    first_run = models.ForeignKey(ExtractRun, on_delete=models.PROTECT, related_name="+")
    changed_run = models.ForeignKey(
        ExtractRun, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    gone_run = models.ForeignKey(
        ExtractRun, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["mapping", "kind", "key"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(fields=["mapping", "kind", "key"], name="regulator_record_once")
        ]
        indexes = [models.Index(fields=["kind", "object_id"], name="regulator_record_object")]

    def __str__(self) -> str:
        return self.label


class Difference(models.Model):
    """One difference between an extract and the register, and what was decided about it.

    A decision holds for the two values that were compared: when either changes, it is asked again.
    """

    class What(models.TextChoices):
        NEW = "new", "new: the regulator has it"
        GONE = "gone", "gone from the extract"
        CHANGED = "changed", "differs"

    class State(models.TextChoices):
        OPEN = "open", "to be decided"
        FOLLOWED = "followed", "the register followed the extract"
        REGISTER = "register", "the register is believed"
        REGULATOR = "regulator", "the regulator is believed"
        ASIDE = "aside", "set aside"

    DECIDED = (State.REGISTER, State.REGULATOR, State.ASIDE)

    record = models.ForeignKey(RegulatorRecord, on_delete=models.CASCADE, related_name="differences")
    run = models.ForeignKey(ExtractRun, on_delete=models.PROTECT, related_name="differences")
    what = models.CharField(max_length=8, choices=What.choices)
    field = models.CharField(max_length=40, blank=True, help_text="Empty: the whole thing.")
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN, db_index=True)
    register: Any = models.JSONField("in the register", null=True)
    then: Any = models.JSONField("at the regulator before", null=True)
    now: Any = models.JSONField("at the regulator now", null=True)
    distance_m = models.FloatField("distance (m)", null=True, blank=True)
    reason = models.TextField(blank=True)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_by_name = models.CharField(max_length=200, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        default_permissions = ("view",)
        permissions = [("decide_difference", "Can decide which of register and regulator is believed")]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "field"], condition=~Q(state="followed"), name="difference_once"
            ),
            models.UniqueConstraint(
                fields=["record", "field", "run"],
                condition=Q(state="followed"),
                name="difference_followed_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.record}: {self.field.replace('_', ' ') or self.get_what_display()}"
