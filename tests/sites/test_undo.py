"""What a person just did can be taken back for as long as nobody built on it, and that is recorded too."""

from __future__ import annotations

import threading
import uuid
from typing import Any

import pytest
from django.db import connection, connections
from django.test import Client
from django.urls import reverse

from licences.life import Step, Taken
from licences.models import Licence, LicenceEvent, LicensedChannel
from licences.services import life
from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import ChangeRecord, Person, Site
from sites.services import acts, jobs, record, undo
from sites.services.record import Author
from spectrum.models import Finding, Link, Station
from spectrum.services import findings, links
from spectrum.services.held_pairs import PairHeldError
from spectrum.services.reservations import release
from tests.made import DAY, TESTS, TODAY, Register, person, site
from tests.small_register import person_of_role, small_register

pytestmark = pytest.mark.django_db


@pytest.fixture
def ada() -> Person:
    return person_of_role("administrator")


@pytest.fixture(autouse=True)
def no_checks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "submit", lambda *args, **kwargs: None)


def state(*objects: Any) -> list[dict[str, Any]]:
    return [record.snapshot(type(obj)._default_manager.get(pk=obj.pk)) for obj in objects]


def last_act() -> uuid.UUID:
    entry = ChangeRecord.objects.first()
    assert entry is not None and entry.act is not None
    return entry.act


def rename(place: Site, name: str, by: Person) -> uuid.UUID:
    place = Site.objects.get(pk=place.pk)
    place.name = name
    record.change(place, by=Author.of(by))
    return last_act()


def test_the_entries_of_one_service_are_one_act_and_those_of_two_are_two() -> None:
    register = Register()
    register.link("L-1", site("S1"), site("S2", 47.2))
    of_link = ChangeRecord.objects.filter(object_type__in=("spectrum.link", "spectrum.station"))
    assert len(set(of_link.values_list("act", flat=True))) == 1
    places = ChangeRecord.objects.filter(object_type="places.site")
    assert len(set(places.values_list("act", flat=True))) == 2


def test_a_change_undone_is_as_before_and_recorded_as_a_change(ada: Person) -> None:
    place = site("S1")
    before = state(place)
    undone = undo.undo(rename(place, "Wrong", ada), by=ada)
    assert state(place) == before
    entry = ChangeRecord.objects.first()
    assert entry is not None
    assert (entry.action, entry.changes) == ("change", {"name": ["Wrong", "Place S1"]})
    assert entry.reason.startswith("undoing what was done on ")
    assert entry.by == ada
    assert undone.sentence.startswith("Undone: S1 Wrong is as before.")


def test_an_undo_can_be_undone(ada: Person) -> None:
    place = site("S1")
    undo.undo(rename(place, "Right after all", ada), by=ada)
    undo.undo(last_act(), by=ada)
    assert Site.objects.get().name == "Right after all"


def test_what_was_entered_is_removed_with_its_parts(ada: Person) -> None:
    register = Register()
    stations = register.stations(site("S1"), site("S2", 47.2))
    links.save_link(Link(code="L-1", holder=register.own), stations, by=Author.of(ada))
    undone = undo.undo(last_act(), by=ada)
    assert not Link.objects.exists()
    assert not Station.objects.exists()
    assert (undone.there, undone.object_type) == (False, "spectrum.link")


def test_what_was_removed_is_there_again_under_its_address_with_its_parts(ada: Person) -> None:
    register = Register()
    link = register.link("L-1", site("S1"), site("S2", 47.2), required_bit_rate_kbps=9.6)
    stations = list(link.stations.all())
    before = state(link, *stations)
    version = Link.objects.get().version
    links.remove_link(Link.objects.get(), by=Author.of(ada))
    undone = undo.undo(last_act(), by=ada)
    assert state(link, *stations) == before
    assert Link.objects.get().version > version
    assert undone.there and "old address" in undone.sentence


