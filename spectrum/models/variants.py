"""Variants of the network: planned changes that are checked together before any of them is written."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from sites.models import Registered

from .checks import Finding
from .links import Link


class Variant(Registered):
    """What the network would be on a date if a set of planned changes were carried out.

    Nothing of it counts in checks of the register until it is accepted, as a whole.
    """

    class Status(models.TextChoices):
        OPEN = "open", "being drawn up"
        ACCEPTED = "accepted", "accepted into the register"
        DROPPED = "dropped", "dropped"

    name = models.CharField(max_length=120, unique=True)
    purpose = models.TextField(blank=True, help_text="What it is for, and what was considered.")
    as_of = models.DateField(
        "as it would stand on", help_text="The day for which the planned changes are checked together."
    )
    status = models.CharField(max_length=8, choices=Status.choices, default=Status.OPEN, editable=False)
    drawn_up_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        editable=False,
    )
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        editable=False,
    )
    decided_at = models.DateTimeField(null=True, blank=True, editable=False)
    decided_reason = models.TextField(blank=True, editable=False)

    class Meta:
        ordering = ["-changed_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="variant_name_given",
                violation_error_message="A variant needs a name.",
            ),
            models.CheckConstraint(
                condition=Q(status="open", decided_at__isnull=True)
                | (~Q(status="open") & Q(decided_at__isnull=False)),
                name="variant_decided_with_time",
                violation_error_message="A variant that was accepted or dropped says when.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PlannedChange(Registered):
    """One planned change of a variant: a new link, a link as it would be, or a link's last day.

    ``planned`` holds the link and its stations as they would be, field by field; of a link that is
    in the register ``link_version`` is the version that the planner saw.
    """

    class Kind(models.TextChoices):
        ADD = "add", "new link"
        CHANGE = "change", "link changed"
        RETIRE = "retire", "link retired"

    variant = models.ForeignKey(Variant, on_delete=models.CASCADE, related_name="changes")
    kind = models.CharField(max_length=6, choices=Kind.choices)
    link = models.ForeignKey(
        Link, on_delete=models.CASCADE, null=True, blank=True, related_name="planned_changes"
    )
    link_version = models.PositiveIntegerField(null=True, blank=True)
    code = models.CharField("code of the link", max_length=40)
    planned = models.JSONField(default=dict, blank=True)
    last_day = models.DateField("last day on the air", null=True, blank=True)

    class Meta:
        ordering = ["variant", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(
                fields=["variant", "code"],
                name="planned_change_link_once",
                violation_error_message="This variant has a change of that link already.",
            ),
            models.CheckConstraint(
                condition=Q(kind="add", link__isnull=True, link_version__isnull=True, last_day__isnull=True)
                | Q(kind="change", link__isnull=False, link_version__isnull=False, last_day__isnull=True)
                | Q(kind="retire", link__isnull=False, link_version__isnull=False, last_day__isnull=False),
                name="planned_change_of_its_kind",
                violation_error_message="A change or retirement names its link and version, a retirement its last day.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.code}"


class VariantCheck(models.Model):
    """The last check of a variant: the register as it would stand, with and without the planned changes.

    ``drawn_up`` is a digest of what was checked; it differs once the variant was changed.
    """

    variant = models.OneToOneField(Variant, on_delete=models.CASCADE, related_name="check_made")
    drawn_up = models.CharField(max_length=64)
    as_of = models.DateField()
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    parameters = models.JSONField(default=dict)
    model_version = models.CharField(max_length=40)
    counts = models.JSONField(default=dict, help_text="new, still there, gone")

    class Meta:
        default_permissions = ("view",)

    def __str__(self) -> str:
        return f"Check of {self.variant} as of {self.as_of}"


class VariantFinding(models.Model):
    """A finding that the planned changes would bring, leave, or take away. It is no finding of the register.

    Of those that would stay, the ones are kept that a changed link has a part in or whose
    margin or weight would move; the others are only counted.
    """

    class Standing(models.TextChoices):
        NEW = "new", "would be new"
        STILL = "still", "would still be there"
        GONE = "gone", "would be gone"

    check_made = models.ForeignKey(VariantCheck, on_delete=models.CASCADE, related_name="findings")
    standing = models.CharField(max_length=5, choices=Standing.choices)
    standing_rank = models.PositiveSmallIntegerField()
    identity = models.CharField(max_length=64)
    kind = models.CharField(max_length=40)
    severity = models.CharField(max_length=8, choices=Finding.Severity.choices)
    rank = models.PositiveSmallIntegerField()
    headline = models.CharField(max_length=300)
    cure = models.CharField(max_length=300, blank=True)
    margin = models.FloatField(null=True, blank=True)
    margin_before = models.FloatField(null=True, blank=True)
    margin_unit = models.CharField(max_length=8, blank=True)
    evidence = models.JSONField(default=list, blank=True)
    not_judged = models.JSONField(default=list, blank=True)
    words = models.JSONField(default=dict, blank=True)
    links = models.JSONField(default=list, blank=True, help_text="codes of the links that have a part in it")

    class Meta:
        ordering = ["standing_rank", "rank", "margin", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(fields=["check_made", "identity"], name="variant_finding_once"),
        ]

    def __str__(self) -> str:
        return self.headline
