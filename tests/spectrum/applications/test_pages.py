"""Pages of applications: from a link to the licence, with what is missing, refused and typed kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from licences.models import Application, Licence, LicensedChannel
from sites.models import Person
from sites.services import record
from spectrum.models import ApplicationLink, FiledStation, Finding, Link
from spectrum.roles import give_permissions
from spectrum.services import applications, checks
from tests.made import DAY, TESTS, TODAY, site
from tests.small_register import person_of_role
from tests.spectrum.applications.made import FILED_ON, GRANTED_ON, WHY, Desk, desk

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day() -> Iterator[None]:
    with time_machine.travel(dt.datetime(2026, 6, 1, 12, tzinfo=dt.UTC), tick=False):
        yield


@pytest.fixture
def at() -> Desk:
    give_permissions()
    return desk()


def signed_in(role: str) -> Client:
    client = Client()
    client.force_login(Person.objects.filter(groups__name=role).first() or person_of_role(role))
    return client


def page(name: str, *args: Any) -> str:
    return reverse(name, args=args)


def text(response: Any) -> str:
    return " ".join(response.content.decode().split())


def posted_grant(application: Application, **changes: str) -> dict[str, str]:
    """The grant's form as it comes, filled in; ``changes`` by the names of its fields."""
    shown = signed_in("registrar").get(page("application-grant", application.pk))
    values: dict[str, str] = {}
    for form in (shown.context["form"], *(each for _, each in shown.context["stations"])):
        for field in form:
            value = field.field.prepare_value(field.value()) if field.value() is not None else ""
            values[field.html_name] = "" if value is None else str(value)
    return {
        **values,
        "number": "LIC-7",
        "granted_on": str(GRANTED_ON),
        "in_force_from": str(GRANTED_ON),
        "tolerance_m": "100",
        **changes,
    }


def test_from_the_page_of_a_link_to_an_application(at: Desk) -> None:
    planner = signed_in("planner")
    link_page = text(planner.get(page("link", at.link.pk)))
    address = f"{page('application-add')}?link={at.link.pk}"
    assert address in link_page
    form = text(planner.get(address))
    assert "> L-1</textarea>" in form
    assert 'value="A-2026-001"' in form
    sent = {
        "number": "A-2026-001",
        "authority": at.register.authority.pk,
        "holder": at.register.own.pk,
        "links": "l-1",
    }
    answer = planner.post(page("application-add"), sent)
    application = Application.objects.get()
    assert answer.headers["Location"] == page("application", application.pk)
    shown = text(planner.get(page("application", application.pk)))
    assert "Not yet: 1 field is missing. First: responsible contact" in shown
    assert "Filing it, and recording what came of it, is the registrar's." in shown
    assert address not in text(planner.get(page("link", at.link.pk)))  # it is in one now
    assert "A-2026-001" in text(planner.get(page("link", at.link.pk)))


def test_links_ticked_in_the_list_come_into_the_form_together(at: Desk) -> None:
    second = at.register.link("L-2", site("S3"), site("S4", 47.3))
    at.register.link("O-1", site("S5"), site("S6", 47.4), holder=at.register.other)
    planner = signed_in("planner")
    listed = text(planner.get(page("link-list")))
    assert listed.count('form="apply"') == 2
    assert 'form="apply"' not in text(signed_in("viewer").get(page("link-list")))
    ticked = {"link": [str(at.link.pk), str(second.pk), "soup", "9" * 30]}
    assert "> L-1, L-2</textarea>" in text(planner.get(page("application-add"), ticked))


@pytest.mark.parametrize("links", ["", "L-1, soup", "L-1\x00"])
def test_what_cannot_be_drawn_up_comes_back_as_it_was_typed(at: Desk, links: str) -> None:
    sent = {
        "number": "A-7",
        "authority": at.register.authority.pk,
        "holder": at.register.own.pk,
        "links": links,
        "contact": "Somebody to ring up",
    }
    answer = signed_in("planner").post(page("application-add"), sent)
    assert answer.status_code in (400, 422)
    assert "Somebody to ring up" in text(answer)
    assert not Application.objects.exists()


def test_a_missing_field_leads_to_where_it_is_entered(at: Desk) -> None:
    place = at.link.stations.get(label="A").site
    place.ground_height_m = None
    record.change(place, by=TESTS)
    application = at.draft()
    shown = text(signed_in("viewer").get(page("application", application.pk)))
    assert "Enter it at site S1." in shown
    assert f'href="{page("site", place.pk)}"' in shown


