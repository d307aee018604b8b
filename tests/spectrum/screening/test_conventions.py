"""Where a pair lies on a limit, or has no angle: what the conventions say, on invented paths."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from spectrum.screening import Group, Paths, screen

Row = tuple[int, int, tuple[float, float], tuple[float, float]]
HZ = 6_000_000_000


def paths(*rows: Row) -> Paths:
    """Rows of licence, frequency, transmit position, receive position."""
    licence, frequency, tx, rx = zip(*rows, strict=True)
    return Paths(
        licence=np.array(licence),
        frequency_hz=np.array(frequency),
        tx_latitude_deg=np.array([p[0] for p in tx]),
        tx_longitude_deg=np.array([p[1] for p in tx]),
        rx_latitude_deg=np.array([p[0] for p in rx]),
        rx_longitude_deg=np.array([p[1] for p in rx]),
    )


def at(start: tuple[float, float], azimuth: float, metres: float) -> tuple[float, float]:
    point = Geodesic.WGS84.Direct(*start, azimuth, metres)
    return point["lat2"], point["lon2"]


VICTIM_RX = (50.0, 10.0)
VICTIM: Row = (1, HZ, at(VICTIM_RX, 90.0, 20_000.0), VICTIM_RX)


def one_way(metres: float, *, step_hz: int = 0, licence: int = 2, aim: float = 90.0) -> Paths:
    """The victim, and an interferer ``metres`` north of its receiver, aimed ``aim`` degrees off it."""
    stands = at(VICTIM_RX, 0.0, metres)
    return paths(VICTIM, (licence, HZ + step_hz, stands, at(stands, 180.0 + aim, 900_000.0)))


def test_a_pair_is_ordered_and_counted_once() -> None:
    found = screen(one_way(20_000.0))
    assert found.equal == Group(within_100_km=1, within_30_km=1)
    assert found.apart == Group()


@pytest.mark.parametrize(
    ("metres", "expected"),
    [
        (0.0, Group(within_100_km=1, co_located=1)),
        (49.999, Group(within_100_km=1, co_located=1)),
        (50.001, Group(within_100_km=1, within_30_km=1)),
        (29_999.999, Group(within_100_km=1, within_30_km=1)),
        (30_000.001, Group(within_100_km=1)),
        (99_999.999, Group(within_100_km=1)),
        (100_000.001, Group()),
    ],
)
def test_distance_decides_to_the_millimetre(metres: float, expected: Group) -> None:
    assert screen(one_way(metres)).equal == expected


@pytest.mark.parametrize(
    ("step_hz", "equal", "apart"),
    [(1, 0, 1), (-1, 0, 1), (30_000_000, 0, 1), (-30_000_000, 0, 1), (30_000_001, 0, 0), (0, 1, 0)],
)
def test_frequency_decides_to_the_hertz(step_hz: int, equal: int, apart: int) -> None:
    found = screen(one_way(20_000.0, step_hz=step_hz))
    assert (found.equal.within_100_km, found.apart.within_100_km) == (equal, apart)


def test_rows_of_one_licence_make_no_pair_and_repeated_rows_make_more() -> None:
    assert screen(one_way(20_000.0, licence=1)).equal == Group()
    once = one_way(20_000.0)
    twice = Paths(**{name: np.append(v, v[-1]) for name, v in vars(once).items()})
    assert screen(twice).equal.within_100_km == 2
    assert screen(twice, victims=np.array([0])).equal.within_100_km == 2
    assert screen(twice, victims=np.array([1])).equal.within_100_km == 0


@pytest.mark.parametrize(
    ("aim", "one"), [(0.0, 1), (4.9999, 1), (5.0001, 0), (-4.9999, 1), (-5.0001, 0), (180.0, 0)]
)
def test_the_angle_at_the_transmitter_is_that_off_its_own_path(aim: float, one: int) -> None:
    found = screen(one_way(20_000.0, aim=aim)).equal
    assert (found.both_on_axis, found.one_on_axis) == (0, one)


@pytest.mark.parametrize(
    ("turn", "both", "one"), [(0.0, 1, 0), (4.9999, 1, 0), (5.0001, 0, 1), (-4.9999, 1, 0)]
)
def test_the_angle_at_the_receiver_is_that_off_the_azimuth_to_its_own_transmitter(
    turn: float, both: int, one: int
) -> None:
    found = one_way(20_000.0, aim=0.0)
    sender = at(VICTIM_RX, 360.0 + turn, 30_000.0)
    found = replace(
        found,
        tx_latitude_deg=np.array([sender[0], found.tx_latitude_deg[1]]),
        tx_longitude_deg=np.array([sender[1], found.tx_longitude_deg[1]]),
    )
    # The victim's own transmitter disturbs nobody: the other's receiver is 900 km away.
    counted = screen(found).equal
    assert (counted.within_100_km, counted.both_on_axis, counted.one_on_axis) == (1, both, one)


def test_a_path_without_length_has_no_angle_and_is_not_on_axis() -> None:
    here = at(VICTIM_RX, 90.0, 10_000.0)
    found = screen(paths(VICTIM, (2, HZ, here, here))).equal
    # Each hears the other: at the one's receiver the angle is known and small, the other has none.
    assert found.within_100_km == 2
    assert found.both_on_axis == 0
