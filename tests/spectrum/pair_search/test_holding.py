"""Whatever path a planned link takes its pair on, it is held: one succeeds, the other is told by whom and until when."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from sites.services import jobs
from sites.services.record import Author
from spectrum.models import Link, Variant
from spectrum.services import variants
from spectrum.services.held_pairs import PairHeldError
from spectrum.services.links import save_link, set_status
from spectrum.services.reservations import take_pair
from tests.at_once import all_at_once
from tests.made import TESTS, Register, person, site
from tests.spectrum.pair_search.test_taking import made_plan, planned

pytestmark = pytest.mark.django_db
FREE = {"tx_frequency_hz": 470_000_000, "rx_frequency_hz": 475_000_000}
UNTIL = timezone.localdate() + dt.timedelta(days=20)


@pytest.fixture
def register() -> Register:
    return Register()


def moved_to(link: Link, low_hz: int = 410_000_000, high_hz: int = 420_000_000) -> list[Any]:
    """The link's stations, set to a pair and not saved."""
    stations = list(link.stations.order_by("label"))
    for station, tx, rx in zip(stations, (low_hz, high_hz), (high_hz, low_hz), strict=True):
        station.tx_frequency_hz, station.rx_frequency_hz = tx, rx
    return stations


def new_link(
    register: Register, code: str, north_deg: float = 0.05, **changes: Any
) -> tuple[Link, list[Any]]:
    ends = site(f"{code}A", 47.0 + north_deg), site(f"{code}B", 47.1 + north_deg, 14.15)
    values = {"holder": register.own, "reserved_until": UNTIL, **changes}
    return Link(code=code, **values), register.stations(*ends)


@pytest.mark.parametrize("way", ["entered", "changed", "planned again", "dated again"])
def test_a_save_that_takes_what_another_holds_is_refused_whole(register: Register, way: str) -> None:
    anna = person("anna", "spectrum.add_link", first_name="Anna", last_name="Berg")
    planned(register, "K-1", responsible=anna, reserved_until=UNTIL)
    with pytest.raises(PairHeldError) as refused:
        if way == "entered":
            link, stations = new_link(register, "K-2")
            save_link(link, stations, by=TESTS)
        elif way == "changed":
            link = planned(register, "K-2", 0.05, stations=FREE)
            save_link(link, moved_to(link), by=TESTS)
        elif way == "planned again":
            link = planned(register, "K-2", 0.05, status="lapsed")
            set_status(link, "planned", by=TESTS)
        else:
            link = planned(register, "K-2", 0.05, reserved_until=timezone.localdate() - dt.timedelta(days=1))
            link.reserved_until = UNTIL
            save_link(link, list(link.stations.all()), by=TESTS)
    assert refused.value.status == 409
    assert "The pair of K-2 clashes by" in refused.value.message
    assert f"K-1, which {anna} holds until {UNTIL}" in refused.value.message
    stored = Link.objects.filter(code="K-2").first()
    if way == "entered":
        assert stored is None
    else:
        assert stored is not None
        assert (stored.version, stored.stations.filter(tx_frequency_hz=410_000_000).count()) == (
            1,
            0 if way == "changed" else 1,
        )


def test_what_takes_nothing_new_is_not_refused(register: Register) -> None:
    """A clash that stands already is a finding; so is one with what is on the air, or with another party's plans."""
    planned(register, "K-1", reserved_until=UNTIL)
    beside = planned(register, "K-2", 0.05)
    stations = list(beside.stations.all())
    stations[0].antenna_height_agl_m += 5.0
    save_link(beside, stations, by=TESTS)
    changes_of: tuple[dict[str, Any], ...] = (
        {"holder": register.other},
        {"status": "granted"},
        {"status": "on_air"},
    )
    for number, changes in enumerate(changes_of):
        link, stations = new_link(register, f"N-{number}", 0.05 + 0.001 * number, **changes)
        save_link(link, stations, by=TESTS)


def test_a_variant_is_not_accepted_over_a_held_pair(register: Register) -> None:
    planner = person("petra", "spectrum.add_link", "spectrum.change_link")
    link = planned(register, "K-2", 0.05, stations=FREE)
    variant = variants.draw_up(Variant(name="Move K-2", as_of=timezone.localdate()), by=planner)
    variants.change_link(variant, link, moved_to(link), by=planner)
    planned(register, "K-1", reserved_until=UNTIL)
    variants.check_variant(variant.pk)
    with pytest.raises(
        PairHeldError, match=r"K-2 is refused.*K-1, which.*Nothing of the variant was accepted"
    ):
        variants.accept(variant, by=planner)
    variant.refresh_from_db()
    assert variant.status == Variant.Status.OPEN
    assert not link.stations.filter(tx_frequency_hz=410_000_000).exists()


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
@pytest.mark.parametrize("other_way", ["the form", "taking"])
def test_of_two_planners_in_the_same_second_one_succeeds_and_the_other_is_told(
    register: Register, other_way: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two real sessions, again and again; through the form, and the form against the taking of a pair."""
    monkeypatch.setattr(jobs, "submit", lambda *args, **kwargs: None)
    plan = made_plan()
    people = [person(f"planner{n}", "spectrum.add_link", "spectrum.change_link") for n in (1, 2)]

    def by_form(link: Link, number: int, channel: int) -> Callable[[], object]:
        go, back = plan.pair_hz(channel)
        link.reserved_until, link.responsible = UNTIL, people[number]
        return lambda: save_link(link, moved_to(link, go, back), by=Author.of(people[number]))

    def by_taking(link: Link, number: int, channel: int) -> Callable[[], object]:
        return lambda: take_pair(link, plan, channel, by=Author.of(people[number]), until=UNTIL)

    for channel in range(3, 40, 8):
        links = [planned(register, f"K-{channel}{n}", 0.001 * n, stations=FREE) for n in (1, 2)]
        act = by_form if other_way == "the form" else by_taking
        results = all_at_once([by_form(links[0], 0, channel), act(links[1], 1, channel)])
        saved = [r for r in results if isinstance(r, Link)]
        told = [r for r in results if isinstance(r, PairHeldError)]
        assert (len(saved), len(told)) == (1, 1), results
        winner = Link.objects.get(pk=saved[0].pk)
        assert f"{winner.code}, which {winner.responsible} holds until {UNTIL}" in told[0].message
    assert connection.vendor == "postgresql"
