"""Records for the engine's tests, made by hand: invented values, only their relations matter."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache

from spectrum.conflicts.network import (
    FAR_FUTURE,
    FAR_PAST,
    AntennaRecord,
    LinkRecord,
    ModeRecord,
    StationRecord,
)
from spectrum.conflicts.nominal import nominal_emission, nominal_selectivity

TODAY = dt.date(2026, 6, 1)

YAGI = AntennaRecord(
    "Yagi", "measured", 12.0, 380.0, 480.0, 18.0,
    points=((0, 0), (20, -3), (40, -12), (60, -18), (90, -20), (180, -22)),
)  # fmt: skip
WHIP = AntennaRecord("Whip", "f1336_omni", 6.0, 380.0, 480.0, 10.0)
DISH = AntennaRecord("Dish", "f699", 20.0, 380.0, 960.0, 25.0, diameter_m=3.0)


@lru_cache
def mode(width_hz: int = 25_000) -> ModeRecord:
    return ModeRecord(
        name=f"Radio {width_hz}",
        channel_width_hz=width_hz,
        occupied_bandwidth_hz=int(width_hz * 0.8),
        emission_designator="16K0F1D",
        modulation="4-FSK",
        noise_figure_db=7.0,
        tuning_min_mhz=380.0,
        tuning_max_mhz=480.0,
        power_min_dbm=20.0,
        power_max_dbm=43.0,
        emission=nominal_emission(width_hz / 1e3),
        selectivity=nominal_selectivity(width_hz / 1e3),
        required_ci_db=18.0,
    )


def link(number: int, **changes: object) -> LinkRecord:
    record = LinkRecord(
        number, f"L-{number:03d}", "ptp", "Own", True, "on_air", FAR_PAST, FAR_FUTURE, None, None
    )
    return replace(record, **changes)  # type: ignore[arg-type]


def station(link_record: LinkRecord, label: str, **changes: object) -> StationRecord:
    record = StationRecord(
        id=link_record.id * 10 + (label == "B"),
        link=link_record,
        label=label,
        role=label.lower(),
        site_id=link_record.id * 10 + (label == "B"),
        site_code=f"S{link_record.id}{label}",
        latitude_deg=47.0,
        longitude_deg=14.0,
        ground_height_m=500.0,
        antenna_height_agl_m=20.0,
        azimuth_deg=None,
        azimuth_entered=False,
        tilt_deg=0.0,
        polarisation="V",
        line_losses_db=2.0,
        environment="rural",
        antenna=WHIP,
        mode=mode(),
        tx_power_dbm=37.0,
        tx_frequency_hz=410_000_000 if label == "A" else 420_000_000,
        rx_frequency_hz=420_000_000 if label == "A" else 410_000_000,
    )
    return replace(record, **changes)  # type: ignore[arg-type]
