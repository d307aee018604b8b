"""What a regulator's extracts say of each thing, and where that differs from the register."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from .extracts import ExtractMapping, ExtractRun


class RegulatorRecord(models.Model):
    """One thing as the extracts of a mapping state it: its values in the last extract and before their last change."""

    class Kind(models.TextChoices):
        LICENCE = "licence", _("licence")
        CHANNEL = "channel", _("licensed channel")
        SITE = "site", _("site")
        LINK = "link", _("link")
        STATION = "station", _("station")

    mapping = models.ForeignKey(
        ExtractMapping, verbose_name=_("mapping"), on_delete=models.CASCADE, related_name="records"
    )
    kind = models.CharField(_("kind"), max_length=8, choices=Kind.choices)
    key = models.CharField(
        _("key"), max_length=160, help_text=_("What names it in the extract; the same in every file.")
    )
    label = models.CharField(_("label"), max_length=200)
    own = models.BooleanField(_("our own"), default=False)
    object_id = models.PositiveBigIntegerField(
        _("number in the register"),
        null=True,
        blank=True,
        help_text=_("Empty: the register does not have it."),
    )
    now: Any = models.JSONField(_("in the last extract that had it"), default=dict)
    then: Any = models.JSONField(_("before its last change"), default=dict, blank=True)
    row = models.PositiveIntegerField(_("row of the file"), default=0)
    first_run = models.ForeignKey(
        ExtractRun, verbose_name=_("first run"), on_delete=models.PROTECT, related_name="+"
    )
    changed_run = models.ForeignKey(
        ExtractRun,
        verbose_name=_("changed run"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    gone_run = models.ForeignKey(
        ExtractRun,
        verbose_name=_("gone run"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )

    class Meta:
        verbose_name = _("regulator record")
        verbose_name_plural = _("regulator records")
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
        NEW = "new", _("new: the regulator has it")
        GONE = "gone", _("gone from the extract")
        CHANGED = "changed", _("differs")

    class State(models.TextChoices):
        OPEN = "open", _("to be decided")
        FOLLOWED = "followed", _("the register followed the extract")
        REGISTER = "register", _("the register is believed")
        REGULATOR = "regulator", _("the regulator is believed")
        ASIDE = "aside", _("set aside")

    DECIDED = (State.REGISTER, State.REGULATOR, State.ASIDE)

    record = models.ForeignKey(
        RegulatorRecord, verbose_name=_("record"), on_delete=models.CASCADE, related_name="differences"
    )
    run = models.ForeignKey(
        ExtractRun, verbose_name=_("run"), on_delete=models.PROTECT, related_name="differences"
    )
    what = models.CharField(_("what"), max_length=8, choices=What.choices)
    field = models.CharField(_("field"), max_length=40, blank=True, help_text=_("Empty: the whole thing."))
    state = models.CharField(
        _("state"), max_length=10, choices=State.choices, default=State.OPEN, db_index=True
    )
    register: Any = models.JSONField(_("in the register"), null=True)
    then: Any = models.JSONField(_("at the regulator before"), null=True)
    now: Any = models.JSONField(_("at the regulator now"), null=True)
    distance_m = models.FloatField(_("distance (m)"), null=True, blank=True)
    reason = models.TextField(_("reason"), blank=True)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        verbose_name=_("decided by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    decided_by_name = models.CharField(_("decided by name"), max_length=200, blank=True)
    decided_at = models.DateTimeField(_("decided at"), null=True, blank=True)

    class Meta:
        verbose_name = _("difference")
        verbose_name_plural = _("differences")
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
