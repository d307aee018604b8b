"""What an extract contradicts itself in, or what nobody would have licensed: each kind counted, each case listed.

None of it stops an import: it is the regulator's record, and says what the regulator says.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from sites.geodesy import inverse
from sites.sentences import Sentence, joined, sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

from .entries import Entry, Place
from .near import pairs_within
from .registrants import Registrant

ONE_TOWER_WITHIN_M = 100.0
LONG_PATH_KM = 100.0
SHORT_PATH_KM = 1.0
# A length computed on a sphere differs from the ellipsoid's by at most about 0.56 % (the ratio of the
# radii of curvature to the mean radius, WGS 84); more than this is another position or a slip.
LENGTH_WITHIN_RATIO = 0.006
LENGTH_WITHIN_KM = 0.05

KINDS: Final[dict[str, Sentence]] = {
    "near_sites": sentence(
        _("two positions less than {metres:g} m apart, probably one tower"), metres=ONE_TOWER_WITHIN_M
    ),
    "ground_heights": sentence(_("one position with several ground heights")),
    "active_past_expiry": sentence(_("called in use after its expiry date")),
    "shared_frequency": sentence(_("one position and frequency under several licences")),
    "both_halves": sentence(_("one holder transmits in both halves of a band from one position")),
    "registrant_spellings": sentence(_("one registrant, its name spelt in several ways")),
    "registrant_numbers": sentence(_("one name under several registrant numbers")),
    "registrant_unnumbered": sentence(_("no registrant number")),
    "long_path": sentence(_("a path over {km:g} km"), km=LONG_PATH_KM),
    "short_path": sentence(_("a path under {km:g} km"), km=SHORT_PATH_KM),
    "length_differs": sentence(
        _("the stated length differs from the geodesic by over {ratio:.1%}"), ratio=LENGTH_WITHIN_RATIO
    ),
    "not_in_use": sentence(_("a row that is no longer in use")),
    "ended_without_date": sentence(_("no longer in use, without the day on which it ended")),
    "ended_before_start": sentence(_("ended before its first day in force")),
    "outside_bands": sentence(_("a frequency outside every band of the mapping")),
    "repeated_row": sentence(_("the same path, frequency and licence once more")),
}


@dataclass(frozen=True)
class Defect:
    """One case: the rows that have a part in it, and what it is, in a sentence."""

    kind: str
    rows: tuple[int, ...]
    what: str


@dataclass(frozen=True)
class Quality:
    """What was found, by kind, in the order of KINDS."""

    defects: list[Defect]
    longest_km: float
    shortest_km: float
    largest_difference_ratio: float

    def counts(self) -> dict[str, dict[str, int]]:
        """Per kind: how many cases, and how many rows have a part in one."""
        cases = Counter(defect.kind for defect in self.defects)
        rows: dict[str, set[int]] = defaultdict(set)
        for defect in self.defects:
            rows[defect.kind].update(defect.rows)
        return {kind: {"cases": cases[kind], "rows": len(rows[kind])} for kind in KINDS}

    def of_kind(self, kind: str) -> list[Defect]:
        return [defect for defect in self.defects if defect.kind == kind]


def quality_of(entries: list[Entry], registrants: dict[int, Registrant], as_of: dt.date) -> Quality:
    """Look through all rows, as they stand on a date."""
    length_km = _lengths_km(entries)
    stated = np.array([np.nan if e.stated_path_km is None else e.stated_path_km for e in entries])
    difference_km = np.abs(stated - length_km)
    defects = [
        *_repeated(entries),
        *_near_sites(entries),
        *_ground_heights(entries),
        *_shared_frequency(entries),
        *_both_halves(entries, registrants),
        *_registrants(entries, registrants),
        *_single_rows(entries, as_of),
        *_paths(entries, length_km, difference_km),
    ]
    order = list(KINDS)
    known = (stated > LENGTH_WITHIN_KM) & (length_km > 1.0)
    return Quality(
        defects=sorted(defects, key=lambda d: (order.index(d.kind), d.rows)),
        longest_km=float(length_km.max(initial=0.0)),
        shortest_km=float(length_km.min(initial=np.inf)),
        largest_difference_ratio=float((difference_km[known] / length_km[known]).max(initial=0.0)),
    )


def _lengths_km(entries: list[Entry]) -> np.ndarray:
    ends = np.array(
        [(e.tx.latitude_deg, e.tx.longitude_deg, e.rx.latitude_deg, e.rx.longitude_deg) for e in entries]
    )
    return inverse(*ends.reshape(-1, 4).T)[0] / 1e3


def _places(entries: Iterable[Entry]) -> dict[str, list[tuple[int, Place]]]:
    """Rows and ends at each place, by the place's key."""
    result: dict[str, list[tuple[int, Place]]] = defaultdict(list)
    for entry in entries:
        result[entry.tx.key].append((entry.row, entry.tx))
        result[entry.rx.key].append((entry.row, entry.rx))
    return result


