"""A mapping: which column of an extract is what, how its cells are written, what stands in for the rest."""

from __future__ import annotations

import datetime as dt
import difflib
import re
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass, field
from typing import Any

from licences.emissions import EmissionFormatError, parse
from licences.standing import Ending
from sites.refusals import RefusalError
from sites.sentences import joined, sentence
from sites.words import gettext_noop as _

REQUIRED = (
    "licence_number",
    "holder",
    "granted_on",
    "tx_latitude",
    "tx_longitude",
    "rx_latitude",
    "rx_longitude",
    "tx_frequency",
)
OPTIONAL = (
    "holder_id",
    "service",
    "status",
    "in_force_from",
    "expires_on",
    "ended_on",
    "tx_site_code",
    "rx_site_code",
    "tx_site_name",
    "rx_site_name",
    "tx_ground_height_m",
    "rx_ground_height_m",
    "tx_antenna_height_agl_m",
    "rx_antenna_height_agl_m",
    "polarisation",
    "tx_power_dbm",
    "channel_width_khz",
    "emission_designator",
    "stated_path_km",
)
FIELDS = (*REQUIRED, *OPTIONAL)
DEFAULT_KEY = ("licence_number", "tx_latitude", "tx_longitude", "rx_latitude", "rx_longitude", "tx_frequency")
UNITS_HZ = {"Hz": 1, "kHz": 1_000, "MHz": 1_000_000, "GHz": 1_000_000_000}
DELIMITERS = (",", ";", "\t", "|")
# A frequency this far (as a ratio) outside every band still takes the nearest band's stand-in, and is reported.
NEAREST_BAND_RATIO = 1.05


class MappingError(RefusalError):
    """A mapping that cannot be used. ``part`` is the part of it that has to change, ``problem`` what is wrong with it."""

    def __init__(self, part: str, problem: str) -> None:
        super().__init__(joined(": ", [part, problem]))
        self.part, self.problem = part, problem


@dataclass(frozen=True)
class Reading:
    """How the file and its cells are written."""

    encoding: str = "utf-8"
    delimiter: str = ""
    sheet: str = ""
    decimal_sign: str = "."
    date_format: str = "%Y-%m-%d"
    frequency_unit: str = "MHz"
    epsg: int = 4326
    position_accuracy_m: float | None = None
    position_note: str = ""
    expected_area: tuple[float, float, float, float] | None = None


@dataclass(frozen=True)
class Band:
    """What stands in for a station of a band, and where the band's two halves meet (None: it has none)."""

    name: str
    from_mhz: float
    to_mhz: float
    radio_type: str
    mode: str
    antenna_type: str
    tx_power_dbm: float
    channel_width_khz: float
    halves_meet_mhz: float | None = None


@dataclass(frozen=True)
class StandIns:
    """What is not in the extract and is assumed, and the equipment to enter where the register lacks it."""

    bands: tuple[Band, ...]
    antenna_height_agl_m: float
    polarisation: str
    radio_types: tuple[AnyMapping[str, Any], ...] = ()
    antenna_types: tuple[AnyMapping[str, Any], ...] = ()

    def band_of(self, frequency_hz: int) -> tuple[Band, bool] | None:
        """The band of a frequency and whether it lies inside; the nearest within 5 %; None where there is none."""
        mhz = frequency_hz / 1e6

        def outside(band: Band) -> float:
            return max(band.from_mhz / mhz, mhz / band.to_mhz, 1.0)

        best = min(self.bands, key=outside)
        ratio = outside(best)
        return (best, ratio == 1.0) if ratio <= NEAREST_BAND_RATIO else None


@dataclass(frozen=True)
class Mapping:
    """All that is needed to read one kind of extract. Made and checked by :meth:`of`."""

    code: str
    authority_code: str
    columns: dict[str, str]
    reading: Reading
    in_use: frozenset[str]
    ended: frozenset[str]
    how_ended: AnyMapping[str, str]  # status → how a licence with it ended, of those that say
    key: tuple[str, ...]
    own_registrants: frozenset[str]
    stand_ins: StandIns = field(repr=False)

    @classmethod
    def of(
        cls,
        *,
        code: str,
        authority_code: str,
        columns: Any,
        reading: Any,
        statuses: Any,
        key: Any,
        own_registrants: Any,
        stand_ins: Any,
    ) -> Mapping:
        """Check every part; MappingError names the part, what was there and what was expected."""
        if not re.fullmatch(r"[a-z0-9_]{1,40}", code):
            raise MappingError(
                "code",
                sentence(
                    _("{code} was given; small letters, digits and _ were expected (at most 40)."),
                    code=repr(code),
                ),
            )
        named = _columns(columns)
        how_ended = _how_ended(statuses)
        in_use, ended = _statuses(statuses, "status" in named)
        return cls(
            code=code,
            authority_code=authority_code,
            columns=named,
            reading=_reading(reading),
            in_use=in_use,
            ended=ended | how_ended.keys(),
            how_ended=how_ended,
            key=_key(key, named),
            own_registrants=frozenset(_texts("own_registrants", own_registrants)),
            stand_ins=_stand_ins(stand_ins),
        )

    @property
    def source(self) -> str:
        """What a licence that came by this mapping carries as its source."""
        return f"extract {self.code}"


