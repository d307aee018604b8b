"""How each kind of extract is read, and a record of every import."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.models import Authority
from sites.models import Registered
from sites.saying import when_read
from spectrum.extracts.mapping import Mapping, MappingError


class ExtractMapping(Registered):
    """Which column of a regulator's extract is what, and what is assumed where the extract says nothing."""

    code = models.CharField(_("code"), max_length=40, unique=True)
    title = models.CharField(_("title"), max_length=160)
    authority = models.ForeignKey(
        Authority, verbose_name=_("authority"), on_delete=models.PROTECT, related_name="extract_mappings"
    )
    columns = models.JSONField(_("columns"), help_text=_("field of the register → heading of the column"))
    reading = models.JSONField(
        _("reading"),
        default=dict,
        blank=True,
        help_text=_("encoding, delimiter, date format, unit, coordinate system …"),
    )
    statuses = models.JSONField(
        _("statuses"),
        default=dict,
        blank=True,
        help_text=_("which words of the status column count as in_use, which as ended"),
    )
    key = models.JSONField(
        _("key"),
        default=list,
        blank=True,
        help_text=_("The fields that tell a row from all others. Empty: licence, both positions, frequency."),
    )
    own_registrants = models.JSONField(
        _("own registrants"),
        default=list,
        blank=True,
        help_text=_("names or registrant numbers of our own company"),
    )
    stand_ins = models.JSONField(
        _("stand ins"), help_text=_("per band: radio, mode, antenna, power; height and polarisation")
    )

    class Meta:
        verbose_name = _("extract mapping")
        verbose_name_plural = _("extract mappings")
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(code=""),
                name="extract_mapping_code_given",
                violation_error_message=_("A mapping needs a code."),
            )
        ]

    def __str__(self) -> str:
        return self.code

    def clean(self) -> None:
        if self.authority_id is None or self.columns is None or self.stand_ins is None:
            return  # what is missing has its own message
        try:
            self.mapping()
        except MappingError as error:
            fields = {field.name for field in self._meta.concrete_fields}
            raise ValidationError(
                {error.part if error.part in fields else "columns": when_read(error.problem)}
            ) from error

    def mapping(self) -> Mapping:
        """The checked mapping. Raises MappingError."""
        return Mapping.of(
            code=self.code,
            authority_code=self.authority.code,
            columns=self.columns,
            reading=self.reading,
            statuses=self.statuses,
            key=self.key,
            own_registrants=self.own_registrants,
            stand_ins=self.stand_ins,
        )


class ExtractRun(models.Model):
    """One import: which file, when, by whom, what it changed and what it found wrong with the file."""

    mapping = models.ForeignKey(
        ExtractMapping, verbose_name=_("mapping"), on_delete=models.PROTECT, related_name="runs"
    )
    mapping_version = models.PositiveIntegerField(_("mapping version"))
    file_name = models.CharField(_("file name"), max_length=200)
    sha256 = models.CharField(_("sha256"), max_length=64)
    at = models.DateTimeField(_("at"), auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, verbose_name=_("by"), on_delete=models.PROTECT, null=True, related_name="+"
    )
    by_name = models.CharField(_("by name"), max_length=200)
    as_of = models.DateField(_("the extract stands as of"))
    row_count = models.PositiveIntegerField(_("rows"))
    counts = models.JSONField(
        _("counts"), default=dict, help_text=_("per kind of object: new, changed, same")
    )
    report: Any = models.JSONField(
        _("report"), default=dict, help_text=_("what was found wrong, kept, missing")
    )
    compared_upto = models.PositiveBigIntegerField(
        _("compared upto"),
        default=0,
        help_text=_("entry of the change record up to which the register was compared"),
    )

    class Meta:
        verbose_name = _("extract run")
        verbose_name_plural = _("extract runs")
        ordering = ["-id"]
        default_permissions = ("view", "add")  # whoever may add one may import

    def __str__(self) -> str:
        return gettext("{file_name} by {mapping} on {at:%Y-%m-%d %H:%M}").format(
            file_name=self.file_name, mapping=self.mapping, at=self.at
        )
