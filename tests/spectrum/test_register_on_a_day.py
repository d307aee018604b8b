"""The register as of a day agrees with a copy taken on that day, and with a replay of the change record."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from licences.models import Holder, Licence, LicensedChannel
from sites.errors import RegisterError
from sites.models import ChangeRecord, Site
from sites.models.registered import service_write
from sites.on_day import day_or_today, read_day, register_on, why_not_there
from sites.on_day.reading import registered_models
from sites.services import record
from spectrum import selectors
from spectrum.ahead import status_on
from spectrum.models import CommissioningRecord, Link, Station
from spectrum.services.links import remove_link, save_link, set_status
from spectrum.services.reservations import lapse_expired
from tests.made import DAY, TESTS, Register, site
from tests.replaying import Copy, replayed

pytestmark = pytest.mark.django_db
START = dt.date(2026, 1, 10)


def at_noon(day: dt.date) -> Any:
    return time_machine.travel(dt.datetime.combine(day, dt.time(12), dt.UTC), tick=False)


def copy() -> Copy:
    """Every object of the register by kind and number, with its recorded values."""
    return {
        model._meta.label_lower: {
            obj.pk: record.snapshot(obj) for obj in model._default_manager.order_by("pk")
        }
        for model in registered_models()
    }


class Hands:
    """Somebody who enters, changes and removes whatever is there, at random and through the services."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.register = Register()
        self.number = 0

    def any_of(self, model: Any) -> Any:
        return self.chance.choice(list(model.objects.order_by("pk")) or [None])

    def code(self) -> str:
        self.number += 1
        return f"N{self.number}"

    def enter_site(self) -> None:
        site(self.code(), notes=self.chance.choice(["", "a note"]))

    def change_site(self) -> None:
        if one := self.any_of(Site):
            one.name, one.ground_height_m = f"Hill {self.chance.random()}", self.chance.choice([None, 7.25])
            record.change(one, by=TESTS)

    def remove_site(self) -> None:
        if one := self.any_of(Site):
            record.remove(one, by=TESTS)

    def enter_link(self) -> None:
        self.register.link(self.code(), site(self.code()), site(self.code()))

    def change_link(self) -> None:
        if link := self.any_of(Link):
            stations = list(link.stations.order_by("pk"))
            if self.chance.random() < 0.3 and len(stations) > 1:
                stations.pop()
            stations[0].antenna_height_agl_m = self.chance.choice([10.0, 12.5, 30.0])
            stations[0].licensed_channel = self.any_of(LicensedChannel)
            link.name = f"Name {self.chance.random()}"
            save_link(link, stations, by=TESTS, clashes_are_findings=True)

    def move_link(self) -> None:
        if link := self.any_of(Link):
            link.reserved_until = START + self.chance.randrange(30) * DAY
            set_status(link, self.chance.choice(["granted", "on_air", "retired"]), by=TESTS)

    def remove_link(self) -> None:
        if link := self.any_of(Link):
            remove_link(link, by=TESTS)

    def measure(self) -> None:
        if station := self.any_of(Station):
            found = CommissioningRecord(station=station, found_on=START, found_by="Falk", tx_power_dbm=30.0)
            record.create(found, by=TESTS)

    def enter_licence(self) -> None:
        licence = self.register.licence(self.code(), yearly_fee="120.50")
        pair = [self.register.channel(licence, label, site=site(self.code())) for label in "12"]
        pair[0].paired_with = pair[1]
        record.change(pair[0], by=TESTS)

    def change_licence(self) -> None:
        if one := self.any_of(Licence):
            one.notes, one.yearly_fee = f"Seen {self.chance.random()}", self.chance.choice([None, "99.90"])
            record.change(one, by=TESTS)

    def remove_channel(self) -> None:
        if one := self.any_of(LicensedChannel):
            record.remove(one, by=TESTS)

    def remove_licence(self) -> None:
        if one := self.any_of(Licence):
            record.remove(one, by=TESTS)

    def enter_many(self) -> None:
        record.create_many([Holder(name=self.code()), Holder(name=self.code(), notes="x")], by=TESTS)

    def change_mode(self) -> None:
        mode = self.register.mode
        mode.bit_rate_kbps = self.chance.choice([9.6, 19.2, 38.4])
        record.change(mode, by=TESTS)

    ACTS = (
        enter_site, change_site, remove_site, enter_link, change_link, move_link, remove_link, measure,
        enter_licence, change_licence, remove_channel, remove_licence, enter_many, change_mode,
    )  # fmt: skip

    def act(self, number: int) -> None:
        """One act; what the register refuses changes nothing."""
        try:
            with transaction.atomic():
                self.ACTS[number](self)
        except (RegisterError, ValidationError):
            pass


