"""The map's columns and pictures as plain calculation."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Transformer

from spectrum.network_map import (
    NONE_OPEN,
    NOT_YET,
    ON_AIR,
    View,
    drawn,
    latitude_deg,
    map_columns,
    map_x,
    map_y,
)
from spectrum.network_map.cells import gathered


def columns(links: int = 3, spread_deg: float = 1.0, seed: int = 1):
    """So many links, each between two sites of its own; every other one is ours."""
    rng = np.random.default_rng(seed)
    n = 2 * links
    sites = (
        np.arange(n) * 10 + 5,
        np.array([f"S{i}" for i in range(n)]),
        47.0 + rng.random(n) * spread_deg,
        14.0 + rng.random(n) * spread_deg,
        np.arange(n) % 2 == 0,
    )
    ids = np.arange(links) * 7 + 3
    of_links = (ids, np.array([f"L{i}" for i in ids]), np.full(links, ON_AIR), np.arange(links) % 2 == 0)
    stations = (np.repeat(ids, 2), sites[0].copy(), np.tile([True, False], links))
    return map_columns(sites, of_links, stations)


def picture(c, view=None, **chosen):
    values = {
        "chosen_lines": np.ones(len(c.line_link), dtype=bool),
        "chosen_sites": np.ones(len(c.site_id), dtype=bool),
        "line_worst": np.full(len(c.line_link), NONE_OPEN),
        "site_worst": np.full(len(c.site_id), NONE_OPEN),
        **chosen,
    }
    return drawn(c, view=view, **values)


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(0.0, 0.0), (47.5, 14.25), (-33.9, 151.2), (84.9, -179.5), (-85.0, 179.9)]
)
def test_the_projection_is_that_of_the_public_library(latitude: float, longitude: float) -> None:
    """Against PROJ's EPSG:3857 (method 1024), whose plane is the square scaled by the equator's length."""
    east, north = Transformer.from_crs(4326, 3857, always_xy=True).transform(longitude, latitude)
    equator = 2 * np.pi * 6378137.0

    assert float(map_x(longitude)) == pytest.approx(0.5 + east / equator, abs=1e-12)
    assert float(map_y(latitude)) == pytest.approx(0.5 - north / equator, abs=1e-12)
    assert float(latitude_deg(map_y(latitude))) == pytest.approx(latitude, abs=1e-9)


def test_lines_run_from_the_first_end_and_from_a_hub_to_each_remote() -> None:
    sites = (np.array([9, 4, 6]), np.array(["C", "A", "B"]), np.zeros(3), np.zeros(3), np.ones(3, dtype=bool))
    links = (
        np.array([20, 10]),
        np.array(["HUB", "PTP"]),
        np.array([NOT_YET, ON_AIR]),
        np.array([False, True]),
    )
    stations = (
        np.array([20, 10, 20, 10, 20]),
        np.array([9, 6, 4, 4, 6]),
        np.array([True, False, False, True, False]),
    )

    c = map_columns(sites, links, stations)

    assert c.line_code.tolist() == ["PTP", "HUB", "HUB"]
    assert c.site_code[c.line_from].tolist() == ["A", "C", "C"]
    assert c.site_code[c.line_to].tolist() == ["B", "A", "B"]
    assert c.line_own.tolist() == [True, False, False]
    assert c.line_stage.tolist() == [ON_AIR, NOT_YET, NOT_YET]


def test_a_link_of_one_station_is_a_line_from_its_site_to_itself() -> None:
    sites = (np.array([1, 2]), np.array(["A", "B"]), np.zeros(2), np.zeros(2), np.ones(2, dtype=bool))
    links = (np.array([5, 6]), np.array(["L", "NONE"]), np.full(2, ON_AIR), np.ones(2, dtype=bool))

    c = map_columns(sites, links, (np.array([5]), np.array([2]), np.array([False])))

    assert c.line_code.tolist() == ["L"]
    assert (c.line_from.tolist(), c.line_to.tolist()) == ([1], [1])


def test_an_empty_register_is_an_empty_picture() -> None:
    found = picture(columns(0))

    assert (found.sites, found.links) == (0, 0)
    assert found.values["bounds"] is None
    assert found.values["complete"]


def test_a_picture_counts_links_once_by_their_worst_finding() -> None:
    c = columns(4)
    found = picture(c, line_worst=np.array([0, 1, 1, NONE_OPEN]))

    assert (found.links, found.must_fix, found.decide) == (4, 1, 2)
    assert found.values["lines"]["worst"] == [0, 1, 1, NONE_OPEN]
    assert found.values["lines"]["look"] == [0, 3, 0, 3]


def test_only_chosen_lines_are_drawn_with_their_ends() -> None:
    c = columns(4)
    found = picture(
        c, chosen_lines=np.array([False, True, False, False]), chosen_sites=np.zeros(8, dtype=bool)
    )

    assert found.values["lines"]["code"] == ["L10"]
    assert found.values["sites"]["code"] == ["S2", "S3"]
    assert found.values["lines"]["from"] == [0]


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Gather into cells from 50 lines on."""
    import sys

    monkeypatch.setattr(sys.modules["spectrum.network_map.drawn"], "MOST_LINES", 50)


