"""Antenna types and their patterns."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from sites.saying import when_read
from sites.sentences import sentence
from sites.words import gettext_noop

from .registered import Registered


class AntennaType(Registered):
    """A type of antenna. The pattern is measured (a table) or one of the reference patterns of ITU-R."""

    class Pattern(models.TextChoices):
        MEASURED = "measured", _("measured table")
        F699 = "f699", _("ITU-R F.699 (peak envelope)")
        F1245 = "f1245", _("ITU-R F.1245 (average side lobes)")
        F1336_OMNI = "f1336_omni", _("ITU-R F.1336 omnidirectional")
        F1336_SECTOR = "f1336_sector", _("ITU-R F.1336 sector")

    name = models.CharField(_("name"), max_length=80, unique=True)
    gain_dbi = models.FloatField(_("gain (dBi)"))
    frequency_min_mhz = models.FloatField(_("lowest frequency (MHz)"))
    frequency_max_mhz = models.FloatField(_("highest frequency (MHz)"))
    cross_polar_discrimination_db = models.FloatField(_("cross-polar discrimination (dB)"), default=20.0)
    pattern = models.CharField(_("pattern"), max_length=14, choices=Pattern.choices)
    diameter_m = models.FloatField(_("diameter (m)"), null=True, blank=True)
    beamwidth_deg = models.FloatField(_("half-power beamwidth in azimuth (degrees)"), null=True, blank=True)
    pattern_points = models.JSONField(
        _("measured pattern"),
        default=list,
        blank=True,
        help_text=_("Rows of [angle from boresight in degrees, gain relative to the maximum in dB]."),
    )
    notes = models.TextField(_("notes"), blank=True)

    class Meta:
        verbose_name = _("antenna type")
        verbose_name_plural = _("antenna types")
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(frequency_min_mhz__gt=0, frequency_max_mhz__gte=F("frequency_min_mhz")),
                name="antenna_frequency_range",
                violation_error_message=_(
                    "The highest frequency must not be below the lowest, and both must be positive."
                ),
            ),
            models.CheckConstraint(
                condition=Q(gain_dbi__gte=-30, gain_dbi__lte=70),
                name="antenna_gain_in_range",
                violation_error_message=_("Gain must lie between -30 and 70 dBi."),
            ),
            models.CheckConstraint(
                condition=Q(cross_polar_discrimination_db__gte=0, cross_polar_discrimination_db__lte=60),
                name="antenna_xpd_in_range",
                violation_error_message=_("Cross-polar discrimination must lie between 0 and 60 dB."),
            ),
            models.CheckConstraint(
                condition=Q(diameter_m__isnull=True) | Q(diameter_m__gt=0),
                name="antenna_diameter_positive",
                violation_error_message=_("The diameter must be positive."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.pattern == self.Pattern.MEASURED:
            check_pattern_points(self.pattern_points)
        if self.pattern == self.Pattern.F1336_SECTOR and self.beamwidth_deg is None:
            raise ValidationError(
                {
                    "beamwidth_deg": _(
                        "A sector pattern needs the half-power beamwidth in azimuth, for example 65."
                    )
                }
            )


def check_pattern_points(points: object) -> None:
    """Refuse a table that is not rows of (angle 0–360, relative gain ≤ 0), angles ascending."""
    where = "pattern_points"
    if not isinstance(points, list) or len(points) < 2:
        raise ValidationError(
            {
                where: _(
                    "A measured pattern needs at least two rows of [angle, relative gain], for example [[0, "
                    "0], [30, -12]]."
                )
            }
        )
    last = -1.0
    for number, row in enumerate(points, start=1):
        if not (isinstance(row, list) and len(row) == 2 and all(isinstance(v, int | float) for v in row)):
            raise ValidationError(
                {
                    where: when_read(
                        sentence(
                            gettext_noop(
                                "Row {number} of the pattern is {row}; two numbers were expected, for example [30, -12]."
                            ),
                            number=number,
                            row=repr(row),
                        )
                    )
                }
            )
        angle, gain = row
        if not last < angle <= 360:
            raise ValidationError(
                {
                    where: when_read(
                        sentence(
                            gettext_noop(
                                "Row {number} of the pattern has the angle {angle}; angles must ascend from 0 to at most "
                                "360."
                            ),
                            number=number,
                            angle=angle,
                        )
                    )
                }
            )
        if gain > 0:
            raise ValidationError(
                {
                    where: when_read(
                        sentence(
                            gettext_noop(
                                "Row {number} of the pattern has the relative gain {gain}; it must be 0 dB or less."
                            ),
                            number=number,
                            gain=gain,
                        )
                    )
                }
            )
        last = angle
