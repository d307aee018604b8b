"""Applications, documents, variants, the search and home as of a day, each against a replay of the change record."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from licences.models import Application
from sites.models import Document, Site
from sites.services import record
from sites.services.documents import attach, new_document
from sites.services.record import Author
from spectrum.models import InterferenceEntry, Link
from spectrum.services import applications, variants
from spectrum.services.links import remove_link, save_link
from tests.documents import PDF, own_folder
from tests.made import DAY, TESTS, Register, site
from tests.replaying import replayed
from tests.small_register import person_of_role
from tests.spectrum.test_pages_of_a_day import on, text_of

pytestmark = pytest.mark.django_db
START = dt.date(2026, 1, 10)
BEFORE, FIRST, SECOND, NOW = START - DAY, START + 5 * DAY, START + 12 * DAY, START + 30 * DAY
DAYS = (BEFORE, START, FIRST, SECOND, START + 16 * DAY)


class Story:
    """All entered on the 10th of January, changed on the 20th, in part removed on the 25th; read in February."""

    def __init__(self) -> None:
        with on(START):
            register = Register()
            self.clara = person_of_role("administrator", username="clara")
            self.link = register.link("T-1", site("S1"), site("S2", 47.2), name="first name")
            self.gone = register.link("T-2", site("S3"), site("S4", 47.4), name="was here")
            self.licence = register.licence("L-1", expires_on=START + 20 * DAY)
            self.application = applications.draw_up(
                Application(
                    number="A-2026-001",
                    authority=register.authority,
                    holder=register.own,
                    remarks="first remark",
                ),
                [self.link],
                by=Author.of(self.clara),
                today=START,
            )
            place = Site.objects.get(code="S1")
            self.letter = attach(
                new_document(place, title="First title"), [PDF], "letter.pdf", by=Author.of(self.clara)
            )
            self.variant = variants.draw_up(_variant(), by=self.clara)
            link = Link.objects.get(pk=self.link.pk)
            stations = list(link.stations.order_by("label"))
            stations[0].antenna_height_agl_m = 33.5
            variants.change_link(self.variant, link, stations, by=self.clara, expected_version=link.version)
            self.entry = record.create(
                InterferenceEntry(link=self.link, began_on=START, observed="a hum"), by=TESTS
            )
        with on(START + 10 * DAY):
            link = Link.objects.get(pk=self.link.pk)
            link.name = "second name"
            save_link(link, list(link.stations.all()), by=TESTS, clashes_are_findings=True)
            application = Application.objects.get()
            application.remarks = "second remark"
            record.change(application, by=TESTS)
            letter = Document.objects.get()
            letter.title = "Second title"
            record.change(letter, by=TESTS)
            variants.drop(self.variant, by=self.clara, reason="not needed")
        with on(START + 15 * DAY):
            remove_link(Link.objects.get(pk=self.gone.pk), by=TESTS)
            self.letter_id = self.letter.pk
            record.remove(Document.objects.get(), by=TESTS)


def _variant() -> Any:
    from spectrum.models import Variant

    return Variant(name="Spring works", as_of=dt.date(2026, 6, 1))


@pytest.fixture
def story(settings: Any, tmp_path: Path) -> Any:
    own_folder(settings, tmp_path)
    made = Story()
    with on(NOW):
        yield made


@pytest.fixture
def pages(story: Story) -> Client:
    client = Client()
    client.force_login(story.clara)
    return client


@pytest.mark.parametrize(
    ("name", "label", "field"),
    [
        ("application", "licences.application", "remarks"),
        ("document", "places.document", "title"),
        ("variant", "spectrum.variant", "status"),
    ],
)
def test_a_page_shows_what_a_replay_of_the_change_record_gives(
    name: str, label: str, field: str, pages: Client, story: Story
) -> None:
    pk = {"application": story.application.pk, "document": story.letter_id, "variant": story.variant.pk}[name]
    seen = set()
    for day in DAYS:
        stood = replayed(day)[label].get(pk)
        answer = pages.get(f"{reverse(name, args=[pk])}?as_of={day}")

        assert answer.status_code == (200 if stood else 404)
        if stood:
            words = {"open": "being drawn up", "dropped": "dropped"}.get(stood[field], stood[field])
            shown = {value.label: value.then for value in answer.context["values"]}
            assert shown[field] == words
            assert f"As it stood at the end of {day} (UTC)" in answer.content.decode()
            listed = text_of(pages, f"{reverse(name + '-list')}?as_of={day}")
            assert f"{reverse(name, args=[pk])}?as_of={day}" in listed
            seen.add(words)
    assert len(seen) == 2, "the days tell a difference"


def test_the_pages_of_a_day_do_nothing_and_lead_on_to_the_same_day(pages: Client, story: Story) -> None:
    for name, pk in (
        ("application", story.application.pk),
        ("document", story.letter_id),
        ("variant", story.variant.pk),
        ("interference-entry", story.entry.pk),
    ):
        page = text_of(pages, f"{reverse(name, args=[pk])}?as_of={FIRST}")
        main = page[page.index("<main") :]
        assert 'method="post"' not in main and "hx-post" not in main
        led = re.findall(r'href="(/(?:links|sites|applications)/\d+/[^"]*)"', main)
        assert [address for address in led if not address.endswith(f"?as_of={FIRST}")] in (
            [],
            [reverse(name, args=[pk])],
        )


def test_a_variant_says_what_it_planned_against_the_register_of_that_day(pages: Client, story: Story) -> None:
    page = text_of(pages, f"{reverse('variant', args=[story.variant.pk])}?as_of={FIRST}")
    assert "link changed: T-1" in page and "20.0 → 33.5" in page
    late = text_of(pages, f"{reverse('variant', args=[story.variant.pk])}?as_of={SECOND}")
    assert "link changed: T-1" in late and "20.0 → 33.5" not in late  # it was dropped by then


def test_a_document_names_what_it_belonged_to_and_is_named_there(pages: Client, story: Story) -> None:
    page = text_of(pages, f"{reverse('document', args=[story.letter_id])}?as_of={FIRST}")
    assert "It is no longer in the register." in page and "First title" in page and "site S1" in page
    site_page = text_of(pages, f"{reverse('site', args=[Site.objects.get(code='S1').pk])}?as_of={FIRST}")
    assert "Documents that referred to it" in site_page and "First title" in site_page
    assert pages.get(f"{reverse('document', args=[987_654])}?as_of={FIRST}").status_code == 404


def test_a_removed_document_is_shown_only_to_who_may_see_what_it_belonged_to(story: Story) -> None:
    from tests.made import person

    reader = Client()
    reader.force_login(person("reader", "places.view_document", "licences.view_licence"))
    assert reader.get(f"{reverse('document', args=[story.letter_id])}?as_of={FIRST}").status_code == 403


def codes_found(client: Client, day: dt.date, typed: str) -> set[str]:
    groups = client.get(reverse("search"), {"q": typed, "as_of": str(day)}).context["groups"]
    return {str(found) for title, _needs, objects in groups for found in objects if title == "Links"}


def test_the_search_finds_what_a_replay_of_the_change_record_gives(pages: Client, story: Story) -> None:
    for day in DAYS:
        stood = replayed(day)["spectrum.link"].values()
        for typed in ("T-", "first", "second name", "was here"):
            expected = {row["code"] for row in stood if typed in row["code"] or typed in row["name"]}
            assert codes_found(pages, day, typed) == expected


def test_what_was_filed_is_read_without_the_marks_of_a_programme(pages: Client, story: Story) -> None:
    application = Application.objects.get()
    application.filed_as = {
        "asked": ["purpose", "tx_site"],
        "values": {"purpose": "polling", "height_m": 12.5},
    }
    record.change(application, by=TESTS)
    page = text_of(pages, f"{reverse('application', args=[story.application.pk])}?as_of={NOW}")
    assert "asked: purpose, tx_site; values: purpose: polling; height m: 12.5" in page


def test_a_search_of_a_day_says_so_leads_on_and_is_kept_for_the_next(pages: Client, story: Story) -> None:
    address = f"{reverse('search')}?q=410.000&as_of={FIRST}"
    page = text_of(pages, address)
    assert f"As it stood at the end of {FIRST} (UTC)" in page
    assert f"{reverse('link', args=[story.gone.pk])}?as_of={FIRST}" in page  # a station on that frequency
    assert page.count(f'<input type="hidden" name="as_of" value="{FIRST}">') == 1
    nothing = text_of(pages, f"{reverse('search')}?q=T-2&as_of={NOW}")
    assert "Nothing that stood in the register on that day carries this." in nothing
    wrong = text_of(pages, f"{reverse('search')}?q=T-1&as_of=soon")
    assert "was given as a day" in wrong and "shown as it stands today" in wrong


def test_home_counts_what_a_replay_of_the_change_record_gives(pages: Client, story: Story) -> None:
    for day in DAYS:
        stood = replayed(day)
        context = pages.get(reverse("home"), {"as_of": str(day)}).context
        assert {str(noun): count for noun, count, _ in context["held"]} == {
            "sites": len(stood["places.site"]),
            "links": len(stood["spectrum.link"]),
            "licences": len(stood["licences.licence"]),
        }


def test_home_of_a_day_shows_what_was_due_then_and_says_what_is_not_kept(pages: Client, story: Story) -> None:
    then = text_of(pages, f"{reverse('home')}?as_of={FIRST}&whose=all")
    assert f"What was there on {FIRST}, and what was due?" in then
    assert "is known of now only" in then and "Worst first" not in then
    assert f"{reverse('link', args=[story.gone.pk])}?as_of={FIRST}" in then  # planned then, removed since
    assert "had run out" not in text_of(pages, f"{reverse('home')}?as_of={BEFORE}")
    ahead = text_of(pages, f"{reverse('home')}?as_of={NOW + 300 * DAY}")
    assert "What will there be" in ahead
    assert "was given as a day" in text_of(pages, f"{reverse('home')}?as_of=soon")


def test_what_has_no_meaning_on_a_day_is_refused_with_a_sentence(pages: Client, story: Story) -> None:
    for address in (
        reverse("finding-list"),
        reverse("check-list"),
        reverse("completeness"),
        reverse("link-add"),
        reverse("application-pdf", args=[story.application.pk]),
        reverse("link-commissioning", args=[story.link.pk]),
    ):
        page = text_of(pages, f"{address}?as_of={FIRST}", 422)
        assert "cannot be had as of another day" in page and f"“{FIRST}” was asked for" in page


@pytest.mark.parametrize("name", ["search", "home", "application-list", "document-list", "variant-list"])
def test_the_number_of_queries_does_not_grow_with_the_register(
    name: str, pages: Client, story: Story
) -> None:
    address = f"{reverse(name)}?as_of={NOW - 2 * DAY}&q=T"
    text_of(pages, address)

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            text_of(pages, address)
        return len(queries)

    def more(first: int, last: int) -> None:
        with on(NOW - 3 * DAY):
            register = story.application.authority
            for n in range(first, last):
                link = Link.objects.get(pk=story.link.pk)
                stations = list(link.stations.order_by("label"))
                for station in stations:
                    station.pk, station._state.adding = None, True
                    station.tx_frequency_hz = 411_000_000 + n * 100_000
                    station.rx_frequency_hz = 421_000_000 + n * 100_000
                new = Link(code=f"T-M{n}", holder=link.holder)
                save_link(new, stations, by=TESTS, clashes_are_findings=True)
                applications.draw_up(
                    Application(number=f"A-T{n}", authority=register, holder=link.holder),
                    [new],
                    by=TESTS,
                    today=START,
                )
                variants.draw_up(_named(n), by=story.clara)
                attach(new_document(new, title=f"T{n}"), [PDF], "a.pdf", by=TESTS)

    more(0, 2)
    few = count()
    more(2, 8)
    assert count() == few


def _named(number: int) -> Any:
    made = _variant()
    made.name = f"T variant {number}"
    return made
