"""Channels and stations put together, and what is left free; frequencies invented, the arithmetic done by hand."""

from __future__ import annotations

from typing import Any

import pytest

from spectrum.occupancy import Band, HeldChannel, Raster, State, UsingStation, free_channels, holdings
from spectrum.pictures.occupancy import MOST_STRIPS, WIDTH, picture

RASTER = Raster(410_000_000, 25_000, 25_000, 4, 10_000_000)


def channel(number: int, **changes: Any) -> HeldChannel:
    values: dict[str, Any] = {
        "label": f"L/{number}", "site_id": 1, "place": "S1", "region": "North", "frequency_hz": 410_000_000,
        "width_hz": 25_000, "receive_hz": None, "holder": "Own", "own": True, "until": None, "fee": None,
        "currency": "", "licence_id": 1, "used": False, **changes,
    }  # fmt: skip
    return HeldChannel(id=number, **values)


def station(number: int, **changes: Any) -> UsingStation:
    values: dict[str, Any] = {
        "name": f"T-{number}/A", "link_id": number, "link": f"T-{number}", "site_id": 1, "place": "S1",
        "region": "North", "transmit_hz": 410_000_000, "receive_hz": 420_000_000, "width_hz": 25_000,
        "holder": "Own", "own": True, "planned": False, "until": None, "channel_id": None, **changes,
    }  # fmt: skip
    return UsingStation(id=number, **values)


@pytest.mark.parametrize(
    ("channels", "stations", "states"),
    [
        ([channel(1)], [], [State.UNUSED]),
        ([channel(1)], [station(1, channel_id=1)], [State.USED]),
        ([channel(1)], [station(1, channel_id=1, planned=True)], [State.UNUSED]),
        ([channel(1, used=True)], [], [State.USED]),
        ([channel(1, own=False)], [], [State.OTHER]),
        ([], [station(1)], [State.UNLICENSED]),
        ([], [station(1, channel_id=7)], [State.UNLICENSED]),
        ([], [station(1, planned=True)], [State.RESERVED]),
        ([], [station(1, own=False)], [State.OTHER]),
        ([], [station(1, transmit_hz=None)], [State.USED]),
        (
            [channel(1)],
            [station(1, channel_id=1, transmit_hz=410_025_000)],
            [State.UNUSED, State.UNLICENSED],
        ),
        ([channel(1)], [station(1, channel_id=1, transmit_hz=410_012_500)], [State.USED]),
    ],
)
def test_the_state_of_what_is_held_and_used(channels: Any, stations: Any, states: Any) -> None:
    assert [one.state for one in holdings(channels, stations)] == states


def test_a_channel_names_the_stations_that_use_it_and_hears_as_they_do() -> None:
    (one,) = holdings(
        [channel(1)], [station(1, channel_id=1), station(2, channel_id=1, planned=True)], RASTER
    )
    assert [(use.station, use.planned) for use in one.uses] == [("T-1/A", False), ("T-2/A", True)]
    assert (one.receive_hz, one.number, one.way) == (420_000_000, 1, "go")


def test_what_sends_on_the_return_half_has_the_number_of_its_pair() -> None:
    (one,) = holdings([], [station(1, transmit_hz=420_050_000, receive_hz=410_050_000)], RASTER)
    assert (one.number, one.way) == (3, "return")


@pytest.mark.parametrize(
    ("frequency_hz", "place"),
    [
        (410_000_000, (1, "go")),
        (410_012_500, (1, "go")),
        (410_012_501, (2, "go")),
        (410_075_000, (4, "go")),
        (410_087_501, None),
        (420_000_000, (1, "return")),
        (409_987_499, None),
    ],
)
def test_a_frequency_lies_in_the_channel_whose_width_holds_it(frequency_hz: int, place: Any) -> None:
    assert RASTER.place_of(frequency_hz) == place


@pytest.mark.parametrize(
    ("taken", "free"),
    [
        ([], [1, 2, 3, 4]),
        ([station(1)], [2, 3, 4]),
        ([station(1, transmit_hz=420_000_000, receive_hz=None)], [2, 3, 4]),
        ([station(1, transmit_hz=None, receive_hz=410_075_000)], [1, 2, 3]),
        ([station(1, transmit_hz=410_025_000, receive_hz=None, width_hz=50_000)], [4]),
        ([station(1, transmit_hz=410_012_500, receive_hz=None, width_hz=12_500)], [3, 4]),
        ([station(1, transmit_hz=430_000_000, receive_hz=None)], [1, 2, 3, 4]),
    ],
)
def test_a_channel_is_free_when_nothing_touches_either_half(taken: Any, free: Any) -> None:
    found = holdings([], taken, RASTER)
    numbers = [one.number for one in free_channels(RASTER, found)]
    assert numbers == free
    # By brute force over every pair of intervals.
    spans = [
        (f - h.width_hz / 2, f + h.width_hz / 2) for h in found for f in (h.transmit_hz, h.receive_hz) if f
    ]
    expected = [
        n
        for n in range(1, RASTER.count + 1)
        if not any(
            low < mid + RASTER.width_hz / 2 and high > mid - RASTER.width_hz / 2
            for mid in RASTER.pair_hz(n)
            for low, high in spans
        )
    ]
    assert numbers == expected


def test_transmit_stands_above_the_line_and_receive_below_and_frequency_rises_to_the_right() -> None:
    drawn = picture(RASTER.bands, holdings([], [station(1)], RASTER), [], by_site=True)
    above, below = sorted(drawn.strips[0].marks, key=lambda mark: mark.y)
    assert above.foot == below.y == 16.0
    assert above.x < below.x
    assert [part.name for part in drawn.stretches] == ["go", "return"]
    assert drawn.stretches[-1].end == pytest.approx(WIDTH, abs=0.2)


def test_of_several_at_one_frequency_in_a_district_the_worst_is_drawn() -> None:
    found = holdings([channel(1, used=True, site_id=2, place="S2")], [station(1, receive_hz=None)], RASTER)
    drawn = picture(RASTER.bands, found, [], by_site=False)
    assert [(s.place, s.site_id, s.counts) for s in drawn.strips] == [
        ("North", None, "1 used without a licence, 1 held and used")
    ]
    assert [mark.state for mark in drawn.strips[0].marks] == ["unlicensed"]


def test_places_with_something_to_look_at_come_first_and_no_more_are_drawn_than_fit() -> None:
    many = [station(n, own=False, site_id=n, place=f"S{n:03d}") for n in range(1, MOST_STRIPS + 9)]
    many.append(station(999, site_id=999, place="Z"))
    drawn = picture([Band(409_000_000, 411_000_000)], holdings([], many), [], by_site=True)
    assert (len(drawn.strips), drawn.places, drawn.strips[0].place) == (MOST_STRIPS, MOST_STRIPS + 9, "Z")
