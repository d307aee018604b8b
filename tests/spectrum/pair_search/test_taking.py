"""Taking, extending and releasing pairs: what is refused, with which words, and what is recorded."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import ChangeRecord, Job
from sites.services import record
from sites.services.record import Author
from spectrum.models import ChannelPlan, Link
from spectrum.services.pair_search import FITTING, GO, RETURN, search_pairs, stations_to_search
from spectrum.services.reservations import PairHeldError, extend, last_day_by_default, release, take_pair
from tests.made import TESTS, Register, person, site

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 6, 1)
LATER = TODAY + dt.timedelta(days=30)


@pytest.fixture
def register() -> Register:
    return Register()


@pytest.fixture
def plan() -> ChannelPlan:
    return made_plan()


def made_plan(code: str = "UHF-25", **changes: int) -> ChannelPlan:
    values = {
        "first_go_hz": 410_000_000,
        "spacing_hz": 25_000,
        "channel_width_hz": 25_000,
        "channel_count": 40,
        "duplex_spacing_hz": 10_000_000,
        **changes,
    }
    return record.create(ChannelPlan(code=code, name="Forty channels", **values), by=TESTS)


def planned(register: Register, code: str, north_deg: float = 0.0, **changes: Any) -> Link:
    """A planned link of 15 km, ``north_deg`` north of the first."""
    near = site(f"{code}A", 47.0 + north_deg, 14.0)
    far = site(f"{code}B", 47.1 + north_deg, 14.15)
    return register.link(code, near, far, **changes)


def taken(link: Link, plan: ChannelPlan, number: int, by: Author = TESTS, **changes: object) -> Link:
    return take_pair(link, plan, number, by=by, **{"until": LATER, "as_of": TODAY, **changes})  # type: ignore[arg-type]


def test_taking_sets_both_ends_and_holds_the_pair(register: Register, plan: ChannelPlan) -> None:
    anna = person("anna", "spectrum.add_link")
    link = taken(planned(register, "K-1"), plan, 3, Author.of(anna), polarisation="H", first_sends=RETURN)
    stored = Link.objects.get(pk=link.pk)
    assert (stored.reserved_until, stored.channel_plan, stored.responsible) == (LATER, plan, anna)
    ends = {s.label: (s.tx_frequency_hz, s.rx_frequency_hz, s.polarisation) for s in stored.stations.all()}
    assert ends == {"A": (420_050_000, 410_050_000, "H"), "B": (410_050_000, 420_050_000, "H")}
    last = ChangeRecord.objects.filter(object_type="spectrum.link", object_id=link.pk).first()
    assert last is not None
    assert (last.by, last.reason) == (anna, f"Channel 3 of UHF-25 taken until {LATER}.")
    assert Job.objects.filter(kind="check_link", payload={"link": link.pk}).exists()


@pytest.mark.parametrize("number", [7, 8])  # the same channel, and the one beside it
def test_a_pair_in_reach_of_a_reservation_is_refused_with_holder_and_day(
    register: Register, plan: ChannelPlan, number: int
) -> None:
    anna = person("anna", "spectrum.add_link", first_name="Anna", last_name="Berg")
    taken(planned(register, "K-1"), plan, 7, Author.of(anna))
    other = planned(register, "K-2", 0.05, stations={"tx_frequency_hz": 470_000_000})
    before = other.version
    with pytest.raises(PairHeldError) as refused:
        taken(other, plan, number)
    assert refused.value.status == 409
    assert f"K-1, which {anna} holds until {LATER}" in refused.value.message
    stored = Link.objects.get(pk=other.pk)
    assert (stored.version, stored.reserved_until, stored.channel_plan) == (before, None, None)


def test_far_away_or_far_off_the_same_pair_is_free(register: Register, plan: ChannelPlan) -> None:
    taken(planned(register, "K-1"), plan, 7)
    taken(planned(register, "K-2", 0.05), plan, 20)
    taken(planned(register, "K-3", 15.0), plan, 7)


@pytest.mark.parametrize("status", ["granted", "on_air"])
def test_what_is_on_the_air_is_no_reservation(register: Register, plan: ChannelPlan, status: str) -> None:
    taken(planned(register, "K-1"), plan, 7)
    first = Link.objects.get(code="K-1")
    first.status = status
    record.change(first, by=TESTS)
    taken(planned(register, "K-2", 0.05), plan, 7)


def test_an_expired_reservation_holds_nothing_even_before_it_lapses(
    register: Register, plan: ChannelPlan
) -> None:
    taken(planned(register, "K-1"), plan, 7)
    with pytest.raises(PairHeldError):
        taken(planned(register, "K-2", 0.05), plan, 7, as_of=LATER, until=LATER)
    after = LATER + dt.timedelta(days=1)
    taken(Link.objects.get(code="K-2"), plan, 7, as_of=after, until=after)


def test_a_lapsed_link_takes_a_pair_and_is_planned_again(register: Register, plan: ChannelPlan) -> None:
    link = planned(register, "K-1", status=Link.Status.LAPSED)
    assert taken(link, plan, 1).status == Link.Status.PLANNED


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"number": 41}, "number"),
        ({"number": 0}, "number"),
        ({"polarisation": "X"}, "polarisation"),
        ({"first_sends": "sideways"}, "first_sends"),
        ({"until": TODAY - dt.timedelta(days=1)}, "until"),
        ({"until": TODAY + dt.timedelta(days=4000)}, "until"),
    ],
)
def test_what_cannot_be_taken_says_why(
    register: Register, plan: ChannelPlan, changes: dict[str, object], field: str
) -> None:
    link = planned(register, "K-1")
    number = changes.pop("number", 1)
    with pytest.raises(RegisterError) as refused:
        taken(link, plan, number, **changes)  # type: ignore[arg-type]
    assert refused.value.field == field
    assert Link.objects.get(pk=link.pk).version == link.version


def test_a_link_on_the_air_keeps_its_pair(register: Register, plan: ChannelPlan) -> None:
    link = planned(register, "K-1", status=Link.Status.ON_AIR)
    with pytest.raises(RegisterError, match="only a planned, filed or lapsed link"):
        taken(link, plan, 1)


def test_who_saw_an_older_link_is_told(register: Register, plan: ChannelPlan) -> None:
    link = planned(register, "K-1")
    taken(link, plan, 1)
    with pytest.raises(StaleWriteError):
        taken(link, plan, 2, expected_version=link.version)


def test_taking_needs_a_planner(register: Register, plan: ChannelPlan) -> None:
    link = planned(register, "K-1")
    with pytest.raises(NotAllowedError):
        taken(link, plan, 1, Author.of(person("field", "spectrum.change_link")))
    theirs = planned(register, "K-2", 15.0, holder=register.other)
    with pytest.raises(NotAllowedError):
        taken(theirs, plan, 1, Author.of(person("planner", "spectrum.add_link")))


def test_extending_and_releasing_is_for_the_responsible_and_for_the_administrator(
    register: Register, plan: ChannelPlan
) -> None:
    anna, ben = person("anna", "spectrum.add_link"), person("ben", "spectrum.add_link")
    administrator = person("admin", "spectrum.delete_link")
    link = taken(planned(register, "K-1"), plan, 1, Author.of(anna))
    day = LATER + dt.timedelta(days=10)
    with pytest.raises(NotAllowedError):
        extend(link, day, by=Author.of(ben), as_of=TODAY)
    with pytest.raises(NotAllowedError):
        release(link, by=Author.of(ben))
    assert extend(link, day, by=Author.of(anna), as_of=TODAY).reserved_until == day
    assert extend(link, LATER, by=Author.of(administrator), as_of=TODAY).reserved_until == LATER
    with pytest.raises(RegisterError, match="ended on"):
        extend(link, day, by=Author.of(anna), as_of=LATER + dt.timedelta(days=1))
    assert release(link, by=Author.of(administrator), reason="The project was dropped.").status == "lapsed"
    last = ChangeRecord.objects.filter(object_type="spectrum.link", object_id=link.pk).first()
    assert last is not None and last.reason == "The project was dropped."
    taken(planned(register, "K-2", 0.05), plan, 1)
    with pytest.raises(RegisterError, match="holds no pair"):
        release(Link.objects.get(pk=link.pk), by=Author.of(administrator))


def test_the_usual_length_is_a_setting(settings: object) -> None:
    settings.RESERVATION_DAYS = 12  # type: ignore[attr-defined]
    assert last_day_by_default(TODAY) == TODAY + dt.timedelta(days=12)


def test_what_the_search_calls_held_is_what_taking_refuses(register: Register, plan: ChannelPlan) -> None:
    """Every channel of the plan, both ways: the table and the taking say the same."""
    for number, channel in enumerate((5, 6, 20)):
        place = planned(register, f"K-{number}", 3.0 * number if channel != 20 else 0.4)
        taken(place, plan, channel)
    link = planned(register, "NEW", 0.05)
    for way in (FITTING, GO, RETURN):
        found = search_pairs(link, stations_to_search(link), [plan], first_sends=way, as_of=TODAY).found
        for pair in range(len(found.pairs)):
            holders = {held.code for held in found.reserved.get(pair, [])}
            try:
                taken(link, plan, int(found.pairs.number[pair]), first_sends=way)
            except PairHeldError as refused:
                assert any(code in refused.message for code in holders)
            else:
                assert not holders
    assert found.reserved
