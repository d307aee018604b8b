"""Each kind of defect is found where it was planted, and not where it was not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from spectrum.extracts.entries import entries_of
from spectrum.extracts.near import pairs_within
from spectrum.extracts.quality import KINDS, LENGTH_WITHIN_RATIO, Quality, quality_of
from spectrum.extracts.reading import read_table
from spectrum.extracts.registrants import plain, registrants_of
from tests.spectrum.extracts.made import csv_bytes, mapping, row

AS_OF = dt.date(2026, 6, 1)


def quality(*rows: dict[str, str]) -> Quality:
    how = mapping()
    entries = entries_of(read_table(csv_bytes(*rows), "extract.csv", how).rows, how).rows
    return quality_of(entries, registrants_of(entries), AS_OF)


def found(*rows: dict[str, str]) -> dict[str, list[tuple[int, ...]]]:
    result: dict[str, list[tuple[int, ...]]] = {}
    for defect in quality(*rows).defects:
        result.setdefault(defect.kind, []).append(defect.rows)
    return result


PLANTED: dict[str, tuple[list[dict[str, str]], list[tuple[int, ...]]]] = {
    # 0.0008 degrees of latitude are 89 m, 0.001 are 111 m (111.19 km a degree).
    "near_sites": ([row(), row(Number="F-101", From_lat="47.0008", MHz="6040.5", Km="18.77")], [(2, 3)]),
    "ground_heights": ([row(), row(MHz="6040.5", From_ground="480")], [(2, 3)]),
    "active_past_expiry": ([row(Expires="2026-05-31"), row(Number="F-101", Expires="2026-06-01", MHz="6040.5")], [(2,)]),
    "shared_frequency": ([row(), row(Number="F-101"), row(Number="F-102", MHz="6040.5")], [(2, 3)]),
    "both_halves": ([row(), row(MHz="6270.5"), row(Number="F-101", Holder="Else", Holder_no="8", MHz="6380.5")], [(2, 3)]),
    "registrant_spellings": ([row(), row(Holder="VALLEY RAIL CO", MHz="6040.5")], [(2, 3)]),
    "registrant_numbers": ([row(), row(Number="F-101", Holder="Valley Rail.", Holder_no="8", MHz="6040.5")], [(2, 3)]),
    "registrant_unnumbered": ([row(), row(Number="F-101", Holder="Other", Holder_no="", MHz="6040.5")], [(3,)]),
    "long_path": ([row(To_lat="48.00000", Km="112.1")], [(2,)]),
    "short_path": ([row(To_lat="47.00500", To_lon="14.00000", Km="0.556")], [(2,)]),
    "length_differs": ([row(Km="19.2"), row(MHz="6040.5", Km="18.83")], [(2,)]),
    "not_in_use": ([row(State="gone", Ended="2020-01-01")], [(2,)]),
    "ended_without_date": ([row(State="gone")], [(2,)]),
    "ended_before_start": ([row(State="gone", Ended="2017-01-01")], [(2,)]),
    "outside_bands": ([row(MHz="5900")], [(2,)]),
    "repeated_row": ([row(), row(Km="18.82")], [(2, 3)]),
}  # fmt: skip


def test_every_kind_is_planted() -> None:
    assert PLANTED.keys() == KINDS.keys()


@pytest.mark.parametrize("kind", KINDS)
def test_a_planted_defect_is_found_in_its_rows(kind: str) -> None:
    rows, expected = PLANTED[kind]
    assert found(*rows).get(kind) == expected


def test_a_clean_extract_has_none() -> None:
    assert (
        found(row(), row(MHz="6040.5"), row(Number="F-101", From_lat="47.00200", MHz="6070.5", Km="18.63"))
        == {}
    )


def test_counts_are_of_cases_and_of_rows() -> None:
    rows = [row(Number=f"F-{n}") for n in range(3)]
    assert quality(*rows).counts()["shared_frequency"] == {"cases": 1, "rows": 3}


def test_both_halves_says_who_where_and_what() -> None:
    [defect] = quality(*PLANTED["both_halves"][0]).of_kind("both_halves")
    assert defect.what == (
        "Valley Rail at N47.00000 E014.00000 in 6 GHz: 6010.5 MHz in the low half, 6270.5 MHz in the high half"
    )


def test_a_registrant_is_named_by_its_most_frequent_spelling_and_chained_by_number_and_name() -> None:
    rows = [
        row(Holder="VALLEY RAIL", Holder_no="7"),
        row(Holder="Valley Rail", Holder_no="7"),
        row(Holder="Valley Rail", Holder_no="8"),
        row(Holder="Rail of the Valley", Holder_no="8"),
        row(Holder="Another", Holder_no="9"),
    ]
    rows = [{**r, "Number": f"F-{n}", "MHz": str(6000 + 30 * n)} for n, r in enumerate(rows)]
    how = mapping()
    entries = entries_of(read_table(csv_bytes(*rows), "extract.csv", how).rows, how).rows
    parties = registrants_of(entries)
    assert [parties[n].name for n in range(2, 7)] == ["Valley Rail"] * 4 + ["Another"]
    assert parties[2].other_names == ["Rail of the Valley", "VALLEY RAIL"]
    assert plain("Söhne & Co., Ltd.") == plain("SÖHNE  CO LTD") != plain("Söhne")
    assert plain("...") == "..."


def test_the_sphere_and_the_ellipsoid_differ_by_less_than_the_allowance() -> None:
    """Stated lengths are often computed on a sphere of 6371 km; that alone must not be called a defect."""
    worst = 0.0
    for latitude in range(-85, 90, 5):
        for azimuth in range(0, 360, 15):
            line = Geodesic.WGS84.Direct(latitude, 10.0, azimuth, 50_000.0)
            p1, p2 = np.radians(latitude), np.radians(line["lat2"])
            half = (
                np.sin((p2 - p1) / 2) ** 2
                + np.cos(p1) * np.cos(p2) * np.sin(np.radians(line["lon2"] - 10) / 2) ** 2
            )
            worst = max(worst, abs(2 * 6371_000 * np.arcsin(np.sqrt(half)) / 50_000 - 1))
    assert 0.005 < worst < LENGTH_WITHIN_RATIO


def _clusters(seed: int) -> Iterator[tuple[float, float]]:
    """Positions near each other on a plain latitude, at a pole, on the antimeridian."""
    rng = np.random.default_rng(seed)
    for latitude, longitude in ((47.0, 14.0), (90.0, 0.0), (0.0, 180.0), (-89.9995, 100.0)):
        for _ in range(12):
            lat = max(-90.0, min(90.0, latitude + rng.normal(0, 0.0007)))
            yield (
                lat,
                (longitude + rng.uniform(-0.001, 0.001) + (rng.uniform(0, 360) if abs(lat) > 89 else 0) + 180)
                % 360
                - 180,
            )


@pytest.mark.parametrize("seed", range(5))
def test_near_pairs_are_those_that_comparing_each_with_each_finds(seed: int) -> None:
    points = list(_clusters(seed))
    expected = {
        (i, j): Geodesic.WGS84.Inverse(*points[i], *points[j])["s12"]
        for i in range(len(points))
        for j in range(i + 1, len(points))
    }
    expected = {pair: metres for pair, metres in expected.items() if metres < 100.0}
    latitude, longitude = np.array(points).T
    pairs = pairs_within(latitude, longitude, 100.0)
    assert len(expected) > 20
    assert {(i, j) for i, j, _ in pairs} == expected.keys()
    for i, j, metres in pairs:
        assert metres == pytest.approx(expected[i, j], abs=1e-6)