def test_a_licence_removed_comes_back_with_channels_that_are_pairs_and_stations_that_used_them(
    ada: Person,
) -> None:
    register = Register()
    a, b = site("S1"), site("S2", 47.2)
    licence = register.licence("9", yearly_fee="120.50")
    go = register.channel(licence, "go", site=a)
    back = register.channel(licence, "back", site=b, frequency_hz=420_000_000, paired_with=go)
    go.paired_with = back
    record.change(go, by=TESTS)
    link = register.link("L-1", a, b)
    station = link.stations.get(label="A")
    station.licensed_channel = go
    record.change(station, by=TESTS)
    before = state(licence, go, back, station)
    record.remove(Licence.objects.get(), by=Author.of(ada))
    assert Station.objects.get(pk=station.pk).licensed_channel_id is None
    undo.undo(last_act(), by=ada)
    assert state(licence, go, back, station) == before


def test_removing_a_channel_records_that_stations_no_longer_refer_to_it() -> None:
    register = Register()
    a, b = site("S1"), site("S2", 47.2)
    channel = register.channel(register.licence("9"), site=a)
    link = register.link("L-1", a, b, stations={"licensed_channel": channel})
    number = channel.pk
    record.remove(channel, by=TESTS)
    station = link.stations.get(label="A")
    entry = ChangeRecord.objects.filter(object_type="spectrum.station", object_id=station.pk).first()
    assert entry is not None
    assert entry.changes == {"licensed_channel_id": [number, None]}
    assert entry.object_version == station.version == 2


def test_an_accepted_finding_is_open_again() -> None:
    register = small_register()
    petra = person_of_role("planner")
    findings.accept(register.finding, reason="agreed", by=petra)
    undo.undo(last_act(), by=petra)
    stored = Finding.objects.get(pk=register.finding.pk)
    assert (stored.accepted_at, stored.accepted_by, stored.accepted_reason) == (None, None, "")


def test_undoing_a_status_takes_it_back(ada: Person) -> None:
    register = Register()
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    links.set_status(Link.objects.get(), "filed", by=Author.of(ada))
    undo.undo(last_act(), by=ada)
    assert Link.objects.get(pk=link.pk).status == "planned"


def test_a_step_of_a_licence_is_taken_back_with_the_dates_that_it_set(ada: Person) -> None:
    register = Register()
    licence = register.licence("9")
    before = state(licence)
    life.take_step(licence, Taken(step=Step.BRING_INTO_USE, on=TODAY), by=Author.of(ada), today=TODAY)
    assert state(licence) != before
    undo.undo(last_act(), by=ada)
    assert state(licence) == before
    assert not LicenceEvent.objects.exists()


def test_nothing_is_undone_when_somebody_changed_it_since(ada: Person) -> None:
    place, ben = site("S1"), person("ben")
    act = rename(place, "Hers", ada)
    rename(place, "His", ben)
    with pytest.raises(StaleWriteError, match=r"S1 His was changed by ben on .* after what you did"):
        undo.undo(act, by=ada)
    assert Site.objects.get().name == "His"


def test_nothing_is_undone_twice(ada: Person) -> None:
    act = rename(site("S1"), "Wrong", ada)
    undo.undo(act, by=ada)
    with pytest.raises(StaleWriteError, match="undoing what was done"):
        undo.undo(act, by=ada)


def test_a_link_whose_station_was_changed_since_is_left(ada: Person) -> None:
    register = Register()
    a, b = site("S1"), site("S2", 47.2)
    register.link("L-1", a, b)
    links.set_status(Link.objects.get(), "filed", by=Author.of(ada))
    act = last_act()
    link = Link.objects.get()
    stations = list(link.stations.all())
    stations[0].antenna_height_agl_m = 33.0
    links.save_link(link, stations, by=TESTS)
    with pytest.raises(StaleWriteError, match="L-1/A was changed by tests"):
        undo.undo(act, by=ada)
    stations[0].antenna_height_agl_m = 34.0


def test_a_link_of_which_a_station_was_removed_since_is_left(ada: Person) -> None:
    register = Register()
    register.link("L-1", site("S1"), site("S2", 47.2))
    links.set_status(Link.objects.get(), "filed", by=Author.of(ada))
    act = last_act()
    link = Link.objects.get()
    links.save_link(link, list(link.stations.filter(label="A")), by=TESTS)
    with pytest.raises(StaleWriteError, match="L-1/B was removed by tests"):
        undo.undo(act, by=ada)


