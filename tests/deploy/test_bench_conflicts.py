"""The measurements of the conflict search on a small scale: what must be less than what, never seconds."""

from __future__ import annotations

import datetime as dt
import importlib
import json
from typing import Any

import numpy as np
import pytest

from deploy.bench import __main__ as bench
from deploy.bench import conflicts
from deploy.bench.registers import made_register
from deploy.bench.registers.loading import load_into_database
from sites.models import ChangeRecord
from spectrum.conflicts.columns import COLUMN_TYPES
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.interference import Prepared
from spectrum.conflicts.neighbours import emissions_heard
from spectrum.services.register_columns import revision_now
from spectrum.services.register_reading import read_register

LINKS = 10_000


@pytest.fixture(scope="module")
def figures() -> dict[str, Any]:
    return conflicts.measured(LINKS)


def test_the_search_leaves_a_small_part_of_all_pairs(figures: dict[str, Any]) -> None:
    network = made_register(LINKS).network(dt.date(2026, 6, 1))
    receivers = Prepared(network, Criteria()).receivers
    share_by_frequency = emissions_heard(network, receivers).mean() / len(receivers)
    assert share_by_frequency < 1 / 50
    assert figures["one link, pairs that could matter, median"] < len(network) / 50


def test_both_searches_leave_little_more_than_what_conflicts(figures: dict[str, Any]) -> None:
    left = figures["  pairs left to the definition per receiver"]
    assert left < figures["  pairs left by numpy alone per receiver"] * 1.1
    assert left < 5 * max(figures["  conflicts to be reported per receiver"], 1.0)


def test_one_link_does_not_cost_ten_times_more_in_ten_times_the_network(figures: dict[str, Any]) -> None:
    small = conflicts.measured(LINKS // 10)
    row = "one link, search in arrays, median ms"
    assert figures[row] < 5 * small[row]


def test_the_figures_can_be_read_by_machines(figures: dict[str, Any]) -> None:
    assert json.loads(json.dumps(figures)) == figures


def test_the_same_seed_makes_the_same_register() -> None:
    one, other, third = made_register(500), made_register(500), made_register(500, seed=2)
    for name in COLUMN_TYPES:
        np.testing.assert_array_equal(getattr(one.columns, name), getattr(other.columns, name))
    assert (one.columns.latitude_deg != third.columns.latitude_deg).any()
    c = one.columns
    # Both halves: at each site all stations of a band send in one half.
    low = c.tx_hz < c.rx_hz
    for site in np.unique(one.words.site):
        assert len(set(low[one.words.site == site].tolist())) == 1


def test_whatever_is_called_a_measurement_can_be_run() -> None:
    found = bench.names()
    assert {"conflicts", "database", "propagation"} <= set(found)
    assert all(callable(importlib.import_module(f"deploy.bench.{name}").run) for name in found)


@pytest.mark.django_db
def test_a_made_register_is_the_same_in_the_database() -> None:
    made = made_register(200)
    load_into_database(made)
    kept = read_register(revision_now().number)
    assert len(kept) == len(made)
    for name in (
        "latitude_deg",
        "longitude_deg",
        "tx_hz",
        "rx_hz",
        "gain_dbi",
        "own",
        "antenna_height_agl_m",
    ):
        np.testing.assert_array_equal(getattr(kept.columns, name), getattr(made.columns, name), err_msg=name)
    known = ~np.isnan(made.columns.azimuth_deg)
    np.testing.assert_array_equal(kept.columns.azimuth_deg[known], made.columns.azimuth_deg[known])
    assert ChangeRecord.objects.filter(by_name="bench").count() >= 600
