"""Whatever keeps an application from a step says so in the language of whoever takes the step; what is kept is in none."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from sites.errors import RegisterError
from sites.models import Person
from sites.reading import as_read_by
from spectrum.models import ApplicationLink, Link
from spectrum.services import applications
from tests.in_brackets import left_out
from tests.made import DAY, TESTS, TODAY, site
from tests.small_register import person_of_role
from tests.spectrum.applications.made import FILED_ON, WHY, Desk, desk, terms

pytestmark = pytest.mark.django_db


@pytest.fixture
def at() -> Desk:
    return desk()


@pytest.fixture
def reader(pseudo_language: str) -> Iterator[Person]:
    person = person_of_role("registrar")
    person.language = pseudo_language
    with as_read_by(person):
        yield person


def file(at: Desk, **changes: Any) -> Callable[[], object]:
    values = {"by": TESTS, "filed_on": FILED_ON, "today": TODAY, **changes}
    application = at.draft()
    return lambda: applications.file(application, **values)


def without_contact(at: Desk) -> Callable[[], object]:
    application = at.draft(contact="")
    return lambda: applications.file(application, by=TESTS, filed_on=FILED_ON, today=TODAY, despite=WHY)


def empty(at: Desk) -> Callable[[], object]:
    application = at.draft()
    applications.take_out(application, at.link, by=TESTS)
    return lambda: applications.file(application, by=TESTS, filed_on=FILED_ON, today=TODAY)


def twice(at: Desk) -> Callable[[], object]:
    at.draft()
    return lambda: at.draft(number="A-2026-002")


def lapsed(at: Desk) -> Callable[[], object]:
    link = at.register.link("L-2", site("S5"), site("S6", 47.4), status="lapsed")
    return lambda: at.draft(link)


def anothers(at: Desk) -> Callable[[], object]:
    link = at.register.link("O-1", site("S3"), site("S4", 47.3), holder=at.register.other)
    return lambda: at.draft(link)


def not_in_it(at: Desk) -> Callable[[], object]:
    application, link = at.draft(), at.register.link("L-2", site("S3"), site("S4", 47.3))
    return lambda: applications.take_out(application, link, by=TESTS)


def filed_again(at: Desk) -> Callable[[], object]:
    application = at.filed()
    return lambda: applications.file(application, by=TESTS, filed_on=FILED_ON, today=TODAY)


def decided_tomorrow(at: Desk) -> Callable[[], object]:
    application = at.filed()
    return lambda: applications.refuse(application, by=TESTS, on=TODAY + DAY, today=TODAY, remarks="No.")


def granted_otherwise(at: Desk) -> Callable[[], object]:
    application = at.filed()
    applications.grant(application, terms(application), by=TESTS, today=TODAY)
    return lambda: applications.grant(application, terms(application, number="LIC-9"), by=TESTS, today=TODAY)


def granted_for_soup(at: Desk) -> Callable[[], object]:
    application = at.filed()
    soup = terms(application, emission_designators=["soup"])
    return lambda: applications.grant(application, soup, by=TESTS, today=TODAY)


def granted_after_expiry(at: Desk) -> Callable[[], object]:
    application = at.filed()
    over = terms(application, grant_expires_on=TODAY - 400 * DAY)
    return lambda: applications.grant(application, over, by=TESTS, today=TODAY)


STEPS: dict[str, Callable[[Desk], Callable[[], object]]] = {
    "not checked": lambda at: file(at),
    "filed tomorrow": lambda at: file(at, filed_on=TODAY + DAY, despite=WHY),
    "a field is missing": without_contact,
    "for no link": empty,
    "in another application": twice,
    "lapsed": lapsed,
    "another party's": anothers,
    "not in it": not_in_it,
    "filed again": filed_again,
    "decided tomorrow": decided_tomorrow,
    "granted otherwise": granted_otherwise,
    "granted for soup": granted_for_soup,
    "granted after expiry": granted_after_expiry,
}


@pytest.mark.parametrize("name", STEPS)
def test_what_keeps_an_application_from_a_step_is_said_in_the_language(
    name: str, at: Desk, reader: Person
) -> None:
    attempt = STEPS[name](at)
    with pytest.raises((RegisterError, ValidationError)) as caught:
        attempt()
    error: Exception = caught.value
    said = " ".join(error.messages) if isinstance(error, ValidationError) else str(error)
    assert "⟦" in said
    assert left_out(said) == ""


def test_what_is_filed_is_kept_in_no_language(at: Desk, reader: Person) -> None:
    application = at.filed()
    kept = ApplicationLink.objects.get()
    assert "⟦" not in f"{application.filed_as} {kept.report} {[s.figures for s in kept.filed.all()]}"
    assert Link.objects.get().status == "filed"
