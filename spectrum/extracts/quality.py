"""What an extract contradicts itself in, or what nobody would have licensed: each kind counted, each case listed.

None of it stops an import: it is the regulator's record, and says what the regulator says.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from sites.geodesy import inverse

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

KINDS: dict[str, str] = {
    "near_sites": f"two positions less than {ONE_TOWER_WITHIN_M:g} m apart, probably one tower",
    "ground_heights": "one position with several ground heights",
    "active_past_expiry": "called in use after its expiry date",
    "shared_frequency": "one position and frequency under several licences",
    "both_halves": "one holder transmits in both halves of a band from one position",
    "registrant_spellings": "one registrant, its name spelt in several ways",
    "registrant_numbers": "one name under several registrant numbers",
    "registrant_unnumbered": "no registrant number",
    "long_path": f"a path over {LONG_PATH_KM:g} km",
    "short_path": f"a path under {SHORT_PATH_KM:g} km",
    "length_differs": f"the stated length differs from the geodesic by over {LENGTH_WITHIN_RATIO:.1%}",
    "not_in_use": "a row that is no longer in use",
    "ended_without_date": "no longer in use, without the day on which it ended",
    "ended_before_start": "ended before its first day in force",
    "outside_bands": "a frequency outside every band of the mapping",
    "repeated_row": "the same path, frequency and licence once more",
}


@dataclass(frozen=True)
class Defect:
    """One case. ``licences`` is how many different licences its rows belong to."""

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
                f"{same[0].licence_number}, {_mhz(same[0])}: the first of these rows was taken",
            )


def _near_sites(entries: list[Entry]) -> Iterator[Defect]:
    places = _places(entries)
    keys = sorted(places)
    latitude = np.array([places[key][0][1].latitude_deg for key in keys])
    longitude = np.array([places[key][0][1].longitude_deg for key in keys])
    for i, j, metres in pairs_within(latitude, longitude, ONE_TOWER_WITHIN_M):
        rows = _rows(row for key in (keys[i], keys[j]) for row, _ in places[key])
        yield Defect("near_sites", rows, f"{keys[i]} and {keys[j]} lie {metres:.1f} m apart")


def _ground_heights(entries: list[Entry]) -> Iterator[Defect]:
    for key, uses in _places(entries).items():
        heights = Counter(place.ground_height_m for _, place in uses if place.ground_height_m is not None)
        if len(heights) > 1:
            listed = ", ".join(f"{height:g} m ({count} ×)" for height, count in sorted(heights.items()))
            yield Defect("ground_heights", _rows(row for row, _ in uses), f"{key}: {listed}")


def _shared_frequency(entries: list[Entry]) -> Iterator[Defect]:
    groups: dict[tuple[str, int], list[Entry]] = defaultdict(list)
    for entry in entries:
        groups[entry.tx.key, entry.frequency_hz].append(entry)
    for (place, _), same in groups.items():
        licences = sorted({e.licence_number for e in same})
        if len(licences) > 1:
            in_use = len({e.licence_number for e in same if e.in_use})
            yield Defect(
                "shared_frequency",
                _rows(e.row for e in same),
                f"{place}, {_mhz(same[0])}: {len(licences)} licences ({', '.join(licences)}), {in_use} of them in use",
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
                f"{holder} at {place} in {band}: {_list_mhz(low)} in the low half, {_list_mhz(high)} in the high half",
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
                "active_past_expiry", rows, f"{e.licence_number} expired on {e.expires_on}: {e.status}"
            )
        if not e.in_use:
            when = f" on {e.ended_on}" if e.ended_on else ""
            yield Defect("not_in_use", rows, f"{e.licence_number}: {e.status or 'ended'}{when}")
            if e.ended_on is None:
                yield Defect(
                    "ended_without_date", rows, f"{e.licence_number}: {e.status}, expiry {e.expires_on}"
                )
        if e.ended_on is not None and e.ended_on < e.in_force_from:
            yield Defect(
                "ended_before_start",
                rows,
                f"{e.licence_number}: ended {e.ended_on}, in force from {e.in_force_from}",
            )
        if not e.inside_band:
            yield Defect(
                "outside_bands",
                rows,
                f"{e.licence_number}: {_mhz(e)}; {e.band.name} is {e.band.from_mhz:g} to {e.band.to_mhz:g} MHz",
            )


def _paths(entries: list[Entry], length_km: np.ndarray, difference_km: np.ndarray) -> Iterator[Defect]:
    allowed = np.maximum(length_km * LENGTH_WITHIN_RATIO, LENGTH_WITHIN_KM)
    for entry, km, difference, within in zip(entries, length_km, difference_km, allowed, strict=True):
        what = f"{entry.licence_number}: {km:.3f} km"
        if km > LONG_PATH_KM:
            yield Defect("long_path", (entry.row,), what)
        if km < SHORT_PATH_KM:
            yield Defect("short_path", (entry.row,), what)
        if difference > within:
            yield Defect("length_differs", (entry.row,), f"{what}, stated {entry.stated_path_km:g} km")


def _mhz(entry: Entry) -> str:
    return f"{entry.frequency_hz / 1e6:.5f} MHz"


def _list_mhz(frequencies: list[int]) -> str:
    shown = ", ".join(f"{f / 1e6:g}" for f in frequencies[:4])
    return f"{shown} MHz" if len(frequencies) <= 4 else f"{shown} and {len(frequencies) - 4} more MHz"
