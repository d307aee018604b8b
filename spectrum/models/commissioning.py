"""What was found at a station when it was commissioned or visited."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.models import Registered
from sites.models.documents import documents_of_it

from .links import Station


class CommissioningRecord(Registered):
    """Settings and measurements as found at one station on one day; what was not looked at stays empty."""

    FIGURES = (
        "tx_frequency_hz", "rx_frequency_hz", "tx_power_dbm", "channel_width_hz", "modulation", "received_level_dbm",
        "isolation_db", "round_trip_ms", "throughput_kbps",
    )  # fmt: skip

    station = models.ForeignKey(
        Station, verbose_name=_("station"), on_delete=models.CASCADE, related_name="commissioning_records"
    )
    found_on = models.DateField(_("when"))
    found_by = models.CharField(_("who"), max_length=120)
    tx_frequency_hz = models.BigIntegerField(_("transmit frequency as found (Hz)"), null=True, blank=True)
    rx_frequency_hz = models.BigIntegerField(_("receive frequency as found (Hz)"), null=True, blank=True)
    tx_power_dbm = models.FloatField(_("output power as found (dBm)"), null=True, blank=True)
    channel_width_hz = models.PositiveIntegerField(_("channel width as found (Hz)"), null=True, blank=True)
    modulation = models.CharField(_("modulation as found"), max_length=20, blank=True)
    received_level_dbm = models.FloatField(_("received level (dBm)"), null=True, blank=True)
    isolation_db = models.FloatField(_("isolation measured (dB)"), null=True, blank=True)
    round_trip_ms = models.FloatField(_("round trip (ms)"), null=True, blank=True)
    throughput_kbps = models.FloatField(_("throughput (kbit/s)"), null=True, blank=True)
    notes = models.TextField(_("notes"), blank=True)

    documents = documents_of_it()

    class Meta:
        verbose_name = _("commissioning record")
        verbose_name_plural = _("commissioning records")
        ordering = ["-found_on", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(tx_frequency_hz__isnull=True) | Q(tx_frequency_hz__gt=0))
                & (Q(rx_frequency_hz__isnull=True) | Q(rx_frequency_hz__gt=0))
                & (Q(channel_width_hz__isnull=True) | Q(channel_width_hz__gt=0)),
                name="commissioning_frequencies_positive",
                violation_error_message=_("Frequencies and widths must be positive."),
            ),
            models.CheckConstraint(
                condition=(Q(tx_power_dbm__isnull=True) | Q(tx_power_dbm__gte=-60, tx_power_dbm__lte=100))
                & (
                    Q(received_level_dbm__isnull=True)
                    | Q(received_level_dbm__gte=-200, received_level_dbm__lte=60)
                ),
                name="commissioning_levels_in_range",
                violation_error_message=_(
                    "Output must lie between -60 and 100 dBm, a received level between -200 and 60 dBm."
                ),
            ),
            models.CheckConstraint(
                condition=(Q(isolation_db__isnull=True) | Q(isolation_db__gte=0, isolation_db__lte=250))
                & (Q(round_trip_ms__isnull=True) | Q(round_trip_ms__gte=0))
                & (Q(throughput_kbps__isnull=True) | Q(throughput_kbps__gte=0)),
                name="commissioning_measures_not_negative",
                violation_error_message=_(
                    "Isolation (at most 250 dB), round trip and throughput cannot be negative."
                ),
            ),
        ]

    def __str__(self) -> str:
        return gettext("{station} as found on {found_on}").format(
            station=self.station, found_on=self.found_on
        )

    def clean(self) -> None:
        values: list[Any] = [getattr(self, name) for name in self.FIGURES]
        if all(value in (None, "") for value in values):
            raise ValidationError(_("Give at least one figure as it was found."))
