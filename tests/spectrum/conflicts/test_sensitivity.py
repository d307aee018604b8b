"""How a margin moves with each assumption: against the whole check made with that assumption."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from spectrum.conflicts.criteria import BandCriterion, Criteria
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.network import Network
from spectrum.conflicts.sensitivity import (
    AGGREGATE_KIND,
    GROUND,
    HEIGHT,
    REFRACTIVITY,
    TIME,
    WANTED_KIND,
    Case,
    Changed,
    Sensitivity,
    sensitivity,
)
from spectrum.radio.propagation.p452 import Climate
from tests.spectrum.conflicts.made import TODAY, link, station

# Everything is reported, however far from its limit, so that a check can be asked for any margin.
ALL: dict[str, Any] = {"decide_within_db": 200.0, "aggregate_depth_db": 200.0}
CRITERIA = Criteria(**ALL)


def network(height_m: float = 300.0, victim_height_m: float = 20.0, *, third: bool = False) -> Network:
    """Link 1 sends on 410 MHz; link 2, 110 km north, listens there and hears its own end on the same frequency."""
    north = {"latitude_deg": 48.0}
    stations = [
        station(link(1), "A", antenna_height_agl_m=height_m),
        station(link(1), "B", latitude_deg=46.9, tx_frequency_hz=None, tx_power_dbm=None),
        station(link(2), "A", tx_frequency_hz=410_000_000, longitude_deg=14.2, **north),
        station(link(2), "B", tx_frequency_hz=None, antenna_height_agl_m=victim_height_m, **north),
    ]
    if third:
        stations.append(station(link(3), "A", latitude_deg=47.4, antenna_height_agl_m=100.0))
    return Network(as_of=TODAY, stations=stations)


def checked(of: Network, criteria: Criteria, kind: str) -> float:
    """The margin that the whole check gives at link 2, end B."""
    for draft in interference_findings(of, criteria).drafts:
        p = draft.parties
        victim = (
            (p.link_id, p.station_label)
            if kind == AGGREGATE_KIND
            else (p.other_link_id, p.other_station_label)
        )
        if draft.kind == kind and victim == (2, "B") and (kind == AGGREGATE_KIND or p.link_id == 1):
            assert draft.margin is not None
            return draft.margin
    raise AssertionError(f"no {kind} at link 2, end B")


def case(kind: str) -> Case:
    return Case(kind, 3) if kind == AGGREGATE_KIND else Case(kind, 3, 0)


def row(found: Sensitivity, assumption: str, now: str, was: str = "") -> Changed:
    return next(r for r in found.rows if r.assumption == assumption and r.now == now and was in r.was)


@pytest.mark.parametrize("kind", ["co_channel", WANTED_KIND, AGGREGATE_KIND])
def test_each_changed_assumption_gives_the_margin_of_a_check_made_with_it(kind: str) -> None:
    third = kind == AGGREGATE_KIND
    found = sensitivity(network(third=third), CRITERIA, case(kind))
    assert found.margin_db == pytest.approx(checked(network(third=third), CRITERIA, kind), abs=1e-9)

    lapse = Criteria(**ALL, climate=Climate(refractivity_lapse_n_per_km=60.0))
    then = row(found, REFRACTIVITY, "ΔN 60 N/km (k 1.62)")
    assert then.was == "ΔN 45 N/km (k 1.40)"
    assert then.margin_db == pytest.approx(checked(network(third=third), lapse, kind), abs=1e-9)
    assert then.margin_db is not None
    assert then.moves_by_db == pytest.approx(then.margin_db - found.margin_db)

    percent = 10.0
    field = "short_term_time_percent" if kind == WANTED_KIND else "long_term_time_percent"
    changed: dict[str, Any] = {field: percent}
    other = Criteria(**ALL, bands=(BandCriterion(**changed),))
    then = row(found, TIME, "10 % of time")
    assert then.margin_db == pytest.approx(checked(network(third=third), other, kind), abs=1e-9)

    then = row(found, HEIGHT, "25 m", "victim")
    raised = network(victim_height_m=25.0, third=third)
    assert then.margin_db == pytest.approx(checked(raised, CRITERIA, kind), abs=1e-9)
    if not third:
        then = row(found, HEIGHT, "295 m", "interferer")
        assert then.margin_db == pytest.approx(checked(network(295.0), CRITERIA, kind), abs=1e-9)


def test_less_time_and_a_more_bending_air_take_margin_away() -> None:
    found = sensitivity(network(), CRITERIA, case("co_channel"))
    by_time = [r.margin_db or 0.0 for r in found.rows if r.assumption == TIME]
    by_lapse = [r.margin_db or 0.0 for r in found.rows if r.assumption == REFRACTIVITY]
    assert by_time == sorted(by_time, reverse=True)
    assert by_lapse == sorted(by_lapse, reverse=True)
    assert found.least_db == min(r.margin_db for r in found.rows if r.margin_db is not None)
    assert found.spread_db == pytest.approx(found.greatest_db - found.least_db)
    assert found.spread_db > 10.0


def with_margin_near(target_db: float) -> Network:
    """The same network with the interferer's power set so that the margin against I/N is the one asked for."""
    base = network()
    margin = sensitivity(base, CRITERIA, case("co_channel")).margin_db
    loud = replace(base.stations[0], tx_power_dbm=37.0 + margin - target_db)
    return Network(as_of=TODAY, stations=[loud, *base.stations[1:]])


def test_the_sentence_names_what_the_sign_depends_on() -> None:
    near = sensitivity(with_margin_near(1.0), CRITERIA, case("co_channel"))
    assert near.sentence.startswith("The sign of this margin (+1.0 dB) depends on the time percentage (")
    assert REFRACTIVITY in near.sentence
    assert any(r.other_sign for r in near.rows)

    far = sensitivity(with_margin_near(150.0), CRITERIA, case("co_channel"))
    assert far.sentence.startswith(
        "The sign of this margin (+150.0 dB) depends on none of the assumptions tried."
    )
    assert "time percentage moves it most" in far.sentence
    assert not any(r.other_sign for r in far.rows)


def test_what_was_not_tried_says_why() -> None:
    found = sensitivity(network(), CRITERIA, case("co_channel"))
    [ground] = [r for r in found.rows if r.assumption == GROUND]
    assert (ground.margin_db, ground.note) == (None, "No terrain tiles are installed.")

    one_mast = Network(
        as_of=TODAY,
        stations=[
            station(link(1), "A", antenna_height_agl_m=2.0),
            station(link(2), "B", tx_frequency_hz=None),
        ],
    )
    found = sensitivity(one_mast, CRITERIA, Case("co_channel", 1, 0))
    assert [r.moves_by_db for r in found.rows if r.assumption == TIME] == [pytest.approx(0.0)] * 5
    assert all(r.margin_db is None for r in found.rows if r.assumption in (REFRACTIVITY, GROUND))
    # An antenna is not put into the ground: 2 m less 5 m is tried as 1 m.
    assert row(found, HEIGHT, "1 m", "interferer").was == "the interferer's 2 m"
