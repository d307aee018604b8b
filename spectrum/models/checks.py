"""Checks (runs) and findings (what they found, with an identity that outlives the run)."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.models import Licence, LicensedChannel
from sites.models import Job, Site

from .links import Link


class Check(models.Model):
    """One run: what was checked, with which parameters and versions, and what came of it."""

    class Scope(models.TextChoices):
        LINK = "link", _("one link")
        NETWORK = "network", _("the whole network")

    scope = models.CharField(_("scope"), max_length=8, choices=Scope.choices)
    link = models.ForeignKey(
        Link, verbose_name=_("link"), on_delete=models.CASCADE, null=True, related_name="checks"
    )
    job = models.ForeignKey(
        Job, verbose_name=_("job"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        verbose_name=_("asked by"),
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
    )
    as_of = models.DateField(_("as the register stands on"))
    started_at = models.DateTimeField(_("started at"))
    ended_at = models.DateTimeField(_("ended at"), null=True)
    parameters = models.JSONField(_("parameters"), default=dict)
    model_version = models.CharField(_("model version"), max_length=40)
    counts = models.JSONField(_("counts"), default=dict, help_text=_("new, still there, gone; per kind"))

    class Meta:
        verbose_name = _("check")
        verbose_name_plural = _("checks")
        ordering = ["-started_at"]
        default_permissions = ("view",)

    def __str__(self) -> str:
        return gettext("Check of {link} as of {as_of}").format(
            link=self.link or "the network", as_of=self.as_of
        )


class Finding(models.Model):
    """One thing that a check found. ``identity`` is made of kind and parties and stays the same across runs."""

    class Severity(models.TextChoices):
        MUST_FIX = "must_fix", _("must fix")
        DECIDE = "decide", _("decide")
        NOTE = "note", _("note")

    identity = models.CharField(_("identity"), max_length=64, unique=True)
    kind = models.CharField(_("kind"), max_length=40, db_index=True)
    severity = models.CharField(_("severity"), max_length=8, choices=Severity.choices)
    # 0 must fix, 1 decide, 2 note: the order in which people read them
    rank = models.PositiveSmallIntegerField(_("rank"))
    headline = models.CharField(_("headline"), max_length=300)
    cure = models.CharField(_("cure"), max_length=300, blank=True)
    margin = models.FloatField(_("margin"), null=True, blank=True)
    margin_unit = models.CharField(_("margin unit"), max_length=8, blank=True)
    evidence = models.JSONField(
        _("evidence"), default=list, blank=True, help_text=_("ordered terms: name, value, unit, source, role")
    )
    not_judged = models.JSONField(
        _("not judged"), default=list, blank=True, help_text=_("what could not be computed, in sentences")
    )
    link = models.ForeignKey(
        Link, verbose_name=_("link"), on_delete=models.CASCADE, null=True, blank=True, related_name="findings"
    )
    words = models.JSONField(
        _("words"),
        default=dict,
        blank=True,
        help_text=_("patterns and values of the sentences, by which they are worded anew"),
    )
    other_link = models.ForeignKey(
        Link,
        verbose_name=_("other link"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="findings_as_other",
    )
    station_label = models.CharField(_("station label"), max_length=20, blank=True)
    other_station_label = models.CharField(_("other station label"), max_length=20, blank=True)
    licence = models.ForeignKey(
        Licence,
        verbose_name=_("licence"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="findings",
    )
    licensed_channel = models.ForeignKey(
        LicensedChannel,
        verbose_name=_("licensed channel"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="findings",
    )
    site = models.ForeignKey(
        Site, verbose_name=_("site"), on_delete=models.CASCADE, null=True, blank=True, related_name="findings"
    )
    first_seen_at = models.DateTimeField(_("first seen at"))
    last_seen_at = models.DateTimeField(_("last seen at"))
    gone_at = models.DateTimeField(_("gone at"), null=True, blank=True)
    accepted_at = models.DateTimeField(_("accepted at"), null=True, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        verbose_name=_("accepted by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    accepted_reason = models.TextField(_("accepted reason"), blank=True)
    version = models.PositiveIntegerField(_("version"), default=1)

    class Meta:
        # The order in which people read them; databases differ on where an absent margin goes.
        verbose_name = _("finding")
        verbose_name_plural = _("findings")
        ordering = ["rank", models.F("margin").asc(nulls_last=True), "id"]
        indexes = [
            models.Index(fields=["gone_at", "rank", "margin"], name="finding_worst_first"),
            models.Index(fields=["link", "gone_at"], name="finding_of_link"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True) | ~Q(accepted_reason=""),
                name="finding_accepted_with_reason",
                violation_error_message=_("An accepted finding needs a reason."),
            ),
        ]
        default_permissions = ("view",)
        permissions = [("accept_finding", "Can accept a finding with a reason")]

    def __str__(self) -> str:
        return self.headline
