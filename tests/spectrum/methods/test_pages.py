"""The pages on the formulas as a signed-in person meets them."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from spectrum.methods import Asked, is_from_the_register, method_of, topics
from spectrum.models import Finding
from spectrum.services.checks import check_network
from spectrum.templatetags.methods import plain
from tests.made import DAY, TODAY, Register, person, site

pytestmark = pytest.mark.django_db


class Links(HTMLParser):
    """Addresses that a page leads to, and the marks that others may lead to."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.hrefs: list[str] = []
        self.ids: set[str] = set()
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if tag == "a":
            self.hrefs.append(values["href"])
        if "id" in values:
            self.ids.add(values["id"])


@pytest.fixture
def reader() -> Client:
    client = Client()
    client.force_login(person("reader", "spectrum.view_finding", "spectrum.view_link", "places.view_site"))
    return client


def shown(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, address
    return answer.content.decode()


def test_every_method_has_a_page_that_shows_its_docstring_and_no_link_is_dead(reader):
    pages = {reverse("methods"): shown(reader, reverse("methods"))}
    for topic in topics():
        for one in topic.methods:
            address = reverse("method", args=[one.slug])
            pages[address] = page = shown(reader, address)
            assert page.count("<h1>") == 1
            for heading in ("Source", "Range", "Known disagreements"):
                assert f"<h2>{heading}</h2>" in page
            words = re.findall(r"[A-Za-z]{3,}", plain(one.text.section("Source")))
            assert all(word in page for word in words), one.slug
            assert ":func:" not in page.split("The calculation as it runs")[0]
            assert "``" not in page.split("The calculation as it runs")[0]
    linked = {href for page in pages.values() for href in Links(page).hrefs}
    inside = {href for href in linked if href.startswith(reverse("methods"))}
    assert len(inside) > len(pages)
    for href in inside:
        address, _, mark = href.partition("#")
        assert address in pages, href
        assert not mark or mark in Links(pages[address]).ids, href


def test_an_unknown_method_is_not_found(reader):
    assert reader.get(reverse("method", args=["no-such-method"])).status_code == 404


@pytest.fixture
def conflicts() -> list[Finding]:
    """Findings of every group: three links on one channel, one of them off its licence and its raster."""
    made = Register()
    places = [site(f"P{number}", 47.0 + number / 50) for number in range(6)]
    licence = made.licence("1", expires_on=TODAY + 10 * DAY)
    channel = made.channel(
        licence,
        site=places[0],
        power_limit_dbm=30.0,
        emission_designators=["11K0F1D"],
        channel_width_hz=12_500,
    )
    made.link("L-1", *places[:2], stations={"licensed_channel": channel})
    made.link("L-2", *places[2:4])
    made.link("L-3", *places[4:], stations={"tx_power_dbm": 60.0})
    check_network(as_of=TODAY)
    return list(Finding.objects.all())


def test_every_row_of_evidence_leads_to_a_method_or_to_the_register(conflicts):
    kinds = {finding.kind for finding in conflicts}
    assert {"co_channel", "aggregate", "licence_power", "equipment_limits"} <= kinds
    nowhere = []
    for finding in conflicts:
        for row in finding.evidence:
            asked = Asked(row["name"], row["source"], row["role"], finding.kind)
            if method_of(asked) is None and not is_from_the_register(asked):
                nowhere.append((finding.kind, row["name"], row["source"]))
    assert nowhere == []


def test_the_arithmetic_of_a_finding_links_each_source_to_its_formula(reader, conflicts):
    finding = next(one for one in conflicts if one.kind == "co_channel")
    page = shown(reader, reverse("finding", args=[finding.pk]))
    wanted = {
        found.slug
        for row in finding.evidence
        if (found := method_of(Asked(row["name"], row["source"], row["role"], finding.kind)))
    }
    assert len(wanted) >= 8
    assert {reverse("method", args=[slug]) for slug in wanted} <= set(Links(page).hrefs)


def test_a_limit_of_a_licence_leads_to_the_comparison(reader, conflicts):
    finding = next(one for one in conflicts if one.kind == "licence_power")
    page = shown(reader, reverse("finding", args=[finding.pk]))
    assert reverse("method", args=["limits-compare"]) in Links(page).hrefs


def test_the_columns_of_a_link_lead_to_their_formulas(reader, conflicts):
    page = shown(reader, reverse("link", args=[conflicts[0].link_id]))
    for slug in ("geodesy-inverse", "power-eirp-dbm", "limits-compare", "emissions-explain"):
        assert reverse("method", args=[slug]) in Links(page).hrefs