def test_too_many_lines_are_gathered_and_none_is_lost(few: None) -> None:
    c = columns(400)
    found = picture(c).values

    assert (found["kind"], found["complete"]) == ("cells", False)
    assert len(found["lines"]["count"]) <= 50
    assert sum(found["lines"]["count"]) + sum(found["sites"]["within"]) == 400
    assert sum(found["sites"]["count"]) == 800


def test_the_worst_finding_of_what_was_gathered_shows(few: None) -> None:
    c = columns(400)
    worst = np.full(400, NONE_OPEN)
    worst[123] = 0
    found = picture(c, line_worst=worst).values

    assert min(found["lines"]["worst"] + found["sites"]["worst"]) == 0


def test_from_near_each_line_is_drawn_again(few: None) -> None:
    c = columns(400)
    view = View(14.4, 47.4, 14.41, 47.41, 1000)
    found = picture(c, view=view).values
    crossing = view.crossed_by(c, np.arange(400))

    assert found["kind"] == ("each" if crossing.sum() <= 50 else "cells")
    assert found["area"] == [14.4, 47.4, 14.41, 47.41]


def test_a_view_meets_the_lines_whose_box_meets_it() -> None:
    c = columns(200)
    view = View(14.2, 47.2, 14.6, 47.5, 800)
    met = view.crossed_by(c, np.arange(200))
    for i in range(200):
        longitudes = sorted(c.longitude_deg[[c.line_from[i], c.line_to[i]]])
        latitudes = sorted(c.latitude_deg[[c.line_from[i], c.line_to[i]]])
        expected = (
            longitudes[0] <= 14.6 and longitudes[1] >= 14.2 and latitudes[0] <= 47.5 and latitudes[1] >= 47.2
        )
        assert met[i] == expected


def test_gathering_agrees_with_counting_one_by_one() -> None:
    rng = np.random.default_rng(5)
    x, y = rng.random(300), rng.random(300)
    a, b = rng.integers(0, 300, 500), rng.integers(0, 300, 500)
    worst, site_worst = rng.integers(0, 4, 500), rng.integers(0, 4, 300)
    cell = 1 / 8
    g = gathered(x, y, site_worst, a, b, np.zeros(500, dtype=int), worst, cell=cell, none_open=NONE_OPEN)

    key = [(int(p / cell), int(q / cell)) for p, q in zip(x, y, strict=True)]
    assert len(g.cell_sites) == len(set(key))
    pairs: dict[tuple, list[int]] = {}
    for i, (p, q) in enumerate(zip(a, b, strict=True)):
        pairs.setdefault(tuple(sorted((key[p], key[q]))), []).append(int(worst[i]))
    apart = {pair: found for pair, found in pairs.items() if pair[0] != pair[1]}
    assert sorted(g.line_count.tolist()) == sorted(len(found) for found in apart.values())
    assert int(g.within.sum()) == sum(len(found) for pair, found in pairs.items() if pair[0] == pair[1])
    assert sorted(g.line_worst.tolist()) == sorted(min(found) for found in apart.values())
