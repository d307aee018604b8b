"""From rows of cells to entries: one directed path each, every value typed and in range."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from sites.positions import Position, PositionError, parse_position
from sites.sentences import sentence
from sites.words import gettext_noop as _

from . import cells
from .cells import CellError
from .mapping import Band, Mapping
from .problems import ExtractError, Problem, quoted
from .reading import MAX_PROBLEMS, SourceRow

SPELT_TO_METRE = 5


@dataclass(frozen=True)
class Place:
    """One end of a path. ``key`` is the extract's own site code, or the position to about a metre."""

    key: str
    site_code: str
    name: str
    latitude_deg: float
    longitude_deg: float
    typed: str
    notation: str
    ground_height_m: float | None
    antenna_height_agl_m: float | None


@dataclass(frozen=True)
class Entry:
    """One row: what is licensed to be transmitted from where to where."""

    row: int
    key: str
    licence_number: str
    holder: str
    holder_id: str
    service: str
    status: str
    in_use: bool
    granted_on: dt.date
    in_force_from: dt.date
    expires_on: dt.date | None
    ended_on: dt.date | None
    tx: Place
    rx: Place
    frequency_hz: int
    band: Band
    inside_band: bool
    polarisation: str | None
    tx_power_dbm: float | None
    channel_width_hz: int | None
    emission_designator: str
    stated_path_km: float | None


@dataclass
class Entries:
    """All rows of a file, and what reading its positions had to say (notice → how many positions)."""

    rows: list[Entry]
    notices: dict[str, int] = field(default_factory=dict)


def entries_of(rows: list[SourceRow], mapping: Mapping) -> Entries:
    """Read every row. ExtractError lists what is wrong with each row and column; nothing is guessed."""
    reader = _RowReader(mapping)
    read = [entry for row in rows if (entry := reader.read(row)) is not None]
    problems = [*reader.problems, *_contradictions(read, mapping)]
    if problems:
        kept = problems[:MAX_PROBLEMS]
        raise ExtractError(kept, more=len(problems) - len(kept))
    return Entries(read, reader.notices)