def _rows(rows: Iterable[int]) -> tuple[int, ...]:
    return tuple(sorted(set(rows)))


def _repeated(entries: list[Entry]) -> Iterator[Defect]:
    by_key: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_key[entry.key].append(entry)
    for same in by_key.values():
        if len(same) > 1:
            yield Defect(
                "repeated_row",
                _rows(e.row for e in same),
                sentence(
                    _("{licence}, {mhz:.5f} MHz: the first of these rows was taken"),
                    licence=same[0].licence_number,
                    mhz=_mhz(same[0]),
                ),
            )


def _near_sites(entries: list[Entry]) -> Iterator[Defect]:
    places = _places(entries)
    keys = sorted(places)
    latitude = np.array([places[key][0][1].latitude_deg for key in keys])
    longitude = np.array([places[key][0][1].longitude_deg for key in keys])
    for i, j, metres in pairs_within(latitude, longitude, ONE_TOWER_WITHIN_M):
        rows = _rows(row for key in (keys[i], keys[j]) for row, _place in places[key])
        what = sentence(
            _("{one} and {other} lie {metres:.1f} m apart"), one=keys[i], other=keys[j], metres=metres
        )
        yield Defect("near_sites", rows, what)


def _ground_heights(entries: list[Entry]) -> Iterator[Defect]:
    for key, uses in _places(entries).items():
        heights = Counter(place.ground_height_m for _row, place in uses if place.ground_height_m is not None)
        if len(heights) > 1:
            listed = [
                sentence("{height:g} m ({count} ×)", height=height, count=count)
                for height, count in sorted(heights.items())
            ]
            rows = _rows(row for row, _place in uses)
            yield Defect("ground_heights", rows, joined(": ", [key, joined(", ", listed)]))


def _shared_frequency(entries: list[Entry]) -> Iterator[Defect]:
    groups: dict[tuple[str, int], list[Entry]] = defaultdict(list)
    for entry in entries:
        groups[entry.tx.key, entry.frequency_hz].append(entry)
    for (place, _hz), same in groups.items():
        licences = sorted({e.licence_number for e in same})
        if len(licences) > 1:
            in_use = len({e.licence_number for e in same if e.in_use})
            yield Defect(
                "shared_frequency",
                _rows(e.row for e in same),
                sentence(
                    ngettext_lazy(
                        "{place}, {mhz:.5f} MHz: {count} licence ({licences}), {in_use} in use",
                        "{place}, {mhz:.5f} MHz: {count} licences ({licences}), {in_use} of them in use",
                    ),
                    place=place,
                    mhz=_mhz(same[0]),
                    count=len(licences),
                    licences=", ".join(licences),
                    in_use=in_use,
                ),
            )


