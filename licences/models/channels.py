"""Licensed channels: one frequency assignment each, at a site or inside an area."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from licences.areas import AreaError, check_area
from licences.emissions import EmissionFormatError, parse
from sites.lazily import Words
from sites.models import Registered, Site
from sites.saying import when_read
from sites.sentences import sentence
from sites.words import gettext_noop

from .licences import ENDINGS, Licence

POLARISATIONS = [("H", _("horizontal")), ("V", _("vertical"))]


class LicensedChannel(Registered):
    """What may be transmitted, where, how strong (an assigned frequency, RR 1.148)."""

    class PowerKind(models.TextChoices):
        TX_OUTPUT = "tx_output", _("transmitter output")
        ERP = "erp", _("e.r.p.")
        EIRP = "eirp", _("e.i.r.p.")

    licence = models.ForeignKey(
        Licence, on_delete=models.CASCADE, related_name="channels", verbose_name=_("licence")
    )
    label = models.CharField(
        _("label"),
        max_length=40,
        help_text=_("Names the assignment within its licence, for example 1 or A-go."),
    )
    site = models.ForeignKey(
        Site,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="licensed_channels",
        verbose_name=_("site"),
    )
    tolerance_m = models.FloatField(_("position tolerance (m)"), null=True, blank=True)
    area = models.JSONField(_("area (GeoJSON polygon)"), null=True, blank=True)
    latitude_deg = models.FloatField(
        _("latitude as licensed (degrees)"),
        null=True,
        blank=True,
        help_text=_("Empty: the site's own position."),
    )
    longitude_deg = models.FloatField(_("longitude as licensed (degrees)"), null=True, blank=True)
    frequency_hz = models.BigIntegerField(_("assigned transmit frequency (Hz)"))
    channel_width_hz = models.PositiveIntegerField(_("channel width (Hz)"))
    occupied_bandwidth_hz = models.PositiveIntegerField(
        _("occupied bandwidth limit (Hz)"), null=True, blank=True
    )
    emission_designators = models.JSONField(_("emissions allowed"), default=list, blank=True)
    modulations = models.JSONField(
        _("modulations allowed"), default=list, blank=True, help_text=_("Empty: not restricted.")
    )
    power_limit_dbm = models.FloatField(_("power limit (dBm)"), null=True, blank=True)
    power_kind = models.CharField(
        _("power kind"), max_length=10, choices=PowerKind.choices, default=PowerKind.ERP
    )
    antenna_height_max_m = models.FloatField(
        _("antenna height limit (m above ground)"), null=True, blank=True
    )
    azimuth_deg = models.FloatField(_("azimuth (degrees from true north)"), null=True, blank=True)
    azimuth_tolerance_deg = models.FloatField(_("azimuth tolerance (degrees)"), null=True, blank=True)
    polarisation = models.CharField(_("polarisation"), max_length=1, choices=POLARISATIONS, blank=True)
    paired_with = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text=_("The return channel."),
        verbose_name=_("paired with"),
    )
    in_force_from = models.DateField(
        _("in force from"), null=True, blank=True, help_text=_("Empty: as the licence.")
    )
    expires_on = models.DateField(_("expires"), null=True, blank=True, help_text=_("Empty: as the licence."))
    ended_on = models.DateField(_("first day without it"), null=True, blank=True)
    ended_how = models.CharField(_("how it ended"), max_length=12, choices=ENDINGS, blank=True)

    class Meta:
        verbose_name = _("licensed channel")
        verbose_name_plural = _("licensed channels")
        ordering = ["licence", "label"]
        indexes = [models.Index(fields=["frequency_hz"], name="channel_frequency")]
        constraints = [
            models.UniqueConstraint(
                fields=["licence", "label"],
                name="channel_label_once",
                violation_error_message=_("This licence has a channel with that label already."),
            ),
            models.CheckConstraint(
                condition=Q(frequency_hz__gt=0),
                name="channel_frequency_positive",
                violation_error_message=_("The frequency must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(channel_width_hz__gt=0),
                name="channel_width_positive",
                violation_error_message=_("The channel width must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(occupied_bandwidth_hz__isnull=True) | Q(occupied_bandwidth_hz__gt=0),
                name="channel_occupied_positive",
                violation_error_message=_("The occupied bandwidth must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(site__isnull=False, area__isnull=True) | Q(site__isnull=True, area__isnull=False),
                name="channel_site_or_area",
                violation_error_message=_(
                    "A licensed channel applies either at a site or inside an area: give one of the two."
                ),
            ),
            models.CheckConstraint(
                condition=Q(tolerance_m__isnull=True) | Q(tolerance_m__gte=0),
                name="channel_tolerance_not_negative",
                violation_error_message=_("The position tolerance cannot be negative."),
            ),
            models.CheckConstraint(
                condition=Q(latitude_deg__isnull=True, longitude_deg__isnull=True)
                | Q(
                    latitude_deg__gte=-90,
                    latitude_deg__lte=90,
                    longitude_deg__gte=-180,
                    longitude_deg__lte=180,
                ),
                name="channel_position_in_range",
                violation_error_message=_(
                    "Give both latitude (-90 to 90) and longitude (-180 to 180), or neither."
                ),
            ),
            models.CheckConstraint(
                condition=Q(azimuth_deg__isnull=True) | Q(azimuth_deg__gte=0, azimuth_deg__lt=360),
                name="channel_azimuth_in_range",
                violation_error_message=_("The azimuth must lie from 0 to below 360 degrees."),
            ),
            models.CheckConstraint(
                condition=Q(in_force_from__isnull=True)
                | Q(expires_on__isnull=True)
                | Q(expires_on__gte=F("in_force_from")),
                name="channel_dates_in_order",
                violation_error_message=_("The channel's expiry must not lie before its first day."),
            ),
            models.CheckConstraint(
                condition=Q(ended_how="") | Q(ended_on__isnull=False),
                name="channel_end_has_a_day",
                violation_error_message=_("How it ended is given: give its first day without it too."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.licence}/{self.label} {self.frequency_hz / 1e6:.5f} MHz"

    def clean(self) -> None:
        problems: dict[str, Words] = {}
        for designator in self.emission_designators:
            try:
                parse(designator)
            except EmissionFormatError as error:
                problems["emission_designators"] = when_read(error.written)
        if self.area is not None:
            try:
                check_area(self.area)
            except AreaError as error:
                problems["area"] = when_read(error.written)
        if self.licence_id:
            problems |= self.outside_licence_dates()
        if problems:
            raise ValidationError(problems)

    def outside_licence_dates(self) -> dict[str, Words]:
        """Say by field, in one sentence, how the channel's dates leave its licence's; empty where they do not."""
        own, licence = self.in_force_from, self.licence
        if own and licence.in_force_from and own < licence.in_force_from:
            return self._outside(
                "in_force_from",
                gettext_noop("The channel would be in force from {day}, before its licence ({licence_day})."),
                own,
                licence.in_force_from,
            )
        if licence.expires_on and self.expires_on and self.expires_on > licence.expires_on:
            return self._outside(
                "expires_on",
                gettext_noop("The channel would expire on {day}, after its licence ({licence_day})."),
                self.expires_on,
                licence.expires_on,
            )
        if licence.expires_on and own and own > licence.expires_on:
            return self._outside(
                "expires_on",
                gettext_noop(
                    "The channel would be in force from {day}, after its licence expires ({licence_day})."
                ),
                own,
                licence.expires_on,
            )
        return {}

    def _outside(self, field: str, pattern: str, day: dt.date, licence_day: dt.date) -> dict[str, Words]:
        return {field: when_read(sentence(pattern, day=day, licence_day=licence_day))}
