"""Pages, files and API as of a day: clearly marked, nothing can be done there, and what is no day is said."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from licences.models import Licence, LicensedChannel
from sites.models import ChangeRecord, Person, Site
from sites.services import record
from sites.services.acts import own_act
from sites.services.record import Author
from spectrum.models import Link, Station
from spectrum.services.links import remove_link, save_link
from tests.made import DAY, Register, person, site

pytestmark = pytest.mark.django_db
START = dt.date(2026, 1, 10)
SHOWS = ("spectrum.view_link", "spectrum.view_station", "places.view_site", "licences.view_licence")
MORE = (
    "licences.view_licensedchannel",
    "places.view_changerecord",
    "spectrum.add_link",
    "spectrum.view_finding",
)


def on(day: dt.date) -> Any:
    return time_machine.travel(dt.datetime.combine(day, dt.time(12), dt.UTC), tick=False)


class Story:
    """Entered on the 10th of January, changed on the 20th by Anna, a link removed on the 25th; read in February."""

    def __init__(self) -> None:
        with on(START):
            self.anna = person("anna", *SHOWS, *MORE, first_name="Anna", last_name="Auer")
            register = Register()
            self.link = register.link(
                "T-1", site("S1"), site("S2"), name="first name", reserved_until=START + 90 * DAY
            )
            self.gone = register.link("T-2", site("S3"), site("S4"), name="was here")
            self.gone_id = self.gone.pk
            self.licence = register.licence("L-1", expires_on=START + 60 * DAY)
            register.channel(self.licence, site=Site.objects.get(code="S1"))
        with on(START + 10 * DAY), own_act():
            link = Link.objects.get(pk=self.link.pk)
            stations = list(link.stations.order_by("label"))
            stations[0].antenna_height_agl_m = 33.5
            link.name = "second name"
            save_link(link, stations, by=Author.of(self.anna), clashes_are_findings=True)
            record.change(Site.objects.get(code="S4"), by=Author.of(self.anna))
        with on(START + 15 * DAY):
            remove_link(Link.objects.get(pk=self.gone_id), by=Author.of(self.anna))


@pytest.fixture
def story() -> Any:
    made = Story()
    with on(START + 30 * DAY):
        yield made


@pytest.fixture
def pages(story: Story) -> Client:
    client = Client()
    client.force_login(story.anna)
    return client


def text_of(client: Client, address: str, status: int = 200) -> str:
    answer = client.get(address)
    assert answer.status_code == status, answer.content.decode()[:2000]
    return answer.content.decode()


def test_a_list_shows_what_stood_in_it_then(pages: Client) -> None:
    address = reverse("link-list")
    then = text_of(pages, f"{address}?as_of=2026-01-15")
    assert "As it stood at the end of 2026-01-15 (UTC)" in then
    assert "first name" in then and "was here" in then and "second name" not in then
    now = text_of(pages, address)
    assert "second name" in now and "was here" not in now
    assert "Nothing of this kind stood in the register on 2026-01-09" in text_of(
        pages, f"{address}?as_of=2026-01-09"
    )


def test_nothing_can_be_done_from_a_list_of_a_day_and_it_leads_on_to_the_same_day(
    pages: Client, story: Story
) -> None:
    then = text_of(pages, f"{reverse('link-list')}?as_of=2026-01-15&q=T-1")
    assert reverse("link-add") not in then
    assert f"{reverse('link', args=[story.link.pk])}?as_of=2026-01-15" in then
    assert "must fix" not in then and 'name="findings"' not in then
    assert reverse("link-add") in text_of(pages, reverse("link-list"))


def test_files_are_of_the_day_and_say_so(pages: Client) -> None:
    answer: Any = pages.get(f"{reverse('link-list')}?as_of=2026-01-15&format=csv")
    assert "links-as-of-2026-01-15.csv" in answer["Content-Disposition"]
    content = b"".join(answer.streaming_content).decode()
    assert "was here" in content and "as_of" in content.splitlines()[0]
    assert content.splitlines()[1].rstrip().endswith("2026-01-15")
    book: Any = pages.get(f"{reverse('link-list')}?as_of=2026-01-15&format=xlsx")
    sheet = load_workbook(io.BytesIO(b"".join(book.streaming_content))).active
    assert [row[0].value for row in sheet.iter_rows(min_row=2)] == ["T-1", "T-2"]
    drawn: Any = pages.get(f"{reverse('link-list')}?as_of=2026-01-15&format=geojson")
    assert b'"T-2"' in b"".join(drawn.streaming_content)


def test_the_whole_register_can_be_taken_out_as_of_a_day(pages: Client) -> None:
    address = reverse("register-file", args=["xlsx"])
    answer: Any = pages.get(f"{address}?as_of=2026-01-15")
    assert "register-as-of-2026-01-15.xlsx" in answer["Content-Disposition"]
    links = load_workbook(io.BytesIO(b"".join(answer.streaming_content)))["links"]
    assert {row[0].value for row in links.iter_rows(min_row=2)} == {"T-1", "T-2"}
    assert "Nothing was taken out." in text_of(pages, f"{address}?as_of=soon", 422)


@pytest.mark.parametrize("typed", ["soon", "2026-02-30", "1800-01-01", "9999-12-31"])
def test_what_is_no_day_is_said_and_nothing_is_exported(typed: str, pages: Client, story: Story) -> None:
    said = text_of(pages, f"{reverse('link-list')}?as_of={typed}")
    assert "was given as a day" in said and "as it stands today" in said and "second name" in said
    assert pages.get(f"{reverse('link-list')}?as_of={typed}&format=csv").status_code == 422
    assert "was given as a day" in text_of(
        pages, f"{reverse('link', args=[story.link.pk])}?as_of={typed}", 422
    )
    answer = pages.get(f"/api/v1/links/?as_of={typed}")
    assert answer.status_code == 400 and answer.json()["errors"][0]["field"] == "as_of"


def test_the_page_of_an_object_shows_then_beside_now(pages: Client, story: Story) -> None:
    then = text_of(pages, f"{reverse('link', args=[story.link.pk])}?as_of=2026-01-15")
    assert "1 field of it differs from today" in then
    assert "first name" in then and "<strong>second name</strong>" in then
    assert "Entered on 2026-01-10 by tests" in then
    assert "20.0 <strong>(today 33.5)</strong>" in then  # the antenna's height
    assert "Of what belonged to it, 1 is not the same today." in then
    assert reverse("link-change", args=[story.link.pk]) not in then
    assert "hx-post" not in then and 'method="post"' not in then.replace(
        'action="/sign-out/" method="post"', ""
    )


def test_a_removed_object_can_still_be_read_as_of_a_day(pages: Client, story: Story) -> None:
    address = reverse("link", args=[story.gone_id])
    assert pages.get(address).status_code == 404
    then = text_of(pages, f"{address}?as_of=2026-01-15")
    assert "It is no longer in the register." in then and "S3" in then
    late = text_of(pages, f"{address}?as_of=2026-01-26", 404)
    assert "it was removed on 2026-01-25 by Anna Auer" in late
    early = text_of(pages, f"{address}?as_of=2026-01-02", 404)
    assert "T-2 did not exist yet on 2026-01-02: it was entered on 2026-01-10 by tests." in early
    assert pages.get(f"{reverse('link', args=[987654])}?as_of=2026-01-15").status_code == 404


def test_every_kind_of_object_has_a_page_of_a_day(pages: Client, story: Story, admin_client: Client) -> None:
    channel, station = LicensedChannel.objects.get(), Station.objects.first()
    assert station is not None
    for name, obj in {
        "site": Site.objects.get(code="S1"),
        "licence": story.licence,
        "licensed-channel": channel,
        "authority": story.licence.authority,
        "holder": story.licence.holder,
        "antenna-type": station.antenna_type,
        "radio-type": station.radio_type,
        "link": story.link,
    }.items():
        text_of(admin_client, f"{reverse(name, args=[obj.pk])}?as_of=2026-01-15")
        text_of(admin_client, f"{reverse(name, args=[obj.pk])}?as_of=2026-04-15")
        text_of(admin_client, f"{reverse(name + '-list')}?as_of=2026-01-15")
        text_of(admin_client, f"{reverse(name + '-list')}?as_of=2026-04-15")


def test_a_coming_day_takes_the_dates_into_account(pages: Client, story: Story) -> None:
    ahead = text_of(pages, f"{reverse('link', args=[story.link.pk])}?as_of=2026-04-15")
    assert "As it will stand on 2026-04-15" in ahead and "reservation lapsed" in ahead
    listed = text_of(pages, f"{reverse('link-list')}?as_of=2026-04-15&status=lapsed")
    assert "T-1" in listed
    licence = reverse("licence", args=[story.licence.pk])
    assert "expired" in text_of(pages, f"{licence}?as_of=2026-04-15")
    assert "expired" in text_of(pages, f"{reverse('licence-list')}?as_of=2026-04-15")
    assert "expired" not in text_of(pages, f"{licence}?as_of=2026-02-20")


def test_the_api_takes_as_of(pages: Client, story: Story) -> None:
    listed = pages.get("/api/v1/links/?as_of=2026-01-15&ordering=code").json()
    assert [row["name"] for row in listed["results"]] == ["first name", "was here"]
    one = pages.get(f"/api/v1/links/{story.link.pk}/?as_of=2026-01-15")
    assert one.json()["name"] == "first name" and one.json()["version"] == 0 and "ETag" not in one
    assert "ETag" in pages.get(f"/api/v1/links/{story.link.pk}/")
    early = pages.get(f"/api/v1/links/{story.link.pk}/?as_of=2026-01-02")
    assert early.status_code == 404 and "did not exist yet on 2026-01-02" in early.json()["detail"]
    assert [s["code"] for s in pages.get("/api/v1/sites/?as_of=2026-01-09").json()["results"]] == []
    ahead = pages.get(f"/api/v1/links/{story.link.pk}/?as_of=2026-04-15").json()
    assert ahead["status"] == "lapsed"


def test_the_api_refuses_a_day_where_it_means_nothing(pages: Client, story: Story) -> None:
    assert pages.get("/api/v1/findings/?as_of=2026-01-15").status_code == 400
    client = Client()
    assert client.get("/api/v1/links/?as_of=2026-01-15").status_code == 401
    answer = pages.delete(f"/api/v1/links/{story.link.pk}/?as_of=2026-01-15")
    assert answer.status_code in (400, 403)
    assert Link.objects.filter(pk=story.link.pk).exists()


def test_what_changed_between_two_days_act_by_act(pages: Client, story: Story) -> None:
    address = reverse("change-list")
    found = text_of(pages, f"{address}?since=2026-01-20&until=2026-01-20")
    assert "2 changes from 2026-01-20 to the end of 2026-01-20 (UTC), in 1 act by 1 person" in found
    assert "2 entries" in found and "20.0 → 33.5" in found
    act = ChangeRecord.objects.filter(by=story.anna).order_by("id").first()
    assert act is not None and f"{address}?act={act.act}" in found
    assert "T-2" not in text_of(pages, f"{address}?act={act.act}")


def test_changes_of_one_field_or_person(pages: Client, story: Story) -> None:
    address = reverse("change-list")
    heights = text_of(pages, f"{address}?field=antenna height above&since=2026-01-15&until=2026-01-22")
    assert "20.0 → 33.5" in heights and "second name" not in heights
    assert "fits this filter" in text_of(pages, f"{address}?field=nothing of that name")
    assert "fits this filter" in text_of(pages, f"{address}?by=anna&until=2026-01-12")
    wrong = text_of(pages, f"{address}?since=2026-02-01&until=2026-01-01")
    assert "the first is after the last" in wrong
    rows: Any = pages.get(f"{address}?since=2026-01-20&until=2026-01-20&format=csv")
    assert b"".join(rows.streaming_content).count(b"Anna Auer") == 2  # in a file every row names who and when


def test_an_object_leads_to_its_changes_only_for_who_may_read_them(pages: Client, story: Story) -> None:
    address = reverse("link", args=[story.link.pk])
    assert f"object_id={story.link.pk}" in text_of(pages, address)
    reader = person("reader", "spectrum.view_link")
    other = Client()
    other.force_login(reader)
    assert "What was changed on it" not in text_of(other, address)
    assert "changes since" not in text_of(other, f"{address}?as_of=2026-01-15")


def test_reading_a_day_leaves_nothing_behind(pages: Client, story: Story) -> None:
    assert Person.objects.count() == 1 and Licence.objects.count() == 1
    before = ChangeRecord.objects.count()
    text_of(pages, f"{reverse('link-list')}?as_of=2026-01-09")
    text_of(pages, f"{reverse('link-list')}?as_of=2026-01-09")
    assert (Link.objects.count(), ChangeRecord.objects.count()) == (1, before)
