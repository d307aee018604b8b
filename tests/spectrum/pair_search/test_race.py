"""Fifty planners at once: of clashing pairs exactly one is taken, and everybody else is told by whom and until when."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from django.db import connection, connections

from sites.services import jobs
from sites.services.record import Author
from spectrum.conflicts.gather import around_link, criteria_in_force
from spectrum.conflicts.interference import interference_findings
from spectrum.models import Link
from spectrum.services import held_pairs
from spectrum.services.reservations import PairHeldError, RegisterBusyError, taking
from tests.at_once import all_at_once
from tests.made import Register, person
from tests.spectrum.pair_search.test_taking import made_plan, planned

pytestmark = pytest.mark.django_db(transaction=True)
PLANNERS = 50
TODAY = dt.date(2026, 6, 1)
UNTIL = TODAY + dt.timedelta(days=30)


@pytest.fixture
def no_checks(monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    """The queued checks are another test's matter; and everybody waits for as long as fifty take on a busy machine."""
    monkeypatch.setattr(jobs, "submit", lambda *args, **kwargs: None)
    settings.RESERVATION_WAIT_S = 240


def race(channels: Sequence[int]) -> tuple[list[Link], list[object]]:
    """As many links at one place as there are channels, each taking its channel in the same moment."""
    register, plan = Register(), made_plan(channel_count=400)
    people = [person(f"planner{n:02d}", "spectrum.add_link") for n in range(len(channels))]
    links = [planned(register, f"K-{n:02d}", 0.001 * n) for n in range(len(channels))]

    def act(number: int) -> Callable[[], object]:
        return lambda: taking.take_pair(
            links[number], plan, channels[number], by=Author.of(people[number]), until=UNTIL, as_of=TODAY
        )

    results = all_at_once([act(n) for n in range(len(channels))])
    return list(Link.objects.exclude(reserved_until=None)), results


@pytest.mark.usefixtures("no_checks")
@pytest.mark.parametrize(
    "channels",
    [[7] * PLANNERS, [7 + n % 2 for n in range(PLANNERS)]],
    ids=["one pair", "a pair and the one beside it"],
)
def test_of_fifty_takers_of_clashing_pairs_exactly_one_holds(channels: list[int]) -> None:
    holders, results = race(channels)
    assert len(holders) == 1
    winners = [r for r in results if isinstance(r, Link)]
    told = [r for r in results if isinstance(r, PairHeldError)]
    busy = [r for r in results if isinstance(r, RegisterBusyError)]
    assert [w.code for w in winners] == [holders[0].code]
    assert len(told) + len(busy) == PLANNERS - 1
    assert all(
        f"{holders[0].code}, which {holders[0].responsible} holds until {UNTIL}" in t.message for t in told
    )
    assert all("Try again" in b.message for b in busy)
    if connection.vendor == "postgresql":
        assert busy == []


@pytest.mark.usefixtures("no_checks")
def test_fifty_takers_of_pairs_far_apart_do_not_stand_in_each_others_way() -> None:
    holders, results = race([8 + 7 * n for n in range(PLANNERS)])
    busy = [r for r in results if isinstance(r, RegisterBusyError)]
    assert len(holders) + len(busy) == PLANNERS
    if connection.vendor == "postgresql":
        assert len(holders) == PLANNERS
    for link in holders[:5]:
        drafts = interference_findings(around_link(link, TODAY), criteria_in_force(), link_id=link.pk).drafts
        assert not [d for d in drafts if d.kind in held_pairs.CLASHING and d.severity == "must_fix"]


@pytest.mark.usefixtures("no_checks")
@pytest.mark.postgres
def test_without_the_lock_more_than_one_would_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    """The race is real: take the lock away, and two who have both looked before either wrote hold the same pair."""
    monkeypatch.setattr(held_pairs, "wait_for_turn", lambda: None)
    looked, look = threading.Barrier(2), held_pairs.refuse_if_held

    def look_and_wait_for_the_other(*args: Any, **kwargs: Any) -> None:
        look(*args, **kwargs)
        looked.wait(timeout=60)

    monkeypatch.setattr(held_pairs, "refuse_if_held", look_and_wait_for_the_other)
    holders, results = race([7, 7])
    assert len(holders) == 2, results


@pytest.mark.usefixtures("no_checks")
def test_a_taker_whose_turn_does_not_come_is_told_to_try_again(
    settings: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    register, plan = Register(), made_plan()
    link = planned(register, "K-1")
    holding, done = threading.Event(), threading.Event()
    settings.RESERVATION_WAIT_S = 0.3  # type: ignore[attr-defined]
    if connection.vendor == "sqlite":
        connection.cursor().execute("PRAGMA busy_timeout = 300")

    def hold() -> None:
        from django.db import transaction

        with transaction.atomic():
            held_pairs.wait_for_turn()
            holding.set()
            done.wait(timeout=30)
        connections.close_all()

    holder = threading.Thread(target=hold)
    holder.start()
    try:
        assert holding.wait(timeout=30)
        with pytest.raises(RegisterBusyError, match="Try again in a few seconds"):
            taking.take_pair(link, plan, 1, by=Author.system("tests"), until=UNTIL, as_of=TODAY)
    finally:
        done.set()
        holder.join(timeout=30)
    assert Link.objects.get(pk=link.pk).reserved_until is None
