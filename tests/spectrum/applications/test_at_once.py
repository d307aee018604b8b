"""Several people decide about the same application in the same moment: one decision stands, and is written once."""

from __future__ import annotations

import pytest
from django.db import connection

from licences.models import Application, Licence, LicensedChannel
from sites.errors import RegisterError
from sites.models import ChangeRecord
from sites.services import jobs
from sites.services.record import Author
from spectrum.models import ApplicationLink, Link
from spectrum.services import applications
from tests.at_once import all_at_once
from tests.made import TESTS, TODAY, person
from tests.spectrum.applications.made import GRANTED_ON, Desk, desk, terms

pytestmark = pytest.mark.django_db(transaction=True)
PEOPLE = 8


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch) -> Desk:
    monkeypatch.setattr(jobs, "submit", lambda *args, **kwargs: None)  # the checks are another test's matter
    return desk()


def registrars() -> list[Author]:
    return [Author.of(person(f"registrar{n}", "licences.file_application")) for n in range(PEOPLE)]


@pytest.mark.parametrize("vendor", [pytest.param("postgresql", marks=pytest.mark.postgres), "any"])
def test_a_grant_recorded_by_many_at_once_makes_one_licence(at: Desk, vendor: str) -> None:
    assert vendor in ("any", connection.vendor)
    application = at.filed()
    granted = terms(application)
    results = all_at_once(
        [
            lambda by=by: applications.grant(application, granted, by=by, today=TODAY)  # type: ignore[misc]
            for by in registrars()
        ]
    )
    # The same grant again is no error: everybody reads that it is granted.
    assert [r.state if isinstance(r, Application) else r for r in results] == ["granted"] * PEOPLE
    assert Licence.objects.count() == 1
    assert LicensedChannel.objects.count() == 2
    made = ChangeRecord.objects.filter(object_type="licences.licence", action="create")
    assert made.count() == 1
    assert Link.objects.get().status == "granted"


def test_of_different_decisions_at_once_the_first_stands_and_the_others_are_told(at: Desk) -> None:
    application = at.filed()
    seen = application.version
    by = registrars()
    results = all_at_once(
        [
            lambda: applications.grant(
                application, terms(application), by=by[0], today=TODAY, expected_version=seen
            ),
            lambda: applications.refuse(
                application, by=by[1], on=GRANTED_ON, today=TODAY, expected_version=seen
            ),
            lambda: applications.withdraw(
                application, by=by[2], on=GRANTED_ON, today=TODAY, expected_version=seen
            ),
        ]
    )
    decided = [r for r in results if isinstance(r, Application)]
    told = [r for r in results if isinstance(r, RegisterError)]
    assert (len(decided), len(told)) == (1, 2)
    assert all("nothing more can be done with it" in error.message for error in told)
    stored = Application.objects.get()
    assert stored.state == decided[0].state
    assert Link.objects.get().status == ("granted" if stored.state == "granted" else "lapsed")
    assert Licence.objects.exists() == (stored.state == "granted")


def test_a_link_put_into_two_applications_at_once_is_in_one(at: Desk) -> None:
    values = {"authority": at.register.authority, "holder": at.register.own}
    drafts = [
        applications.draw_up(Application(number=f"A-{n}", **values), [], by=TESTS, today=TODAY)
        for n in range(PEOPLE)
    ]
    results = all_at_once(
        [
            lambda draft=draft: applications.add_links(draft, [at.link], by=TESTS, today=TODAY)  # type: ignore[misc]
            for draft in drafts
        ]
    )
    assert ApplicationLink.objects.count() == 1
    told = [r for r in results if isinstance(r, RegisterError)]
    assert len(told) == PEOPLE - 1
    assert all("L-1 is in application A-" in error.message for error in told)