def test_filing_with_its_objection_then_the_reason(at: Desk) -> None:
    application, registrar = at.draft(), signed_in("registrar")
    sent = {"filed_on": str(FILED_ON), "reference": "F/7", "version": application.version}
    refused = registrar.post(page("application-file", application.pk), sent)
    assert refused.status_code == 422
    assert "L-1 has not been checked" in text(refused)
    assert 'value="F/7"' in text(refused)
    answer = registrar.post(page("application-file", application.pk), {**sent, "despite": WHY})
    assert answer.status_code == 302
    shown = text(registrar.get(page("application", application.pk)))
    assert (
        f"Nothing yet. It was filed on {FILED_ON}, 30 days ago. Its pairs are held until it is decided."
        in shown
    )


@pytest.mark.parametrize(("severity", "rank"), [("must_fix", 0), ("decide", 1)])
def test_what_waits_for_a_decision_is_not_called_clear(at: Desk, severity: str, rank: int) -> None:
    checks.check_link(at.link.pk, as_of=TODAY)
    Finding.objects.update(gone_at=timezone.now())
    application, registrar = at.draft(), signed_in("registrar")
    address = page("application", application.pk)
    assert "Yes: every field that the authority asks is filled" in text(registrar.get(address))
    Finding.objects.create(
        identity="f" * 64, kind="co_channel", severity=severity, rank=rank, headline="Too near.",
        link=at.link, first_seen_at=timezone.now(), last_seen_at=timezone.now(),
    )  # fmt: skip
    shown = text(registrar.get(address))
    assert "Only with a reason: L-1 has 1 finding that" in shown
    assert "Yes: every field" not in shown
    sent = {"filed_on": str(TODAY), "reference": "", "version": application.version}
    assert registrar.post(page("application-file", application.pk), sent).status_code == 422
    answer = registrar.post(page("application-file", application.pk), {**sent, "despite": WHY})
    assert answer.status_code == 302


def test_the_grant_begins_with_what_was_asked_and_becomes_a_licence(at: Desk) -> None:
    application = at.filed()
    sent = posted_grant(application)
    first = FiledStation.objects.get(label="A")
    assert sent[f"station-{first.pk}-frequency_mhz"] == "410.00000"
    assert sent[f"station-{first.pk}-power_limit_dbm"] == "43.0"
    answer = signed_in("registrar").post(page("application-grant", application.pk), sent)
    assert answer.status_code == 302, text(answer)
    licence = Licence.objects.get()
    shown = text(signed_in("viewer").get(page("application", application.pk)))
    assert f"Licence AUT LIC-7, granted on {GRANTED_ON}, as it was asked." in shown
    assert page("licence", licence.pk) in shown


def test_what_the_authority_changed_is_said(at: Desk) -> None:
    application = at.filed()
    first = FiledStation.objects.get(label="A")
    changes = {f"station-{first.pk}-frequency_mhz": "410.0250", f"station-{first.pk}-power_limit_dbm": "5 W"}
    answer = signed_in("registrar").post(
        page("application-grant", application.pk), posted_grant(application, **changes)
    )
    assert answer.status_code == 302, text(answer)
    shown = text(signed_in("viewer").get(page("application", application.pk)))
    assert "for 1 station otherwise than asked" in shown
    assert "frequency: granted 410.02500 MHz, asked 410.00000 MHz" in shown
    # 5 W are 36.99 dBm
    assert "e.i.r.p.: granted 36.99 dBm, asked 43.00 dBm" in shown


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("number", "", "Give the licence number."),
        ("granted_on", "soup", "A date was expected"),
        ("granted_on", "2031-01-01", "the decision falls between"),
        ("expires_on", "2020-01-01", "expiry date must not lie before"),
        ("yearly_fee", "soup", "an amount was expected"),
        ("yearly_fee", "-3", "cannot be negative"),
        ("station-0-frequency_mhz", "soup", "soup"),
        ("station-0-power_limit_dbm", "10 X", "a power in dBm or W was expected"),
        ("station-0-emission_designators", "soup", "soup"),
        ("station-0-azimuth_deg", "400", "azimuth must lie"),
        ("station-0-licence_number", "LIC-0", "number is in the register already"),
        ("station-0-polarisation", "Z", "Z"),
        ("number", "a\x00b", "Null characters"),
    ],
)
def test_a_wrong_grant_writes_nothing_and_keeps_what_was_typed(
    at: Desk, name: str, typed: str, said: str
) -> None:
    at.register.licence("LIC-0")
    application = at.filed()
    first = FiledStation.objects.get(label="A")
    field = name.replace("station-0", f"station-{first.pk}")
    sent = posted_grant(application, **{field: typed, "service": "typed before"})
    answer = signed_in("registrar").post(page("application-grant", application.pk), sent)
    assert answer.status_code == 422
    assert said in text(answer)
    assert 'value="typed before"' in text(answer)
    assert (Licence.objects.count(), LicensedChannel.objects.count()) == (1, 0)
    application.refresh_from_db()
    assert application.state == "filed"