def test_a_new_licence_that_somebody_gave_a_channel_stays(ada: Person) -> None:
    register = Register()
    licence = Licence(
        number="9", authority=register.authority, holder=register.own, granted_on=TODAY, in_force_from=TODAY
    )
    record.create(licence, by=Author.of(ada))
    act = last_act()
    register.channel(licence, site=site("S1"))
    with pytest.raises(StaleWriteError, match="was entered by tests"):
        undo.undo(act, by=ada)
    assert LicensedChannel.objects.count() == 1


def test_a_new_channel_that_somebody_uses_stays(ada: Person) -> None:
    register = Register()
    a, b = site("S1"), site("S2", 47.2)
    licence = register.licence("9")
    channel = LicensedChannel(
        licence=licence, label="1", site=a, frequency_hz=410_000_000, channel_width_hz=25_000
    )
    record.create(channel, by=Author.of(ada))
    act = last_act()
    register.link("L-1", a, b, stations={"licensed_channel": channel})
    with pytest.raises(StaleWriteError, match=r"L-1/A now belongs to .* or uses it"):
        undo.undo(act, by=ada)


def test_a_new_site_on_which_a_station_stands_stays_and_the_station_is_named(ada: Person) -> None:
    register = Register()
    place = Site(code="S1", name="Hill", latitude_deg=47.0, longitude_deg=14.0, position_typed="47, 14")
    record.create(place, by=Author.of(ada))
    act = last_act()
    register.link("L-1", place, site("S2", 47.2))
    with pytest.raises(RegisterError, match="still used by L-1/A"):
        undo.undo(act, by=ada)


def test_a_code_that_was_given_away_since_is_said(ada: Person) -> None:
    place = site("S1")
    record.remove(place, by=Author.of(ada))
    act = last_act()
    site("S1")
    with pytest.raises(RegisterError, match=r"Nothing was undone\. S1 Place S1: .*already exists"):
        undo.undo(act, by=ada)


def test_only_whoever_did_it_undoes_it(ada: Person) -> None:
    act = rename(site("S1"), "Hers", ada)
    with pytest.raises(NotAllowedError, match="did this; only whoever did it"):
        undo.undo(act, by=person_of_role("planner"))


def test_whoever_lost_the_role_undoes_nothing(ada: Person) -> None:
    act = rename(site("S1"), "Hers", ada)
    ada.groups.clear()
    with pytest.raises(NotAllowedError, match="no longer includes changing sites"):
        undo.undo(act, by=Person.objects.get(pk=ada.pk))


def test_an_import_of_many_rows_is_not_undone_in_one_go(ada: Person) -> None:
    rows = [
        Site(code=f"S{n}", name="x", latitude_deg=47.0, longitude_deg=14.0, position_typed="47, 14")
        for n in range(undo.MOST_ENTRIES + 1)
    ]
    record.create_many(rows, by=Author.of(ada), validate=False)
    with pytest.raises(RegisterError, match="too many to undo"):
        undo.undo(last_act(), by=ada)


def test_roles_are_not_undone_here(ada: Person) -> None:
    record.note(person("ben"), {"roles": ["", "planner"]}, by=Author.of(ada))
    assert not undo.is_offered(last_act(), ada)
    with pytest.raises(RegisterError, match="in the administration"):
        undo.undo(last_act(), by=ada)


def test_a_released_pair_that_another_link_took_is_not_taken_back() -> None:
    register, eva = Register(), person_of_role("planner")
    held: dict[str, Any] = {"reserved_until": TODAY + 9000 * DAY}
    register.link("L-1", site("S1"), site("S2", 47.1), **held)
    release(Link.objects.get(code="L-1"), by=Author.of(eva))
    act = last_act()
    register.link("L-2", site("S3", 47.0, 14.001), site("S4", 47.1, 14.001), **held)
    with pytest.raises(PairHeldError, match="L-2"):
        undo.undo(act, by=eva)
    assert Link.objects.get(code="L-1").status == "lapsed"


def test_an_act_of_another_time_is_not_in_the_record(ada: Person) -> None:
    with pytest.raises(RegisterError, match="no such act"):
        undo.undo(uuid.uuid4(), by=ada)