def _object(part: str, value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise MappingError(
            part,
            sentence(_("{value} was given; an object with named values was expected."), value=repr(value)),
        )
    return value


def _texts(part: str, value: Any) -> list[str]:
    if not isinstance(value, list | tuple) or not all(isinstance(text, str) for text in value):
        raise MappingError(
            part, sentence(_("{value} was given; a list of texts was expected."), value=repr(value))
        )
    return list(value)


def _known(part: str, given: AnyMapping[str, Any], names: tuple[str, ...]) -> None:
    for name in given:
        if name not in names:
            near = difflib.get_close_matches(name, names, n=1)
            known = ", ".join(names)
            raise MappingError(
                part,
                sentence(
                    _("{name} is not known here; expected one of {names}. Did you mean {near}?"),
                    name=repr(name),
                    names=known,
                    near=near[0],
                )
                if near
                else sentence(
                    _("{name} is not known here; expected one of {names}."), name=repr(name), names=known
                ),
            )


def _columns(value: Any) -> dict[str, str]:
    columns = _object("columns", value)
    _known("columns", columns, FIELDS)
    if missing := [name for name in REQUIRED if not columns.get(name)]:
        raise MappingError(
            "columns",
            sentence(_("no column is named for {names}; each of these is needed."), names=", ".join(missing)),
        )
    for name, column in columns.items():
        if not isinstance(column, str) or not column.strip():
            raise MappingError(
                "columns",
                sentence(
                    _("{name} is {column}; the heading of a column was expected."),
                    name=name,
                    column=repr(column),
                ),
            )
    return {name: column.strip() for name, column in columns.items()}


def _statuses(value: Any, has_column: bool) -> tuple[frozenset[str], frozenset[str]]:
    statuses = _object("statuses", value)
    _known("statuses", statuses, ("in_use", "ended", *Ending))
    in_use = frozenset(_texts("statuses", statuses.get("in_use", [])))
    ended = frozenset(_texts("statuses", statuses.get("ended", []))) | _how_ended(value).keys()
    if both := in_use & ended:
        raise MappingError(
            "statuses",
            sentence(
                _("{both} stands under in_use and under ended; it can be one of them."), both=repr(min(both))
            ),
        )
    if has_column and not in_use:
        raise MappingError(
            "statuses", sentence(_("a column is named for the status, but no status counts as in_use."))
        )
    return in_use, ended


def _how_ended(value: Any) -> dict[str, str]:
    """Statuses that say how a licence ended: listed as surrendered, cancelled or lapsed instead of ended."""
    statuses = _object("statuses", value)
    return {text: how.value for how in Ending for text in _texts("statuses", statuses.get(how.value, []))}


def _key(value: Any, columns: AnyMapping[str, str]) -> tuple[str, ...]:
    key = tuple(_texts("key", value)) or DEFAULT_KEY
    for name in key:
        if name not in columns:
            raise MappingError(
                "key",
                sentence(_("{name} is part of the key, but no column is named for it."), name=repr(name)),
            )
    if "licence_number" not in key:
        raise MappingError(
            "key", sentence(_("the key must hold licence_number; it tells the rows of one licence apart."))
        )
    return key


def _reading(value: Any) -> Reading:
    given = _object("reading", value)
    _known("reading", given, tuple(Reading.__dataclass_fields__))
    area = given.get("expected_area")
    if area is not None and not (
        isinstance(area, list | tuple) and len(area) == 4 and all(isinstance(v, int | float) for v in area)
    ):
        raise MappingError(
            "reading",
            sentence(
                _("expected_area is {area}; [west, south, east, north] in degrees was expected."),
                area=repr(area),
            ),
        )
    reading = Reading(**{**given, "expected_area": tuple(area) if area is not None else None})
    checks = (
        (reading.decimal_sign in (".", ","), "decimal_sign", sentence(_("“.” or “,”"))),
        (reading.frequency_unit in tuple(UNITS_HZ), "frequency_unit", ", ".join(UNITS_HZ)),
        (
            reading.delimiter in ("", *DELIMITERS),
            "delimiter",
            sentence(_("a comma, semicolon, tab, bar, or nothing (found out)")),
        ),
        (
            isinstance(reading.epsg, int) and not isinstance(reading.epsg, bool),
            "epsg",
            sentence(_("the code of a coordinate system")),
        ),
        (
            _knows_encoding(reading.encoding),
            "encoding",
            sentence(_("the name of an encoding, such as utf-8 or windows-1252")),
        ),
        (
            _can_write_dates(reading.date_format),
            "date_format",
            sentence(_("day, month and year, such as %Y-%m-%d or %d.%m.%Y")),
        ),
        (
            _accuracy(reading.position_accuracy_m),
            "position_accuracy_m",
            sentence(_("metres, 0 or more, or nothing")),
        ),
    )
    for good, name, expected in checks:
        if not good:
            raise MappingError(
                "reading",
                sentence(
                    _("{name} is {value}; expected {expected}."),
                    name=name,
                    value=repr(getattr(reading, name)),
                    expected=expected,
                ),
            )
    return reading


def _knows_encoding(name: Any) -> bool:
    try:
        "".encode(name)
    except (LookupError, TypeError):
        return False
    return True


def _can_write_dates(pattern: Any) -> bool:
    day = dt.date(2019, 11, 28)
    try:
        return dt.datetime.strptime(day.strftime(pattern), pattern).date() == day  # noqa: DTZ007
    except (TypeError, ValueError, re.error):
        return False


def _accuracy(value: Any) -> bool:
    return value is None or (isinstance(value, int | float) and value >= 0)


def _number(part: str, owner: str, given: AnyMapping[str, Any], name: str) -> float:
    value = given.get(name)
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise MappingError(
            part,
            sentence(
                _("{owner}: {name} is {value}; a number was expected."),
                owner=owner,
                name=name,
                value=repr(value),
            ),
        )
    return float(value)


def _stand_ins(value: Any) -> StandIns:
    given = _object("stand_ins", value)
    names = ("bands", "antenna_height_agl_m", "polarisation", "radio_types", "antenna_types")
    _known("stand_ins", given, names)
    rows = given.get("bands")
    if not isinstance(rows, list) or not rows:
        raise MappingError(
            "stand_ins",
            sentence(_("bands is empty; at least one band with radio, antenna and power was expected.")),
        )
    polarisation = given.get("polarisation", "V")
    if polarisation not in ("H", "V"):
        raise MappingError(
            "stand_ins",
            sentence(
                _("polarisation is {polarisation}; H or V was expected."), polarisation=repr(polarisation)
            ),
        )
    for radio in given.get("radio_types", []):
        for mode in _object("stand_ins", radio).get("modes", []):
            try:
                parse(str(mode.get("emission_designator")))
            except EmissionFormatError as error:
                raise MappingError(
                    "stand_ins", joined(": ", [str(radio.get("name")), error.written])
                ) from error
    return StandIns(
        bands=tuple(_band(_object("stand_ins", row)) for row in rows),
        antenna_height_agl_m=_number("stand_ins", sentence(_("all bands")), given, "antenna_height_agl_m"),
        polarisation=polarisation,
        radio_types=tuple(given.get("radio_types", [])),
        antenna_types=tuple(_object("stand_ins", row) for row in given.get("antenna_types", [])),
    )


def _band(row: dict[str, Any]) -> Band:
    _known("stand_ins", row, tuple(Band.__dataclass_fields__))
    owner = sentence(_("band {name}"), name=repr(row.get("name", "")))
    for name in ("name", "radio_type", "mode", "antenna_type"):
        if not isinstance(row.get(name), str) or not row[name]:
            raise MappingError(
                "stand_ins",
                sentence(
                    _("{owner}: {name} is {value}; a name was expected."),
                    owner=owner,
                    name=name,
                    value=repr(row.get(name)),
                ),
            )
    meet = row.get("halves_meet_mhz")
    band = Band(
        name=row["name"],
        from_mhz=_number("stand_ins", owner, row, "from_mhz"),
        to_mhz=_number("stand_ins", owner, row, "to_mhz"),
        radio_type=row["radio_type"],
        mode=row["mode"],
        antenna_type=row["antenna_type"],
        tx_power_dbm=_number("stand_ins", owner, row, "tx_power_dbm"),
        channel_width_khz=_number("stand_ins", owner, row, "channel_width_khz"),
        halves_meet_mhz=None if meet is None else _number("stand_ins", owner, row, "halves_meet_mhz"),
    )
    if not 0 < band.from_mhz < band.to_mhz or band.channel_width_khz <= 0:
        raise MappingError(
            "stand_ins",
            sentence(
                _("{owner}: from_mhz must be positive and below to_mhz, and its width positive."), owner=owner
            ),
        )
    return band