class _RowReader:
    def __init__(self, mapping: Mapping) -> None:
        self.mapping = mapping
        self.reading = mapping.reading
        self.problems: list[Problem] = []
        self.notices: dict[str, int] = {}
        self._positions: dict[tuple[str, str], Position | PositionError] = {}
        self._dates: dict[Any, dt.date] = {}

    def read(self, row: SourceRow) -> Entry | None:
        before = len(self.problems)
        get = partial(self._cell, row)
        r = self.reading
        text = partial(self._text, row)
        number = text("licence_number", 60, needed=True)
        holder = text("holder", 200, needed=True)
        status = text("status", 60)
        granted_on = get("granted_on", self._date, needed=True)
        in_force_from = get("in_force_from", self._date) or granted_on
        expires_on = get("expires_on", self._date)
        ended_on = get("ended_on", self._date)
        frequency_hz = get("tx_frequency", lambda cell: cells.frequency_hz_of(cell, r), needed=True)
        tx, rx = self._place(row, "tx"), self._place(row, "rx")
        length_km = get(
            "stated_path_km", lambda cell: cells.number_of(cell, r, _("a length in km"), 0, 20_100)
        )
        power = get("tx_power_dbm", lambda cell: cells.number_of(cell, r, _("a power in dBm"), -60, 100))
        width = get("channel_width_khz", lambda cell: cells.width_hz_of(cell, r))
        polarisation = get("polarisation", cells.polarisation_of)
        emission = get("emission_designator", cells.emission_of) or ""
        in_use = self._in_use(row, status, ended_on)
        band = self._band(row, frequency_hz) if frequency_hz else None
        if granted_on and in_force_from:
            self._order(row, granted_on, in_force_from, "in_force_from", _("the grant"))
            if expires_on:
                self._order(row, in_force_from, expires_on, "expires_on", _("the first day in force"))
        if len(self.problems) > before or band is None or tx is None or rx is None:
            return None
        return Entry(
            row=row.number,
            key=self._key(row),
            licence_number=number,
            holder=holder,
            holder_id=text("holder_id", 60),
            service=text("service", 120),
            status=status,
            in_use=in_use,
            granted_on=granted_on,
            in_force_from=in_force_from,
            expires_on=expires_on,
            ended_on=ended_on,
            tx=tx,
            rx=rx,
            frequency_hz=frequency_hz,
            band=band[0],
            inside_band=band[1],
            polarisation=polarisation,
            tx_power_dbm=power,
            channel_width_hz=width,
            emission_designator=emission,
            stated_path_km=length_km,
        )

    def _complain(self, row: SourceRow, name: str, found: str, expected: str, mend: str) -> None:
        self.problems.append(Problem(row.number, self.mapping.columns[name], found, expected, mend))

    def _cell(self, row: SourceRow, name: str, read: Callable[[Any], Any], *, needed: bool = False) -> Any:
        cell = row.cells.get(name)
        if cells.is_empty(cell):
            if needed:
                self._complain(
                    row,
                    name,
                    sentence(_("an empty cell")),
                    sentence(_("a value; each row needs one")),
                    sentence(_("Complete or remove the row.")),
                )
            return None
        try:
            return read(cell)
        except CellError as error:
            self._complain(row, name, error.found, error.expected, error.mend)
            return None

    def _text(self, row: SourceRow, name: str, longest: int, *, needed: bool = False) -> str:
        return self._cell(row, name, lambda cell: cells.text_of(cell, longest=longest), needed=needed) or ""

    def _date(self, cell: Any) -> dt.date:
        if cell not in self._dates:
            self._dates[cell] = cells.date_of(cell, self.reading)
        return self._dates[cell]

    def _order(self, row: SourceRow, first: dt.date, then: dt.date, name: str, what: str) -> None:
        if then < first and name in self.mapping.columns:
            self._complain(
                row,
                name,
                then.isoformat(),
                sentence(_("a day not before {what} ({first})"), what=sentence(what), first=first),
                sentence(_("Correct one of the two dates.")),
            )

    def _in_use(self, row: SourceRow, status: str, ended_on: dt.date | None) -> bool:
        if "status" not in self.mapping.columns:
            return ended_on is None
        if status in self.mapping.in_use:
            return True
        if status not in self.mapping.ended:
            known = ", ".join(sorted(self.mapping.in_use | self.mapping.ended))
            self._complain(
                row,
                "status",
                quoted(status),
                sentence(_("one of {known}"), known=known),
                sentence(_("Correct it, or add it to the mapping's statuses.")),
            )
        return False

    def _band(self, row: SourceRow, frequency_hz: int) -> tuple[Band, bool] | None:
        band = self.mapping.stand_ins.band_of(frequency_hz)
        if band is None:
            bands = ", ".join(f"{b.from_mhz:g}–{b.to_mhz:g}" for b in self.mapping.stand_ins.bands)
            self._complain(
                row,
                "tx_frequency",
                f"{frequency_hz / 1e6:.5f} MHz",
                sentence(_("a frequency in a band of the mapping ({bands} MHz)"), bands=bands),
                sentence(_("Correct it, or add a band with its stand-in equipment to the mapping.")),
            )
        return band

    def _place(self, row: SourceRow, end: str) -> Place | None:
        position = self._position(row, end)
        r = self.reading
        ground = self._cell(
            row,
            f"{end}_ground_height_m",
            lambda c: cells.number_of(c, r, _("a ground height in m"), -430, 8850),
        )
        height = self._cell(
            row,
            f"{end}_antenna_height_agl_m",
            lambda c: cells.number_of(c, r, _("an antenna height in m"), 0, 900),
        )
        code = self._text(row, f"{end}_site_code", 40)
        name = self._text(row, f"{end}_site_name", 120)
        if position is None:
            return None
        spelt = _spelt(position)
        return Place(
            key=code or spelt,
            site_code=code,
            name=name or f"Place at {spelt}",
            latitude_deg=position.latitude_deg,
            longitude_deg=position.longitude_deg,
            typed=position.typed,
            notation=str(position.notation),
            ground_height_m=ground,
            antenna_height_agl_m=height,
        )

    def _position(self, row: SourceRow, end: str) -> Position | None:
        parts = []
        for axis in ("latitude", "longitude"):
            name = f"{end}_{axis}"
            cell = row.cells.get(name)
            if cells.is_empty(cell):
                self._complain(
                    row,
                    name,
                    sentence(_("an empty cell")),
                    sentence(_("a coordinate")),
                    sentence(_("Complete or remove the row.")),
                )
                return None
            text = cells.text_of(cell, longest=60)
            parts.append(text.replace(",", ".") if self.reading.decimal_sign == "," else text)
        pair = (parts[0], parts[1])
        if pair not in self._positions:
            self._positions[pair] = self._parsed(pair)
        result = self._positions[pair]
        if isinstance(result, Position):
            return result
        axis = result.field if result.field in ("latitude", "longitude") else "latitude"
        self._complain(
            row,
            f"{end}_{axis}",
            quoted(result.typed),
            sentence(
                _("{expected}, for example {example}"), expected=result.expected, example=result.example
            ),
            sentence(_("What is wrong: {problem}"), problem=result.problem),
        )
        return None

    def _parsed(self, pair: tuple[str, str]) -> Position | PositionError:
        try:
            position = parse_position(pair, epsg=self.reading.epsg, expected_area=self.reading.expected_area)
        except PositionError as error:
            return error
        for notice in position.notices:
            self.notices[notice] = self.notices.get(notice, 0) + 1
        return position

    def _key(self, row: SourceRow) -> str:
        parts = []
        for name in self.mapping.key:
            cell = row.cells.get(name)
            value = cells.text_of(cell, longest=200)
            if name == "tx_frequency":
                value = str(cells.frequency_hz_of(cell, self.reading))
            parts.append(value)
        return "\x1f".join(parts)


