"""Variants of the network: planned changes that are checked together before any of them is written."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.models import Registered

from .checks import Finding
from .links import Link


class Variant(Registered):
    """What the network would be on a date if a set of planned changes were carried out.

    Nothing of it counts in checks of the register until it is accepted, as a whole.
    """

    class Status(models.TextChoices):
        OPEN = "open", _("being drawn up")
        ACCEPTED = "accepted", _("accepted into the register")
        DROPPED = "dropped", _("dropped")

    name = models.CharField(_("name"), max_length=120, unique=True)
    purpose = models.TextField(
        _("purpose"), blank=True, help_text=_("What it is for, and what was considered.")
    )
    as_of = models.DateField(
        _("as it would stand on"), help_text=_("The day for which the planned changes are checked together.")
    )
    status = models.CharField(
        _("status"), max_length=8, choices=Status.choices, default=Status.OPEN, editable=False
    )
    drawn_up_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        verbose_name=_("drawn up by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        editable=False,
    )
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        verbose_name=_("decided by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        editable=False,
    )
    decided_at = models.DateTimeField(_("decided at"), null=True, blank=True, editable=False)
    decided_reason = models.TextField(_("decided reason"), blank=True, editable=False)

    class Meta:
        verbose_name = _("variant")
        verbose_name_plural = _("variants")
        ordering = ["-changed_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="variant_name_given",
                violation_error_message=_("A variant needs a name."),
            ),
            models.CheckConstraint(
                condition=Q(status="open", decided_at__isnull=True)
                | (~Q(status="open") & Q(decided_at__isnull=False)),
                name="variant_decided_with_time",
                violation_error_message=_("A variant that was accepted or dropped says when."),
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
        ADD = "add", _("new link")
        CHANGE = "change", _("link changed")
        RETIRE = "retire", _("link retired")

    variant = models.ForeignKey(
        Variant, verbose_name=_("variant"), on_delete=models.CASCADE, related_name="changes"
    )
    kind = models.CharField(_("kind"), max_length=6, choices=Kind.choices)
    link = models.ForeignKey(
        Link,
        verbose_name=_("link"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="planned_changes",
    )
    link_version = models.PositiveIntegerField(_("link version"), null=True, blank=True)
    code = models.CharField(_("code of the link"), max_length=40)
    planned = models.JSONField(_("planned"), default=dict, blank=True)
    last_day = models.DateField(_("last day on the air"), null=True, blank=True)

    class Meta:
        verbose_name = _("planned change")
        verbose_name_plural = _("planned changes")
        ordering = ["variant", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(
                fields=["variant", "code"],
                name="planned_change_link_once",
                violation_error_message=_("This variant has a change of that link already."),
            ),
            models.CheckConstraint(
                condition=Q(kind="add", link__isnull=True, link_version__isnull=True, last_day__isnull=True)
                | Q(kind="change", link__isnull=False, link_version__isnull=False, last_day__isnull=True)
                | Q(kind="retire", link__isnull=False, link_version__isnull=False, last_day__isnull=False),
                name="planned_change_of_its_kind",
                violation_error_message=_(
                    "A change or retirement names its link and version, a retirement its last day."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.code}"


class VariantCheck(models.Model):
    """The last check of a variant: the register as it would stand, with and without the planned changes.

    ``drawn_up`` is a digest of what was checked; it differs once the variant was changed.
    """

    variant = models.OneToOneField(
        Variant, verbose_name=_("variant"), on_delete=models.CASCADE, related_name="check_made"
    )
    drawn_up = models.CharField(_("drawn up"), max_length=64)
    as_of = models.DateField(_("as of"))
    started_at = models.DateTimeField(_("started at"))
    ended_at = models.DateTimeField(_("ended at"))
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        verbose_name=_("asked by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    parameters = models.JSONField(_("parameters"), default=dict)
    model_version = models.CharField(_("model version"), max_length=40)
    counts = models.JSONField(_("counts"), default=dict, help_text=_("new, still there, gone"))

    class Meta:
        verbose_name = _("variant check")
        verbose_name_plural = _("variant checks")
        default_permissions = ("view",)

    def __str__(self) -> str:
        return gettext("Check of {variant} as of {as_of}").format(variant=self.variant, as_of=self.as_of)


class VariantFinding(models.Model):
    """A finding that the planned changes would bring, leave, or take away. It is no finding of the register.

    Of those that would stay, the ones are kept that a changed link has a part in or whose
    margin or weight would move; the others are only counted.
    """

    class Standing(models.TextChoices):
        NEW = "new", _("would be new")
        STILL = "still", _("would still be there")
        GONE = "gone", _("would be gone")

    check_made = models.ForeignKey(
        VariantCheck, verbose_name=_("check made"), on_delete=models.CASCADE, related_name="findings"
    )
    standing = models.CharField(_("standing"), max_length=5, choices=Standing.choices)
    standing_rank = models.PositiveSmallIntegerField(_("standing rank"))
    identity = models.CharField(_("identity"), max_length=64)
    kind = models.CharField(_("kind"), max_length=40)
    severity = models.CharField(_("severity"), max_length=8, choices=Finding.Severity.choices)
    rank = models.PositiveSmallIntegerField(_("rank"))
    headline = models.CharField(_("headline"), max_length=300)
    cure = models.CharField(_("cure"), max_length=300, blank=True)
    margin = models.FloatField(_("margin"), null=True, blank=True)
    margin_before = models.FloatField(_("margin before"), null=True, blank=True)
    margin_unit = models.CharField(_("margin unit"), max_length=8, blank=True)
    evidence = models.JSONField(_("evidence"), default=list, blank=True)
    not_judged = models.JSONField(_("not judged"), default=list, blank=True)
    words = models.JSONField(_("words"), default=dict, blank=True)
    links = models.JSONField(
        _("links"), default=list, blank=True, help_text=_("codes of the links that have a part in it")
    )

    class Meta:
        verbose_name = _("variant finding")
        verbose_name_plural = _("variant findings")
        ordering = ["standing_rank", "rank", "margin", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(fields=["check_made", "identity"], name="variant_finding_once"),
        ]

    def __str__(self) -> str:
        return self.headline
