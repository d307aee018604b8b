"""The records that a comparison takes and gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from sites.words import gettext_noop as _

PowerKind = Literal["tx_output", "erp", "eirp"]
LimitKind = Literal[
    "frequency",
    "channel_width",
    "occupied_bandwidth",
    "emission",
    "modulation",
    "power",
    "position",
    "antenna_height",
    "azimuth",
    "polarisation",
]

#: Where a term's value comes from.
STATION: Final = _("the station's setting")
LICENCE: Final = _("the licensed channel")
STATION_AND_LICENCE: Final = _("the station's setting and the licensed channel")


@dataclass(frozen=True, slots=True, kw_only=True)
class Transmission:
    """What one station transmits; None where the register does not know.

    Frequencies and widths are whole Hz, azimuth degrees from true north (None: no direction is set),
    line losses the sum of feeder, duplexer and connectors, heights metres above ground.
    """

    frequency_hz: int
    channel_width_hz: int
    occupied_bandwidth_hz: int | None = None
    emission_designator: str | None = None
    modulation: str | None = None
    tx_power_dbm: float | None = None
    line_losses_db: float | None = None
    antenna_gain_dbi: float | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    antenna_height_agl_m: float | None = None
    azimuth_deg: float | None = None
    polarisation: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """What one licensed channel allows; None or empty where the licence states nothing.

    ``area`` is a GeoJSON Polygon or MultiPolygon (RFC 7946) and, where given, takes the place of
    the point and its tolerance.
    """

    frequency_hz: int
    channel_width_hz: int
    occupied_bandwidth_hz: int | None = None
    emission_designators: tuple[str, ...] = ()
    modulations: tuple[str, ...] = ()
    power_limit_dbm: float | None = None
    power_kind: PowerKind = "eirp"
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    tolerance_m: float | None = None
    area: Mapping[str, Any] | None = None
    antenna_height_max_agl_m: float | None = None
    azimuth_deg: float | None = None
    azimuth_tolerance_deg: float | None = None
    polarisation: str | None = None


@dataclass(frozen=True, slots=True)
class LimitTerm:
    """One line of the arithmetic: a signed value, its unit, and where it comes from."""

    name: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class LimitResult:
    """The verdict on one kind of limit.

    Attributes
    ----------
    kind : which limit
    within : True inside, False outside, None cannot be judged (the sentence says what is missing)
    margin : limit less what is used, in ``margin_unit``; negative outside; None where there is no number
    terms : lines whose values add up to ``margin``
    sentence : the verdict in words
    """

    kind: LimitKind
    within: bool | None
    margin: float | None
    margin_unit: str
    terms: tuple[LimitTerm, ...]
    sentence: str


def unknown(kind: LimitKind, unit: str, sentence: str) -> LimitResult:
    """A limit that cannot be judged; the sentence says what is missing."""
    return LimitResult(kind, None, None, unit, (), sentence)


def not_limited(kind: LimitKind, unit: str, said: str) -> LimitResult:
    """A limit that the licence does not set, and the sentence that says so."""
    return LimitResult(kind, True, None, unit, (), said)