def _both_halves(entries: list[Entry], registrants: dict[int, Registrant]) -> Iterator[Defect]:
    """Among rows in use only: a place that changed its half over the years is no contradiction."""
    groups: dict[tuple[str, str, str], list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.in_use and entry.inside_band and entry.band.halves_meet_mhz is not None:
            groups[registrants[entry.row].name, entry.tx.key, entry.band.name].append(entry)
    for (holder, place, band), same in groups.items():
        meet_hz = (same[0].band.halves_meet_mhz or 0.0) * 1e6
        low = sorted({e.frequency_hz for e in same if e.frequency_hz < meet_hz})
        high = sorted({e.frequency_hz for e in same if e.frequency_hz >= meet_hz})
        if low and high:
            yield Defect(
                "both_halves",
                _rows(e.row for e in same),
                sentence(
                    _("{holder} at {place} in {band}: {low} in the low half, {high} in the high half"),
                    holder=holder,
                    place=place,
                    band=band,
                    low=_list_mhz(low),
                    high=_list_mhz(high),
                ),
            )


def _registrants(entries: list[Entry], registrants: dict[int, Registrant]) -> Iterator[Defect]:
    numbered = any(entry.holder_id for entry in entries)
    for party in {id(r): r for r in registrants.values()}.values():
        if len(party.spellings) > 1:
            names = ", ".join(f"“{name}” ({count} ×)" for name, count in sorted(party.spellings.items()))
            yield Defect("registrant_spellings", _rows(party.rows), names)
        if len(party.numbers) > 1:
            yield Defect(
                "registrant_numbers", _rows(party.rows), f"{party.name}: {', '.join(sorted(party.numbers))}"
            )
    if numbered:
        unnumbered: dict[str, list[int]] = defaultdict(list)
        for entry in entries:
            if not entry.holder_id:
                unnumbered[entry.holder].append(entry.row)
        for name, rows in unnumbered.items():
            yield Defect("registrant_unnumbered", _rows(rows), name)


def _single_rows(entries: list[Entry], as_of: dt.date) -> Iterator[Defect]:
    for e in entries:
        rows = (e.row,)
        if e.in_use and e.expires_on is not None and e.expires_on < as_of:
            yield Defect(
                "active_past_expiry",
                rows,
                sentence(
                    _("{licence} expired on {day}: {status}"),
                    licence=e.licence_number,
                    day=e.expires_on,
                    status=e.status,
                ),
            )
        if not e.in_use:
            yield Defect("not_in_use", rows, _how_it_ended(e))
            if e.ended_on is None:
                yield Defect("ended_without_date", rows, _without_a_day(e))
        if e.ended_on is not None and e.ended_on < e.in_force_from:
            yield Defect(
                "ended_before_start",
                rows,
                sentence(
                    _("{licence}: ended {ended}, in force from {start}"),
                    licence=e.licence_number,
                    ended=e.ended_on,
                    start=e.in_force_from,
                ),
            )
        if not e.inside_band:
            yield Defect(
                "outside_bands",
                rows,
                sentence(
                    _("{licence}: {mhz:.5f} MHz; {band} is {low:g} to {high:g} MHz"),
                    licence=e.licence_number,
                    mhz=_mhz(e),
                    band=e.band.name,
                    low=e.band.from_mhz,
                    high=e.band.to_mhz,
                ),
            )


def _how_it_ended(entry: Entry) -> Sentence:
    status = entry.status or sentence(_("ended"))
    if entry.ended_on is None:
        return joined(": ", [entry.licence_number, status])
    return sentence(
        _("{licence}: {status} on {day}"), licence=entry.licence_number, status=status, day=entry.ended_on
    )


def _without_a_day(entry: Entry) -> Sentence:
    known = {"licence": entry.licence_number, "status": entry.status}
    if entry.expires_on is None:
        return sentence(_("{licence}: {status}, no expiry"), **known)
    return sentence(_("{licence}: {status}, expiry {day}"), **known, day=entry.expires_on)


def _paths(entries: list[Entry], length_km: np.ndarray, difference_km: np.ndarray) -> Iterator[Defect]:
    allowed = np.maximum(length_km * LENGTH_WITHIN_RATIO, LENGTH_WITHIN_KM)
    for entry, km, difference, within in zip(entries, length_km, difference_km, allowed, strict=True):
        what = sentence("{licence}: {km:.3f} km", licence=entry.licence_number, km=km)
        if km > LONG_PATH_KM:
            yield Defect("long_path", (entry.row,), what)
        if km < SHORT_PATH_KM:
            yield Defect("short_path", (entry.row,), what)
        if difference > within:
            differs = sentence(
                _("{licence}: {km:.3f} km, stated {stated:g} km"),
                licence=entry.licence_number,
                km=km,
                stated=entry.stated_path_km,
            )
            yield Defect("length_differs", (entry.row,), differs)


def _mhz(entry: Entry) -> float:
    return entry.frequency_hz / 1e6


def _list_mhz(frequencies: list[int]) -> Sentence:
    shown = joined(", ", [sentence("{mhz:g}", mhz=f / 1e6) for f in frequencies[:4]])
    more = len(frequencies) - 4
    if more <= 0:
        return sentence("{shown} MHz", shown=shown)
    return sentence(_("{shown} and {more} more MHz"), shown=shown, more=more)