def _client(who: Person) -> Client:
    client = Client()
    client.force_login(who)
    return client


def _offered(page: Any) -> str:
    body = page.content.decode()
    assert body.count('name="act"') == 1
    return str(body.split('name="act" value="')[1].split('"')[0])


def test_the_page_after_a_save_offers_to_undo_it_once_and_the_button_does(ada: Person) -> None:
    place, client = site("S1"), _client(ada)
    address = reverse("site-remove", args=[place.pk])
    after = client.post(address, {"reason": "by mistake"}, follow=True)
    act = _offered(after)
    assert 'name="act"' not in client.get(reverse("site-list")).content.decode()
    back = client.post(reverse("undo"), {"act": act, "back": "/"}, follow=True)
    assert back.redirect_chain == [(reverse("site", args=[place.pk]), 302)]
    assert "Undone: S1 Place S1 is in the register again" in back.content.decode()
    redo = client.post(reverse("undo"), {"act": _offered(back), "back": "/"}, follow=True)
    assert not Site.objects.exists()
    assert redo.redirect_chain == [(reverse("site-list"), 302)]


def test_whoever_may_not_undo_is_told_why_on_the_page_they_came_from(ada: Person) -> None:
    place = site("S1")
    act = rename(place, "Hers", ada)
    rename(place, "His", person("ben"))
    page = _client(ada).post(reverse("undo"), {"act": act, "back": reverse("site-list")}, follow=True)
    assert page.redirect_chain == [(reverse("site-list"), 302)]
    assert "was changed by ben" in page.content.decode()


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", ""])
def test_an_undo_leads_to_no_other_host_and_a_bad_act_is_said(ada: Person, back: str) -> None:
    page = _client(ada).post(reverse("undo"), {"act": "seven", "back": back}, follow=True)
    assert page.redirect_chain == [("/", 302)]
    assert "“seven” is no act of the change record" in page.content.decode()


def test_a_job_that_runs_inside_a_request_is_an_act_of_its_own() -> None:
    with acts.act() as request:
        site("S1")
        with acts.own_act() as job:
            site("S2", 47.2)
        site("S3", 47.3)
    written = dict(ChangeRecord.objects.values_list("object_label", "act"))
    assert written == {"S1 Place S1": request.id, "S2 Place S2": job.id, "S3 Place S3": request.id}


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("round_", range(3))
def test_of_an_undo_and_a_change_at_the_same_moment_one_wins_and_the_other_is_told(round_: int) -> None:
    ada, ben, place = person_of_role("administrator"), person("ben"), site("S1")
    act = rename(place, "Hers", ada)
    seen = Site.objects.get()

    def change() -> None:
        seen.structure_height_m = 40.0
        record.change(seen, by=Author.of(ben))

    results = _at_once([lambda: undo.undo(act, by=ada), change])
    refused = [r for r in results if isinstance(r, Exception)]
    assert len(refused) == 1
    assert isinstance(refused[0], StaleWriteError)
    stored = Site.objects.get()
    assert (stored.name, stored.structure_height_m) in [("Hers", 40.0), ("Place S1", None)]


@pytest.mark.django_db(transaction=True)
def test_of_ten_undos_of_one_removal_at_the_same_moment_one_brings_it_back() -> None:
    ada, place = person_of_role("administrator"), site("S1")
    number = place.pk
    record.remove(place, by=Author.of(ada))
    act = last_act()
    results = _at_once([lambda: undo.undo(act, by=ada)] * 10)
    refused = [r for r in results if isinstance(r, Exception)]
    assert len(refused) == 9
    assert {type(r) for r in refused} <= {StaleWriteError, RegisterError}
    assert Site.objects.get().pk == number
    assert ChangeRecord.objects.filter(reason__startswith="undoing").count() == 1


def _at_once(works: list[Any]) -> list[Any]:
    gate = threading.Barrier(len(works))
    results: list[Any] = [None] * len(works)

    def run(number: int) -> None:
        try:
            connection.ensure_connection()
            gate.wait(timeout=60)
            results[number] = works[number]()
        except Exception as error:
            results[number] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(len(works))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    return results
