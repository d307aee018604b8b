"""Checks (runs) and findings (what they found, with an identity that outlives the run)."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from licences.models import Licence, LicensedChannel
from sites.models import Job, Site

from .links import Link


class Check(models.Model):
    """One run: what was checked, with which parameters and versions, and what came of it."""

    class Scope(models.TextChoices):
        LINK = "link", "one link"
        NETWORK = "network", "the whole network"

    scope = models.CharField(max_length=8, choices=Scope.choices)
    link = models.ForeignKey(Link, on_delete=models.CASCADE, null=True, related_name="checks")
    job = models.ForeignKey(Job, on_delete=models.SET_NULL, null=True, related_name="+")
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    as_of = models.DateField("as the register stands on")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    parameters = models.JSONField(default=dict)
    model_version = models.CharField(max_length=40)
    counts = models.JSONField(default=dict, help_text="new, still there, gone; per kind")

    class Meta:
        ordering = ["-started_at"]
        default_permissions = ("view",)

    def __str__(self) -> str:
        return f"Check of {self.link or 'the network'} as of {self.as_of}"


class Finding(models.Model):
    """One thing that a check found. ``identity`` is made of kind and parties and stays the same across runs."""

    class Severity(models.TextChoices):
        MUST_FIX = "must_fix", "must fix"
        DECIDE = "decide", "decide"
        NOTE = "note", "note"

    identity = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=40, db_index=True)
    severity = models.CharField(max_length=8, choices=Severity.choices)
    # 0 must fix, 1 decide, 2 note: the order in which people read them
    rank = models.PositiveSmallIntegerField()
    headline = models.CharField(max_length=300)
    cure = models.CharField(max_length=300, blank=True)
    margin = models.FloatField(null=True, blank=True)
    margin_unit = models.CharField(max_length=8, blank=True)
    evidence = models.JSONField(
        default=list, blank=True, help_text="ordered terms: name, value, unit, source, role"
    )
    not_judged = models.JSONField(
        default=list, blank=True, help_text="what could not be computed, in sentences"
    )
    words = models.JSONField(
        default=dict,
        blank=True,
        help_text="patterns and values of the sentences, by which they are worded anew",
    )
    link = models.ForeignKey(Link, on_delete=models.CASCADE, null=True, blank=True, related_name="findings")
    other_link = models.ForeignKey(
        Link, on_delete=models.CASCADE, null=True, blank=True, related_name="findings_as_other"
    )
    station_label = models.CharField(max_length=20, blank=True)
    other_station_label = models.CharField(max_length=20, blank=True)
    licence = models.ForeignKey(
        Licence, on_delete=models.CASCADE, null=True, blank=True, related_name="findings"
    )
    licensed_channel = models.ForeignKey(
        LicensedChannel, on_delete=models.CASCADE, null=True, blank=True, related_name="findings"
    )
    site = models.ForeignKey(Site, on_delete=models.CASCADE, null=True, blank=True, related_name="findings")
    first_seen_at = models.DateTimeField()
    last_seen_at = models.DateTimeField()
    gone_at = models.DateTimeField(null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    accepted_reason = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        # The order in which people read them; databases differ on where an absent margin goes.
        ordering = ["rank", models.F("margin").asc(nulls_last=True), "id"]
        indexes = [
            models.Index(fields=["gone_at", "rank", "margin"], name="finding_worst_first"),
            models.Index(fields=["link", "gone_at"], name="finding_of_link"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True) | ~Q(accepted_reason=""),
                name="finding_accepted_with_reason",
                violation_error_message="An accepted finding needs a reason.",
            ),
        ]
        default_permissions = ("view",)
        permissions = [("accept_finding", "Can accept a finding with a reason")]

    def __str__(self) -> str:
        return self.headline
