"""The counts on a real extract, against brute force that shares nothing with the screening but the file.

Source of the file: US fixed microwave licences along one corridor, federal public record of April 2020, as
collected for D. Bhattacherjee et al., ACM IMC 2020. It is read from REFERENCE_DIR, not kept in the project.
"""

from __future__ import annotations

import csv
import io
import json
import random
from dataclasses import asdict
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from django.core.management import call_command
from geographiclib.geodesic import Geodesic
from pyproj import Geod

from spectrum.management.commands.screen_extract import ROWS
from spectrum.screening import Paths, screen
from tests.reference_tables import outside_folder

pytestmark = pytest.mark.reference

Rows = list[dict[str, str]]
NAMES = [name for name, _ in ROWS]


@pytest.fixture(scope="module")
def path() -> Path:
    return outside_folder() / "registers" / "us_fixed_microwave_2020" / "links.csv"


@pytest.fixture(scope="module")
def active(path: Path) -> Rows:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 6357
    return [row for row in rows if row["status"] == "Active"]


def hertz(row: dict[str, str]) -> int:
    exact = Decimal(row["tx_freq_mhz"]) * 1_000_000
    assert exact == int(exact)
    return int(exact)


def screened(path: Path) -> dict[str, object]:
    out = io.StringIO()
    call_command("screen_extract", str(path), "--mapping", "us_fixed_microwave", "--json", stdout=out)
    return json.loads(out.getvalue())


@pytest.mark.django_db
def test_the_ten_counts_are_those_of_comparing_every_row_with_every_row(path: Path, active: Rows) -> None:
    """All ordered pairs, no pruning by position: PROJ's geodesic for each of the pairs at frequencies that count."""
    geod = Geod(ellps="WGS84")
    sign = np.array([row["callsign"] for row in active])
    frequency = np.array([hertz(row) for row in active])
    ta, to, ra, ro = (
        np.array([float(row[name]) for row in active]) for name in ("tx_lat", "tx_lon", "rx_lat", "rx_lon")
    )
    own_at_tx, own_at_rx, _ = geod.inv(to, ta, ro, ra)
    counts = {"equal": dict.fromkeys(NAMES, 0), "apart": dict.fromkeys(NAMES, 0)}
    least_gap = {100_000.0: np.inf, 50.0: np.inf, 30_000.0: np.inf, 5.0: np.inf}
    for victim in range(len(active)):
        step = np.abs(frequency - frequency[victim])
        others = np.flatnonzero((sign != sign[victim]) & (step <= 30_000_000))
        lon, lat = np.full(len(others), ro[victim]), np.full(len(others), ra[victim])
        at_tx, at_rx, metres = geod.inv(to[others], ta[others], lon, lat)
        off_tx = np.abs(np.asarray(at_tx) - own_at_tx[others])
        off_rx = np.abs(np.asarray(at_rx) - own_at_rx[victim])
        off_tx, off_rx = np.minimum(off_tx, 360 - off_tx), np.minimum(off_rx, 360 - off_rx)
        for values, limits in ((metres, (100_000.0, 50.0, 30_000.0)), (off_tx, (5.0,)), (off_rx, (5.0,))):
            for limit in limits:
                if len(others):
                    least_gap[limit] = min(least_gap[limit], np.abs(values - limit).min())
        near = metres <= 100_000
        far = near & (metres > 50)
        for group, chosen in (("equal", step[others] == 0), ("apart", step[others] > 0)):
            into = counts[group]
            into["within_100_km"] += int(np.count_nonzero(near & chosen))
            into["co_located"] += int(np.count_nonzero((metres <= 50) & chosen))
            into["within_30_km"] += int(np.count_nonzero(far & (metres <= 30_000) & chosen))
            into["both_on_axis"] += int(np.count_nonzero(far & chosen & (off_tx <= 5) & (off_rx <= 5)))
            into["one_on_axis"] += int(np.count_nonzero(far & chosen & ((off_tx <= 5) != (off_rx <= 5))))
    found = screened(path)
    assert found["rows"] == 6357
    assert found["paths"] == len(active) == 4308
    assert {group: found[group] for group in counts} == counts
    assert counts["equal"]["within_100_km"] > 1000
    # No pair stands so near a limit that another sound geodesic could count it otherwise.
    assert least_gap[100_000.0] > 1e-3
    assert least_gap[50.0] > 1e-3
    assert least_gap[30_000.0] > 1e-3
    assert least_gap[5.0] > 1e-7


def test_a_sample_of_victims_is_counted_in_plain_loops_with_another_geodesic(active: Rows) -> None:
    """Karney's geodesics from geographiclib instead of PROJ, one pair at a time, for 40 rows as victims."""
    chosen = random.Random(20200416).sample(range(len(active)), 40)
    counts = {"equal": dict.fromkeys(NAMES, 0), "apart": dict.fromkeys(NAMES, 0)}
    for v in chosen:
        victim = active[v]
        va, vo = float(victim["rx_lat"]), float(victim["rx_lon"])
        to_own = Geodesic.WGS84.Inverse(va, vo, float(victim["tx_lat"]), float(victim["tx_lon"]))["azi1"]
        for row in active:
            step = abs(hertz(row) - hertz(victim))
            ta, to = float(row["tx_lat"]), float(row["tx_lon"])
            # 100 km are less than 0.91 degrees of latitude.
            if row["callsign"] == victim["callsign"] or step > 30_000_000 or abs(ta - va) > 0.91:
                continue
            line = Geodesic.WGS84.Inverse(ta, to, va, vo)
            metres = line["s12"]
            if metres > 100_000:
                continue
            into = counts["apart" if step else "equal"]
            into["within_100_km"] += 1
            if metres <= 50:
                into["co_located"] += 1
                continue
            into["within_30_km"] += metres <= 30_000
            ahead = Geodesic.WGS84.Inverse(ta, to, float(row["rx_lat"]), float(row["rx_lon"]))["azi1"]
            back = Geodesic.WGS84.Inverse(va, vo, ta, to)["azi1"]
            on = [abs((a - b + 540) % 360 - 180) <= 5 for a, b in ((line["azi1"], ahead), (back, to_own))]
            into["both_on_axis"] += on == [True, True]
            into["one_on_axis"] += on in ([True, False], [False, True])
    assert counts["equal"]["within_100_km"] > 0
    assert counts["apart"]["within_100_km"] > 0
    found = of_victims(active, chosen)
    assert found == counts


def of_victims(active: Rows, chosen: list[int]) -> dict[str, dict[str, int]]:
    """What the chosen rows add as victims: the counts with them less those without any that hears them."""
    number = {sign: n for n, sign in enumerate(sorted({row["callsign"] for row in active}))}
    everything = Paths(
        licence=np.array([number[row["callsign"]] for row in active]),
        frequency_hz=np.array([hertz(row) for row in active]),
        tx_latitude_deg=np.array([float(row["tx_lat"]) for row in active]),
        tx_longitude_deg=np.array([float(row["tx_lon"]) for row in active]),
        rx_latitude_deg=np.array([float(row["rx_lat"]) for row in active]),
        rx_longitude_deg=np.array([float(row["rx_lon"]) for row in active]),
    )
    counted = asdict(screen(everything, victims=np.array(chosen)))
    return {group: counted[group] for group in ("equal", "apart")}
