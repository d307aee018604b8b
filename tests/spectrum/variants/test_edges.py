"""Variants over the API and on pages: drawn up by one, left, resumed by another, accepted."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from sites.models import Job
from sites.services import jobs
from spectrum.models import Link, PlannedChange, Station, Variant
from spectrum.services import variants
from tests.made import TESTS, Register, site
from tests.small_register import client_of, person_of_role

pytestmark = pytest.mark.django_db


@pytest.fixture
def register() -> Register:
    return Register()


@pytest.fixture
def two(register: Register) -> list[Link]:
    return [
        register.link(
            f"L-{n}", site(f"N-{n}", 47 + n * 0.1), site(f"M-{n}", 47 + n * 0.1, 14.1), status="on_air"
        )
        for n in range(2)
    ]


def page(role: str, username: str = "") -> Client:
    client = Client()
    client.force_login(person_of_role(role, username=username or role.replace(" ", "-")))
    return client


def text(answer: Any) -> str:
    return str(answer.content.decode())


def body(api: APIClient, link: Link) -> dict[str, Any]:
    return dict(api.get(reverse("api:link-detail", args=[link.pk])).json())


class TestApi:
    def test_a_variant_is_drawn_up_checked_and_accepted(self, register: Register, two: list[Link]) -> None:
        api = client_of("planner")
        made = api.post(
            reverse("api:variant-list"), {"name": "Spring works", "as_of": "2027-03-01"}, format="json"
        )
        assert made.status_code == 201
        assert (made.json()["status"], made.json()["checked"], made.json()["drawn_up_by_name"]) == (
            "open", False, "planner",
        )  # fmt: skip
        number = made.json()["id"]
        changes = reverse("api:variant-changes", args=[number])

        planned = body(api, two[1])
        for station in planned["stations"]:
            for name in ("tx_frequency_mhz", "rx_frequency_mhz"):
                station[name] = str(float(station[name]) + 1)
        sent = api.post(changes, {"kind": "change", "link": two[1].pk, "planned": planned}, format="json")
        assert sent.status_code == 201, sent.json()
        told = sent.json()["planned"]
        assert [s["tx_frequency_mhz"] for s in told["stations"]] == ["411.00000", "421.00000"]
        assert [s["id"] for s in told["stations"]] == [s["id"] for s in planned["stations"]]
        assert set(planned) - set(told) <= {"id", "version", "created_at", "changed_at"}

        fresh = body(api, two[0])
        fresh |= {"code": "L-9", "status": "planned"}
        for station in fresh["stations"]:
            station.pop("id")
        sent = api.post(changes, {"kind": "add", "planned": fresh}, format="json")
        assert sent.status_code == 201, sent.json()
        sent = api.post(changes, {"kind": "retire", "link": two[0].pk}, format="json")
        assert (sent.status_code, sent.json()["last_day"]) == (201, "2027-02-28")
        assert not Link.objects.filter(code="L-9").exists()
        assert Station.objects.filter(tx_frequency_hz=411_000_000).count() == 0

        asked = api.post(reverse("api:variant-check", args=[number]))
        assert (asked.status_code, asked.json()["kind"]) == (202, "check_variant")
        jobs.run_job(Job.objects.get(kind="check_variant").pk)
        read = api.get(reverse("api:variant-detail", args=[number])).json()
        assert read["checked"] is True
        gone = api.get(reverse("api:variant-findings", args=[number]), {"standing": "gone"}).json()
        assert gone["count"] == read["check_made"]["counts"]["gone"] > 0
        assert all(f["margin"] is None and f["standing"] == "gone" for f in gone["results"])

        accepted = api.post(
            reverse("api:variant-accept", args=[number]), {"reason": "Agreed."}, format="json"
        )
        assert (accepted.status_code, accepted.json()["status"]) == (200, "accepted")
        assert Link.objects.filter(code="L-9").exists()
        assert Station.objects.filter(tx_frequency_hz=411_000_000).count() == 1
        again = api.post(reverse("api:variant-drop", args=[number]))
        assert again.status_code == 409

    def test_what_is_wrong_with_a_planned_link_is_said_where_it_stands(
        self, register: Register, two: list[Link]
    ) -> None:
        api = client_of("planner")
        variant = variants.draw_up(
            Variant(name="Spring works", as_of=dt.date(2027, 3, 1)),
            by=person_of_role("planner", username="pia"),
        )
        changes = reverse("api:variant-changes", args=[variant.pk])
        planned = body(api, two[1])
        planned["stations"][0]["tx_power_dbm"] = 400
        sent = api.post(changes, {"kind": "change", "link": two[1].pk, "planned": planned}, format="json")
        assert sent.status_code == 400
        assert "planned" in str(sent.json()) and "stations.0" in str(sent.json())
        planned = body(api, two[1])
        planned.pop("version")
        sent = api.post(changes, {"kind": "change", "link": two[1].pk, "planned": planned}, format="json")
        assert sent.status_code == 428
        for wrong, field in (
            ({"kind": "retire"}, "link"),
            ({"kind": "add"}, "planned"),
            ({"kind": "add", "planned": {}, "link": two[0].pk}, "link"),
            ({"kind": "change", "link": two[0].pk, "planned": planned, "last_day": "2027-01-01"}, "last_day"),
            ({"kind": "split"}, "kind"),
        ):
            sent = api.post(changes, wrong, format="json")
            assert sent.status_code == 400
            assert field in str(sent.json())
        assert (
            api.get(reverse("api:variant-findings", args=[variant.pk]), {"standing": "x"}).status_code == 400
        )
        assert not PlannedChange.objects.exists()

    def test_a_planned_change_of_another_variant_is_not_found(self, two: list[Link]) -> None:
        pia = person_of_role("planner", username="pia")
        one, other = (
            variants.draw_up(Variant(name=name, as_of=dt.date(2027, 3, 1)), by=pia)
            for name in ("One", "Other")
        )
        change = variants.retire_link(one, two[0], by=pia)
        api = client_of("planner")
        assert api.delete(reverse("api:variant-change", args=[other.pk, change.pk])).status_code == 404
        assert api.delete(reverse("api:variant-change", args=[one.pk, change.pk])).status_code == 204


class TestPages:
    def test_one_draws_it_up_and_another_goes_on_with_it(self, register: Register, two: list[Link]) -> None:
        paul = page("planner", "paul")
        answer = paul.post(reverse("variant-add"), {"name": "Spring works", "as_of": "2027-03-01"})
        variant = Variant.objects.get()
        assert answer["Location"] == reverse("variant", args=[variant.pk])
        paul.post(reverse("variant-retire", args=[variant.pk]), {"code": "l-0"})
        to_form = paul.post(reverse("variant-open-link", args=[variant.pk]), {"code": "L-1"})
        form_address = reverse("variant-link-change", args=[variant.pk, two[1].pk])
        assert to_form["Location"] == form_address

        pia = page("planner", "pia")
        form = pia.get(form_address)
        assert "not into the register" in text(form)
        sent = fields_of(form) | {"a-tx_frequency_mhz": "411", "a-rx_frequency_mhz": "421",
                                  "b-tx_frequency_mhz": "421", "b-rx_frequency_mhz": "411"}  # fmt: skip
        assert pia.post(form_address, sent)["Location"] == reverse("variant", args=[variant.pk])
        assert set(Station.objects.filter(link=two[1]).values_list("tx_frequency_hz", flat=True)) == {
            410_000_000, 420_000_000,
        }  # fmt: skip
        shown = text(pia.get(reverse("variant", args=[variant.pk])))
        assert "410.00000 MHz → 411.00000 MHz" in shown
        assert "has not been checked as it is drawn up now" in shown
        assert "last day 2027-02-28" in shown

        job = pia.post(reverse("variant-check", args=[variant.pk]))
        assert "/jobs/" in job["Location"]
        jobs.run_job(Job.objects.get(kind="check_variant").pk)
        assert reverse("variant", args=[variant.pk]) in text(pia.get(job["Location"]))
        shown = text(paul.get(reverse("variant", args=[variant.pk])))
        assert "would be gone" in shown
        finding = variants.findings_of(variant).filter(standing="gone", kind="co_channel")[0]
        assert finding.headline in shown
        arithmetic = text(paul.get(reverse("variant-finding", args=[variant.pk, finding.pk])))
        assert arithmetic.count("<tr class=") == len(finding.evidence)

        assert "accepted into the register" not in shown
        paul.post(reverse("variant-accept", args=[variant.pk]), {"reason": "Agreed."})
        shown = text(page("viewer").get(reverse("variant", args=[variant.pk])))
        assert "It was accepted by paul" in shown
        assert "Agreed." in shown
        assert set(Station.objects.filter(link=two[1]).values_list("tx_frequency_hz", flat=True)) == {
            411_000_000, 421_000_000,
        }  # fmt: skip

    def test_a_new_link_is_planned_on_the_form_of_links(self, register: Register, two: list[Link]) -> None:
        client = page("planner")
        client.post(reverse("variant-add"), {"name": "Spring works", "as_of": "2027-03-01"})
        variant = Variant.objects.get()
        form = client.get(reverse("link-change", args=[two[0].pk]))
        sent = {name: value for name, value in fields_of(form).items() if name != "version"} | {"code": "L-9"}
        address = reverse("variant-link-add", args=[variant.pk])
        assert client.post(address, sent | {"a-tx_power_dbm": "999 dBm"}).status_code == 422
        assert client.post(address, sent)["Location"] == reverse("variant", args=[variant.pk])
        assert [c.code for c in variant.changes.all()] == ["L-9"]
        assert not Link.objects.filter(code="L-9").exists()

    def test_what_cannot_be_done_is_said_on_the_page(self, two: list[Link]) -> None:
        client = page("planner")
        client.post(reverse("variant-add"), {"name": "Spring works", "as_of": "2027-03-01"})
        variant = Variant.objects.get()
        for name, sent, said in (
            ("variant-retire", {"code": "L-7"}, "There is no link with the code “L-7”"),
            ("variant-retire", {"code": "L-0", "last_day": "soon"}, "a date was expected"),
            ("variant-accept", {}, "plans no changes"),
        ):
            answer = client.post(reverse(name, args=[variant.pk]), sent, follow=True)
            assert said in text(answer)
        variants.retire_link(variant, two[0], by=person_of_role("planner", username="pia"))
        variants.check_variant(variant.pk)
        from spectrum.services import links

        links.set_status(two[0], "granted", by=TESTS)
        shown = text(client.get(reverse("variant", args=[variant.pk])))
        assert "The link was changed after this was drawn up" in shown
        assert "The register was changed 1 time since this check" in shown
        answer = client.post(reverse("variant-accept", args=[variant.pk]), follow=True)
        assert "Nothing of the variant was accepted" in text(answer)
        answer = client.post(reverse("variant-drop", args=[variant.pk]), {"reason": "Too late."}, follow=True)
        assert "It was dropped by planner" in text(answer)
        assert "Accept the variant" not in text(answer)


def fields_of(answer: Any) -> dict[str, str]:
    """What a browser would send of the form of a link, as it was served."""
    entry = answer.context["entry"]
    sent: dict[str, str] = {}
    for form in entry.all_forms:
        for bound in form:
            value = bound.value()
            if value not in (None, "", False):
                sent[bound.html_name] = str(value)
    return sent
