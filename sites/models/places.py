"""Sites: places with structures, and how well we know where they are."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from sites.band_exceptions import BandExceptionError, band_exceptions
from sites.saying import when_read

from .documents import documents_of_it
from .registered import Registered


class Site(Registered):
    """A place with structures. What was typed for its position is kept beside what was computed."""

    class PositionSource(models.TextChoices):
        SURVEY = "survey", _("surveyed with satellite receiver")
        MAP = "map", _("read from a map")
        LICENCE = "licence", _("taken from a licence")
        REGULATOR = "regulator", _("taken from the regulator's record")
        ESTIMATE = "estimate", _("estimated")

    class Structure(models.TextChoices):
        NONE = "none", _("no structure")
        LATTICE = "lattice", _("self-supporting lattice tower")
        GUYED = "guyed", _("guyed mast")
        MONOPOLE = "monopole", _("monopole")
        POLE = "pole", _("pole")
        BUILDING = "building", _("building")

    class Environment(models.TextChoices):
        CITY = "city", _("city")
        RESIDENTIAL = "residential", _("residential")
        RURAL = "rural", _("rural")
        QUIET_RURAL = "quiet_rural", _("quiet rural")

    code = models.CharField(_("code"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=120)
    region = models.CharField(_("region"), max_length=80, blank=True, db_index=True)
    own = models.BooleanField(
        _("our own place"),
        default=True,
        help_text=_("No: another party's site, kept because its stations matter."),
    )
    latitude_deg = models.FloatField(_("latitude (WGS 84, degrees)"))
    longitude_deg = models.FloatField(_("longitude (WGS 84, degrees)"))
    position_typed = models.CharField(_("position as typed"), max_length=120)
    position_notation = models.CharField(_("notation"), max_length=40, blank=True)
    position_epsg = models.PositiveIntegerField(_("EPSG code of the grid"), null=True, blank=True)
    position_source = models.CharField(
        _("position source"), max_length=12, choices=PositionSource.choices, default=PositionSource.ESTIMATE
    )
    position_accuracy_m = models.FloatField(_("position known within (m)"), null=True, blank=True)
    ground_height_m = models.FloatField(_("ground height above sea level (m)"), null=True, blank=True)
    structure = models.CharField(
        _("structure"), max_length=10, choices=Structure.choices, default=Structure.LATTICE
    )
    structure_height_m = models.FloatField(_("structure height (m)"), null=True, blank=True)
    environment = models.CharField(
        _("radio noise environment (ITU-R P.372)"),
        max_length=12,
        choices=Environment.choices,
        default=Environment.RURAL,
    )
    band_half_exceptions = models.TextField(
        _("documented exceptions from the band-half rule"),
        blank=True,
        help_text=_(
            "One a line: the band in MHz, a colon, why. 410-430: one hop turned round, letter of 2024-03-04."
        ),
    )
    notes = models.TextField(_("notes"), blank=True)

    documents = documents_of_it()

    class Meta:
        verbose_name = _("site")
        verbose_name_plural = _("sites")
        ordering = ["code"]
        indexes = [models.Index(fields=["latitude_deg", "longitude_deg"], name="site_position")]
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude_deg__gte=-90, latitude_deg__lte=90),
                name="site_latitude_in_range",
                violation_error_message=_("Latitude must lie between -90 and 90 degrees."),
            ),
            models.CheckConstraint(
                condition=Q(longitude_deg__gte=-180, longitude_deg__lte=180),
                name="site_longitude_in_range",
                violation_error_message=_("Longitude must lie between -180 and 180 degrees."),
            ),
            models.CheckConstraint(
                condition=Q(ground_height_m__isnull=True)
                | Q(ground_height_m__gte=-430, ground_height_m__lte=8850),
                name="site_ground_height_in_range",
                violation_error_message=_("Ground height must lie between -430 and 8850 m above sea level."),
            ),
            models.CheckConstraint(
                condition=Q(structure_height_m__isnull=True)
                | Q(structure_height_m__gte=0, structure_height_m__lte=900),
                name="site_structure_height_in_range",
                violation_error_message=_("Structure height must lie between 0 and 900 m."),
            ),
            models.CheckConstraint(
                condition=Q(position_accuracy_m__isnull=True) | Q(position_accuracy_m__gte=0),
                name="site_accuracy_not_negative",
                violation_error_message=_("The position's accuracy cannot be negative."),
            ),
            models.CheckConstraint(
                condition=~Q(code=""),
                name="site_code_given",
                violation_error_message=_("A site needs a code."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def clean(self) -> None:
        try:
            band_exceptions(self.band_half_exceptions)
        except BandExceptionError as error:
            raise ValidationError({"band_half_exceptions": when_read(error.written)}) from error