# Without shrinking, which would enter thousands of registers.
@settings(max_examples=12, deadline=None, derandomize=True, phases=[Phase.explicit, Phase.generate])
@given(
    days=st.lists(
        st.tuples(st.integers(0, 3), st.lists(st.integers(0, len(Hands.ACTS) - 1), min_size=1, max_size=6)),
        min_size=2,
        max_size=7,
    ),
    seed=st.integers(0, 2**32),
)
def test_each_day_reads_as_a_copy_taken_on_it(days: list[tuple[int, list[int]]], seed: int) -> None:
    with transaction.atomic():
        copies: dict[dt.date, Copy] = {START - 2 * DAY: copy()}
        day = START
        with at_noon(day):
            hands = Hands(seed)
            hands.enter_licence()
            hands.enter_link()
        for pause, acts in days:
            day += pause * DAY
            with at_noon(day):
                for number in acts:
                    hands.act(number)
                copies[day] = copy()
        with at_noon(day + 5 * DAY):
            for then, taken in copies.items():
                with register_on(then):
                    assert copy() == taken, f"as of {then}"
                assert _alike(replayed(then)) == _alike(taken), f"replayed until {then}"
            assert copy() == copies[day]
        transaction.set_rollback(True)


def _alike(found: Copy) -> Copy:
    """An empty text and no value are recorded alike at entry: "" for None where a field takes both."""
    return {
        kind: {
            pk: {name: None if value in ("", [], {}) else value for name, value in values.items()}
            for pk, values in rows.items()
        }
        for kind, rows in found.items()
    }


@pytest.fixture
def changed() -> Iterator[tuple[Link, Register]]:
    """A link entered on the 10th of January, changed on the 20th, and another removed on the 25th."""
    with at_noon(START):
        register = Register()
        link = register.link("T-1", site("S1"), site("S2"), name="first name")
        other = register.link("T-2", site("S3"), site("S4"))
    with at_noon(START + 10 * DAY):
        stored = Link.objects.get(pk=link.pk)
        stored.name = "second name"
        record.change(stored, by=TESTS)
    with at_noon(START + 15 * DAY):
        remove_link(Link.objects.get(pk=other.pk), by=TESTS)
    yield link, register


def test_lists_counts_and_joins_are_those_of_the_day(changed: tuple[Link, Register]) -> None:
    with register_on(START + 9 * DAY):
        rows: list[Any] = list(selectors.links_with_counts().filter(stations__site__code="S3"))
        assert [(row.code, row.name, row.must_fix) for row in rows] == [("T-2", "", 0)]
        assert Link.objects.get(code="T-1").name == "first name"
        assert day_or_today() == START + 9 * DAY
    with register_on(START - DAY):
        assert (Link.objects.count(), Site.objects.count()) == (0, 0)
    assert list(Link.objects.values_list("code", "name")) == [("T-1", "second name")]


def test_nothing_can_be_written_to_the_register_of_a_day(changed: tuple[Link, Register]) -> None:
    write: Callable[[], Any] = lambda: Link.objects.filter(code="T-1").update(name="x")  # noqa: E731
    with register_on(START), pytest.raises(DatabaseError), transaction.atomic(), service_write():
        write()
    assert Link.objects.get(code="T-1").name == "second name"


