"""Forms for sites and antenna types."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from sites.models import AntennaType, Site
from sites.positions import PositionError, parse_position
from sites.saying import said

from .base import RegisterForm
from .figures import PairsField


class SiteForm(RegisterForm):
    """A site. The position is read from what is typed, in degrees or in the grid whose code is given."""

    sections = (
        (
            _("Where"),
            (
                "code",
                "name",
                "region",
                "position_typed",
                "position_epsg",
                "position_source",
                "position_accuracy_m",
            ),
        ),
        (_("What stands there"), ("ground_height_m", "structure", "structure_height_m", "environment")),
        (_("Besides"), ("own", "band_half_exceptions", "notes")),
    )

    class Meta(RegisterForm.Meta):
        model = Site
        fields = [
            "code",
            "name",
            "region",
            "position_typed",
            "position_epsg",
            "position_source",
            "position_accuracy_m",
            "ground_height_m",
            "structure",
            "structure_height_m",
            "environment",
            "own",
            "band_half_exceptions",
            "notes",
        ]
        labels = {"position_typed": _("position"), "position_epsg": _("grid (EPSG code)")}
        help_texts = {
            "code": _("Short and unique; links and licences refer to it."),
            "position_typed": _(
                "Latitude, longitude: 50.1234, 24.5678 or 50 07 24.5 N 24 33 10 E. In a grid: easting, "
                "northing."
            ),
            "position_epsg": _("Empty: WGS 84 degrees. A projected grid by its code, for example 32638."),
            "environment": _("Sets the man-made noise at a receiver here."),
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        typed = data.get("position_typed")
        if not typed or "position_epsg" in self.errors:
            return data
        try:
            position = parse_position(typed, epsg=data.get("position_epsg"))
        except PositionError as error:
            self.add_error("position_epsg" if error.field == "epsg" else "position_typed", str(error))
            return data
        site = self.instance
        site.latitude_deg, site.longitude_deg = position.latitude_deg, position.longitude_deg
        site.position_notation = position.notation.value
        self.notices = tuple(map(said, position.notices))
        return data

    def _get_validation_exclusions(self) -> set[str]:
        excluded = super()._get_validation_exclusions()
        return (
            excluded
            if "position_typed" in self.errors or "position_epsg" in self.errors
            else excluded
            - {
                "latitude_deg",
                "longitude_deg",
            }
        )


class AntennaTypeForm(RegisterForm):
    """An antenna type, with the reference pattern or the measured table."""

    sections = (
        (
            _("Antenna"),
            ("name", "gain_dbi", "frequency_min_mhz", "frequency_max_mhz", "cross_polar_discrimination_db"),
        ),
        (_("Pattern"), ("pattern", "diameter_m", "beamwidth_deg", "pattern_points")),
        (_("Besides"), ("notes",)),
    )

    pattern_points = PairsField(
        label=_("measured pattern"),
        required=False,
        help_text=_(
            "One row a line: angle from boresight in degrees, gain relative to the maximum in dB. "
            "For example 30 -12."
        ),
    )

    class Meta(RegisterForm.Meta):
        model = AntennaType
        fields = [
            "name",
            "gain_dbi",
            "frequency_min_mhz",
            "frequency_max_mhz",
            "cross_polar_discrimination_db",
            "pattern",
            "diameter_m",
            "beamwidth_deg",
            "pattern_points",
            "notes",
        ]
        widgets = {"pattern": forms.Select}