def test_who_saw_an_older_version_is_told(at: Desk) -> None:
    application = at.filed()
    sent = posted_grant(application, version="1")
    application.contact = "Somebody else"
    record.change(application, by=TESTS)
    answer = signed_in("registrar").post(page("application-grant", application.pk), sent)
    assert answer.status_code == 409
    assert "was changed by" in text(answer)


@pytest.mark.parametrize(
    ("name", "state"), [("application-refuse", "refused"), ("application-withdraw", "withdrawn")]
)
def test_refused_or_withdrawn_from_the_page(at: Desk, name: str, state: str) -> None:
    application, registrar = at.filed(), signed_in("registrar")
    wrong = registrar.post(
        page(name, application.pk), {"decided_on": str(TODAY + DAY), "remarks": "No channel."}
    )
    assert wrong.status_code == 422
    assert "No channel." in text(wrong)
    registrar.post(page(name, application.pk), {"decided_on": str(TODAY), "remarks": "No channel."})
    shown = text(registrar.get(page("application", application.pk)))
    assert f"It was {state} on 2026-06-01; its pairs were given back. No channel." in shown
    assert Link.objects.get().status == "lapsed"


def test_links_are_put_in_and_taken_out_on_the_page(at: Desk) -> None:
    at.register.link("L-2", site("S3"), site("S4", 47.3))
    application, planner = at.draft(), signed_in("planner")
    planner.post(page("application-link-add", application.pk), {"codes": "L-2"})
    said = planner.post(page("application-link-add", application.pk), {"codes": "L-2 soup"}, follow=True)
    assert "no link with the code “soup”" in text(said)
    planner.post(page("application-link-take-out", application.pk, at.link.pk))
    assert [row.link.code for row in ApplicationLink.objects.all()] == ["L-2"]


def test_what_is_printed_has_a_name_and_a_type(at: Desk) -> None:
    application, viewer = at.draft(), signed_in("viewer")
    for name, begins, ending in (
        ("application-pdf", b"%PDF", "pdf"),
        ("application-xlsx", b"PK", "xlsx"),
        ("application-csv", b"application,link,station", "csv"),
    ):
        answer = viewer.get(page(name, application.pk))
        assert answer.content.startswith(begins)
        assert f'filename="a-2026-001-technical-data.{ending}"' in answer.headers["Content-Disposition"]


def test_an_authority_says_what_it_asks(at: Desk) -> None:
    registrar, authority = signed_in("registrar"), at.register.authority
    sent = {
        "code": "AUT",
        "name": "Authority",
        "version": authority.version,
        "asked_fields": ["gain", "beamwidth"],
    }
    assert registrar.post(page("authority-change", authority.pk), sent).status_code == 302
    shown = text(registrar.get(page("application", at.draft().pk)))
    assert "360° (omnidirectional)" in shown
    assert "e.i.r.p." not in shown
    wrong = registrar.post(
        page("authority-change", authority.pk), {**sent, "version": 2, "asked_fields": ["soup"]}
    )
    assert wrong.status_code == 422
    assert "“soup” is no field of the data sheet" in text(wrong)


def test_the_list_needs_a_fixed_number_of_queries(at: Desk, django_assert_num_queries: Any) -> None:
    at.draft()
    viewer = signed_in("viewer")
    viewer.get(page("application-list"))
    with django_assert_num_queries(12) as few:
        viewer.get(page("application-list"))
    for number in range(3):
        link = at.register.link(f"L-{number + 5}", site(f"T{number}"), site(f"U{number}", 47.3))
        at.draft(link, number=f"A-9{number}")
    with django_assert_num_queries(len(few.captured_queries)):
        viewer.get(page("application-list"))
    assert applications.all_applications().count() == 4