def test_the_day_ends_at_midnight_utc(changed: tuple[Link, Register]) -> None:
    late = dt.datetime.combine(START + 10 * DAY, dt.time(23, 59, 59, 999_999), dt.UTC)
    with time_machine.travel(late, tick=False):
        site("LATE")
    with register_on(START + 9 * DAY):
        assert not Site.objects.filter(code="LATE").exists()
    with register_on(START + 10 * DAY):
        assert Site.objects.filter(code="LATE").exists()


def test_why_an_object_is_not_there(changed: tuple[Link, Register]) -> None:
    removed = ChangeRecord.objects.get(action="remove", object_label="T-2").object_id
    assert why_not_there(Link, changed[0].pk, START - DAY) == (
        f"T-1 did not exist yet on {START - DAY}: it was entered on {START} by tests."
    )
    assert why_not_there(Link, removed, START + 20 * DAY) == (
        f"T-2 was no longer in the register on {START + 20 * DAY}: it was removed on {START + 15 * DAY} by tests."
    )
    assert why_not_there(Link, 999_999, START) == ""


@pytest.mark.parametrize("typed", ["", "yesterday", "2026-13-01", "1899-12-31", "2201-01-01", "01.03.2026"])
def test_what_is_no_day_is_refused_in_a_sentence(typed: str) -> None:
    with pytest.raises(ValueError, match="expected"):
        read_day(typed)


@pytest.mark.parametrize(
    ("status", "starts", "ends", "reserved", "becomes"),
    [
        ("planned", None, None, 9, "lapsed"),
        ("planned", None, None, 10, "planned"),
        ("planned", 5, None, None, "planned"),
        ("filed", None, None, 3, "lapsed"),
        ("granted", 10, None, None, "on_air"),
        ("granted", 11, None, None, "granted"),
        ("granted", None, None, None, "granted"),
        ("granted", 2, 9, None, "retired"),
        ("on_air", 1, 9, None, "retired"),
        ("on_air", 1, 10, None, "on_air"),
        ("retired", 1, 2, 3, "retired"),
        ("lapsed", 1, None, 3, "lapsed"),
    ],
)
def test_what_a_link_becomes_by_its_dates(
    status: str, starts: int | None, ends: int | None, reserved: int | None, becomes: str
) -> None:
    starts_on, ends_on, until = (None if n is None else START + n * DAY for n in (starts, ends, reserved))
    assert status_on(status, starts_on, ends_on, until, START + 10 * DAY) == becomes


def test_a_coming_day_agrees_with_what_the_register_does_when_it_comes() -> None:
    with at_noon(START):
        register = Register()
        for n in range(4):
            register.link(f"T-{n}", site(f"A{n}"), site(f"B{n}"), reserved_until=START + n * DAY)
        register.link("T-9", site("A9"), site("B9"), status="on_air", ends_on=START + DAY)
        with register_on(START + 3 * DAY):
            ahead = dict(Link.objects.exclude(code="T-9").values_list("code", "status"))
            assert Link.objects.get(code="T-9").status == "retired"
    with at_noon(START + 3 * DAY):
        lapse_expired()
        assert dict(Link.objects.exclude(code="T-9").values_list("code", "status")) == ahead
    assert sorted(ahead.values()) == ["lapsed", "lapsed", "lapsed", "planned"]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_change_at_the_same_moment_is_not_half_seen(changed: tuple[Link, Register]) -> None:
    """Another session changes and commits while the register of a day is being read."""
    import threading

    def change() -> None:
        stored = Link.objects.get(code="T-1")
        stored.name = "third name"
        record.change(stored, by=TESTS)
        site("NEW")
        connection.close()

    with register_on(START + 12 * DAY):
        other = threading.Thread(target=change)
        other.start()
        other.join(30)
        assert not other.is_alive()  # a reader keeps no writer waiting
        assert Link.objects.get(code="T-1").name == "second name"
        assert not Site.objects.filter(code="NEW").exists()
    assert Link.objects.get(code="T-1").name == "third name"
