"""A link and its stations are one thing: saved, guarded and checked together."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from sites.errors import RegisterError, StaleWriteError
from sites.models import ChangeRecord, Job
from spectrum.models import Check, Link, Station
from spectrum.services.links import save_link, set_status
from tests.made import TESTS, Register, site

pytestmark = pytest.mark.django_db


@pytest.fixture
def register(db: None) -> Register:
    return Register()


def test_a_link_is_saved_with_both_ends(register: Register) -> None:
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    assert [(s.label, s.tx_frequency_hz) for s in link.stations.all()] == [
        ("A", 410_000_000),
        ("B", 420_000_000),
    ]


def test_a_bad_end_leaves_no_half_link(register: Register) -> None:
    a, b = site("S1"), site("S2", 47.2)
    with pytest.raises(ValidationError) as caught:
        register.link("L-1", a, b, stations={"antenna_height_agl_m": -3.0})
    assert "A.__all__" in caught.value.message_dict
    assert not Link.objects.exists()
    assert not ChangeRecord.objects.filter(object_type="spectrum.link").exists()


def test_two_people_who_edit_different_ends_still_collide(register: Register) -> None:
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    hers, his = Link.objects.get(), Link.objects.get()
    stations = list(hers.stations.all())
    stations[0].tx_power_dbm = 30.0
    save_link(hers, stations, by=TESTS)
    theirs = list(Station.objects.filter(link=link))
    theirs[1].tx_power_dbm = 31.0
    with pytest.raises(StaleWriteError):
        save_link(his, theirs, by=TESTS, expected_version=his.version)
    assert Station.objects.get(label="B").tx_power_dbm == 37.0


def test_a_station_left_out_is_removed(register: Register) -> None:
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    stations = list(link.stations.all())
    save_link(link, stations[:1], by=TESTS)
    assert [s.label for s in Station.objects.all()] == ["A"]


def test_a_station_of_another_link_is_refused(register: Register) -> None:
    a, b = site("S1"), site("S2", 47.2)
    one, two = register.link("L-1", a, b), register.link("L-2", a, b)
    with pytest.raises(RegisterError, match="does not belong to L-1"):
        save_link(one, list(two.stations.all()), by=TESTS)


def test_a_role_that_does_not_fit_the_kind_of_link_is_refused(register: Register) -> None:
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    link.kind = Link.Kind.POINT_TO_MULTIPOINT
    with pytest.raises(ValidationError, match="hub or remote"):
        save_link(link, list(link.stations.all()), by=TESTS)


def test_saving_a_link_has_it_checked_after_the_commit(
    register: Register, django_capture_on_commit_callbacks: object
) -> None:
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        link = register.link("L-1", site("S1"), site("S2", 47.2))
    assert Check.objects.get().link == link
    assert {job.state for job in Job.objects.all()} == {Job.State.DONE}


def test_an_unknown_status_is_refused_in_words(register: Register) -> None:
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    with pytest.raises(RegisterError, match="'built' is no status"):
        set_status(link, "built", by=TESTS)
