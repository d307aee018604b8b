"""Sites: places with structures, and how well we know where they are."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from sites.band_exceptions import BandExceptionError, band_exceptions

from .documents import documents_of_it
from .registered import Registered


class Site(Registered):
    """A place with structures. What was typed for its position is kept beside what was computed."""

    class PositionSource(models.TextChoices):
        SURVEY = "survey", "surveyed with satellite receiver"
        MAP = "map", "read from a map"
        LICENCE = "licence", "taken from a licence"
        REGULATOR = "regulator", "taken from the regulator's record"
        ESTIMATE = "estimate", "estimated"

    class Structure(models.TextChoices):
        NONE = "none", "no structure"
        LATTICE = "lattice", "self-supporting lattice tower"
        GUYED = "guyed", "guyed mast"
        MONOPOLE = "monopole", "monopole"
        POLE = "pole", "pole"
        BUILDING = "building", "building"

    class Environment(models.TextChoices):
        CITY = "city", "city"
        RESIDENTIAL = "residential", "residential"
        RURAL = "rural", "rural"
        QUIET_RURAL = "quiet_rural", "quiet rural"

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    region = models.CharField(max_length=80, blank=True, db_index=True)
    own = models.BooleanField(
        "our own place", default=True, help_text="No: another party's site, kept because its stations matter."
    )
    latitude_deg = models.FloatField("latitude (WGS 84, degrees)")
    longitude_deg = models.FloatField("longitude (WGS 84, degrees)")
    position_typed = models.CharField("position as typed", max_length=120)
    position_notation = models.CharField("notation", max_length=40, blank=True)
    position_epsg = models.PositiveIntegerField("EPSG code of the grid", null=True, blank=True)
    position_source = models.CharField(
        max_length=12, choices=PositionSource.choices, default=PositionSource.ESTIMATE
    )
    position_accuracy_m = models.FloatField("position known within (m)", null=True, blank=True)
    ground_height_m = models.FloatField("ground height above sea level (m)", null=True, blank=True)
    structure = models.CharField(max_length=10, choices=Structure.choices, default=Structure.LATTICE)
    structure_height_m = models.FloatField("structure height (m)", null=True, blank=True)
    environment = models.CharField(
        "radio noise environment (ITU-R P.372)",
        max_length=12,
        choices=Environment.choices,
        default=Environment.RURAL,
    )
    band_half_exceptions = models.TextField(
        "documented exceptions from the band-half rule",
        blank=True,
        help_text="One a line: the band in MHz, a colon, why. 410-430: one hop turned round, letter of 2024-03-04.",
    )
    notes = models.TextField(blank=True)

    documents = documents_of_it()

    class Meta:
        ordering = ["code"]
        indexes = [models.Index(fields=["latitude_deg", "longitude_deg"], name="site_position")]
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude_deg__gte=-90, latitude_deg__lte=90),
                name="site_latitude_in_range",
                violation_error_message="Latitude must lie between -90 and 90 degrees.",
            ),
            models.CheckConstraint(
                condition=Q(longitude_deg__gte=-180, longitude_deg__lte=180),
                name="site_longitude_in_range",
                violation_error_message="Longitude must lie between -180 and 180 degrees.",
            ),
            models.CheckConstraint(
                condition=Q(ground_height_m__isnull=True)
                | Q(ground_height_m__gte=-430, ground_height_m__lte=8850),
                name="site_ground_height_in_range",
                violation_error_message="Ground height must lie between -430 and 8850 m above sea level.",
            ),
            models.CheckConstraint(
                condition=Q(structure_height_m__isnull=True)
                | Q(structure_height_m__gte=0, structure_height_m__lte=900),
                name="site_structure_height_in_range",
                violation_error_message="Structure height must lie between 0 and 900 m.",
            ),
            models.CheckConstraint(
                condition=Q(position_accuracy_m__isnull=True) | Q(position_accuracy_m__gte=0),
                name="site_accuracy_not_negative",
                violation_error_message="The position's accuracy cannot be negative.",
            ),
            models.CheckConstraint(
                condition=~Q(code=""), name="site_code_given", violation_error_message="A site needs a code."
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def clean(self) -> None:
        try:
            band_exceptions(self.band_half_exceptions)
        except BandExceptionError as error:
            raise ValidationError({"band_half_exceptions": str(error)}) from error