def _spelt(position: Position) -> str:
    """N40.72231 W077.12208: a position to about a metre, as a text that sorts."""
    lat, lon = round(position.latitude_deg, SPELT_TO_METRE), round(position.longitude_deg, SPELT_TO_METRE)
    return f"{'S' if lat < 0 else 'N'}{abs(lat):08.5f} {'W' if lon < 0 else 'E'}{abs(lon):09.5f}"


def _contradictions(entries: list[Entry], mapping: Mapping) -> list[Problem]:
    """Rows of one licence that disagree about the licence itself: which is right cannot be guessed."""
    first: dict[str, Entry] = {}
    problems = []
    for entry in entries:
        other = first.setdefault(entry.licence_number, entry)
        if other is entry:
            continue
        for name in (
            "holder_id",
            "service",
            "status",
            "granted_on",
            "in_force_from",
            "expires_on",
            "ended_on",
        ):
            mine, theirs = getattr(entry, name), getattr(other, name)
            if mine != theirs and name in mapping.columns:
                problems.append(
                    Problem(
                        entry.row,
                        mapping.columns[name],
                        quoted(mine if mine is not None else ""),
                        sentence(
                            _("{value} as in row {row} of the same licence {licence}"),
                            value=quoted(theirs if theirs is not None else ""),
                            row=other.row,
                            licence=entry.licence_number,
                        ),
                        sentence(_("Make the rows of one licence agree.")),
                    )
                )
    return problems


def short_code(text: str, limit: int) -> str:
    """The text, or where it is too long its beginning and a mark made from the whole of it."""
    if len(text) <= limit:
        return text
    return f"{text[: limit - 9]}~{mark(text)}"


def mark(text: str) -> str:
    """Eight letters and digits that stand for a text."""
    return hashlib.sha256(text.encode()).hexdigest()[:8]
