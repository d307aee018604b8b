"""The map's addresses: what they answer, under which filters, when a browser may keep it, with how many queries."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from sites.services import record
from spectrum.models import Finding, Link
from spectrum.services import findings, map_columns, map_files
from spectrum.services.links import save_link
from spectrum.services.register_columns import revision_now
from spectrum.views.map import MapFilter
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
RANK = {"must_fix": 0, "decide": 1, "note": 2}


def found(identity: str, severity: str, **parties: Any) -> Finding:
    now = timezone.now()
    return Finding.objects.create(
        identity=identity[:64], kind="co_channel", severity=severity, rank=RANK[severity], headline=identity,
        first_seen_at=now, last_seen_at=now, **parties,
    )  # fmt: skip


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Iterator[Path]:
    """A folder of the test's own, and a process that remembers nothing."""
    settings.VAR_DIR = tmp_path
    map_columns._kept = None
    yield tmp_path
    map_columns._kept = None


@pytest.fixture
def network() -> dict[str, Link]:
    """Five links: three of ours in two regions, one lapsed, one of another party in another band."""
    register = Register()
    north = [site(f"N{i}", 47.5 + i / 10, 14.0 + i / 10, region="North") for i in range(4)]
    south = [site(f"S{i}", 46.5 + i / 10, 14.0, region="South") for i in range(2)]
    site("UNUSED", 47.0, 15.0, region="South")
    high = {"tx_frequency_hz": 3_500_000_000, "rx_frequency_hz": 3_600_000_000}
    return {
        "ours": register.link("OURS", north[0], north[1]),
        "worse": register.link("WORSE", north[1], north[2], status="on_air"),
        "south": register.link("SOUTH", *south, status="filed"),
        "lapsed": register.link("LAPSED", north[0], north[3], status="lapsed"),
        "others": register.link(
            "OTHERS", north[2], north[3], status="on_air", holder=register.other, stations=high
        ),
    }


@pytest.fixture
def client(network: dict[str, Link]) -> Client:
    made = Client()
    made.force_login(person_of_role("planner"))
    return made


def data(client: Client, **query: str) -> dict[str, Any]:
    answer = client.get("/map/data/", query)
    assert answer.status_code == 200, answer.content
    values: dict[str, Any] = json.loads(answer.content)
    return values


def codes(values: dict[str, Any]) -> list[str]:
    return sorted(values["lines"]["code"])


def test_without_a_filter_all_sites_and_what_uses_frequencies_is_drawn(client: Client) -> None:
    values = data(client)

    assert codes(values) == ["OTHERS", "OURS", "SOUTH", "WORSE"]
    assert "UNUSED" in values["sites"]["code"]
    looks = dict(zip(values["lines"]["code"], values["lines"]["look"], strict=True))
    assert looks == {"OURS": 1, "WORSE": 0, "SOUTH": 1, "OTHERS": 3}
    assert values["bounds"] == [14.0, 46.5, 15.0, 47.8]


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ({"region": "South"}, ["SOUTH"]),
        ({"band": "uhf"}, ["OURS", "SOUTH", "WORSE"]),
        ({"band": "shf"}, ["OTHERS"]),
        ({"status": "lapsed"}, ["LAPSED"]),
        ({"status": "any"}, ["LAPSED", "OTHERS", "OURS", "SOUTH", "WORSE"]),
        ({"whose": "no"}, ["OTHERS"]),
        ({"q": "our"}, ["OURS"]),
        ({"whose": "yes", "region": "North"}, ["OURS", "WORSE"]),
    ],
)
def test_the_picture_and_the_list_follow_the_same_filter(
    client: Client, query: dict[str, str], expected: list[str]
) -> None:
    values = data(client, **query)
    listed = [row.code for row, _ in client.get("/map/", query).context["body"]]

    assert codes(values) == expected == sorted(listed)
    assert "UNUSED" not in values["sites"]["code"]


def test_the_worst_open_finding_counts_on_either_side(client: Client, network: dict[str, Link]) -> None:
    found("a", "note", link=network["ours"])
    found("b", "decide", link=network["ours"], other_link=network["others"])
    found("c", "must_fix", link=network["worse"])
    found("d", "must_fix", link=network["south"], gone_at=timezone.now())
    at = network["south"].stations.all()[0].site
    found("e", "decide", site=at)

    values = data(client)
    worst = dict(zip(values["lines"]["code"], values["lines"]["worst"], strict=True))
    assert worst == {"OURS": 1, "OTHERS": 1, "WORSE": 0, "SOUTH": 3}
    assert dict(zip(values["sites"]["code"], values["sites"]["worst"], strict=True))[at.code] == 1
    assert (
        values["said"]
        == "Of 4 links at 7 sites, 1 has something that must be fixed and 2 have something to decide."
    )
    for query, expected in (("must_fix", ["WORSE"]), ("decide", ["OTHERS", "OURS"]), ("none", ["SOUTH"])):
        assert codes(data(client, worst=query)) == expected
    assert data(client, worst="note")["lines"]["code"] == []


def test_an_accepted_finding_is_no_longer_marked(client: Client, network: dict[str, Link]) -> None:
    finding = found("a", "must_fix", link=network["worse"])
    before = client.get("/map/data/")
    findings.accept(finding, reason="Agreed.", by=person_of_role("manager"))
    after = client.get("/map/data/")

    assert before["ETag"] != after["ETag"]
    assert 0 in json.loads(before.content)["lines"]["worst"]
    assert 0 not in json.loads(after.content)["lines"]["worst"]


def test_a_browser_keeps_the_picture_until_the_register_changes(
    client: Client, network: dict[str, Link]
) -> None:
    first = client.get("/map/data/")
    again = client.get("/map/data/", headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 304
    assert again.content == b""
    assert client.get("/map/data/", {"whose": "no"})["ETag"] != first["ETag"]

    moved = network["ours"].stations.all()[0].site
    moved.latitude_deg = 47.05
    record.change(moved, by=TESTS)
    renewed = client.get("/map/data/", headers={"If-None-Match": first["ETag"]})

    assert renewed.status_code == 200
    assert 47.05 in json.loads(renewed.content)["sites"]["latitude"]


def test_what_is_kept_for_one_reader_is_not_sent_to_another(client: Client, network: dict[str, Link]) -> None:
    first = client.get("/map/data/")
    other = Client()
    person = person_of_role("viewer")
    person.formats = "de"
    person.save()
    other.force_login(person)
    assert other.get("/map/data/")["ETag"] != first["ETag"]


def test_what_is_kept_follows_every_kind_of_change(
    client: Client, network: dict[str, Link], files: Path
) -> None:
    """The columns are brought up to date by what changed; they must be those that are read anew."""
    import dataclasses

    from spectrum.services import links

    def same_as_read_anew() -> bool:
        kept = map_columns.columns_at(revision_now())
        map_columns._kept = None
        from_file = map_columns.columns_at(revision_now())
        map_columns._kept = None
        shutil.rmtree(files / "registers")
        anew = map_columns.columns_at(revision_now())

        def rows(c: Any) -> Any:
            lines = zip(
                c.line_code.tolist(), c.site_code[c.line_from].tolist(), c.site_code[c.line_to].tolist(),
                c.line_own.tolist(), c.line_stage.tolist(), strict=True,
            )  # fmt: skip
            sites = zip(c.site_code.tolist(), c.latitude_deg.tolist(), c.site_own.tolist(), strict=True)
            return sorted(lines), sorted(sites)

        assert all(isinstance(getattr(kept, f.name), np.ndarray) for f in dataclasses.fields(kept))
        return bool(rows(kept) == rows(anew) == rows(from_file))

    data(client)
    added = site("ADDED", 47.9, 14.9)
    assert same_as_read_anew()
    links.set_status(network["south"], "granted", by=TESTS, expected_version=network["south"].version)
    assert same_as_read_anew()
    stations = list(network["worse"].stations.order_by("label"))
    stations[1].site = added
    links.save_link(Link.objects.get(pk=network["worse"].pk), stations, by=TESTS)
    assert same_as_read_anew()
    assert ("N1", "ADDED") in {
        (values["sites"]["code"][a], values["sites"]["code"][b])
        for values in [data(client)]
        for a, b in zip(values["lines"]["from"], values["lines"]["to"], strict=True)
    }
    record.remove(Link.objects.get(pk=network["ours"].pk), by=TESTS)
    assert same_as_read_anew()
    other = Link.objects.get(code="OTHERS").holder
    other.own = True
    record.change(other, by=TESTS)
    assert same_as_read_anew()


def queries_for_sites(client: Client) -> list[str]:
    with CaptureQueriesContext(connection) as queries:
        data(client)
    return [q["sql"] for q in queries if 'FROM "places_site"' in q["sql"] and "latitude" in q["sql"]]


def test_a_process_that_has_just_started_reads_the_file_and_what_changed_since(
    client: Client, network: dict[str, Link]
) -> None:
    data(client)
    map_columns._kept = None
    assert queries_for_sites(client) == []
    map_columns._kept = None
    site("MORE", 47.0, 14.5)
    (one,) = queries_for_sites(client)
    assert "WHERE" in one


def test_the_file_is_written_anew_when_much_has_changed(
    client: Client, network: dict[str, Link], files: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(map_columns, "MOST_CHANGES_ON_FILE", 2)
    data(client)
    (file,) = files.glob("registers/*/map.npz")
    first = file.stat().st_mtime_ns
    for number in range(3):
        site(f"MORE{number}", 47.0, 14.5)
        data(client)
        assert (file.stat().st_mtime_ns == first) == (number < 2)
    map_columns._kept = None
    assert queries_for_sites(client) == []


@pytest.mark.parametrize("broken", [b"", b"no archive", None])
def test_a_file_that_cannot_be_read_or_is_of_another_layout_is_passed_over(
    client: Client,
    network: dict[str, Link],
    files: Path,
    broken: bytes | None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole = data(client)
    (file,) = files.glob("registers/*/map.npz")
    map_columns._kept = None
    if broken is None:
        monkeypatch.setattr(map_files, "LAYOUT", map_files.LAYOUT + 1)
    else:
        file.write_bytes(broken)
    site("MORE", 47.0, 14.5)
    assert len(data(client)["sites"]["code"]) == len(whole["sites"]["code"]) + 1
    map_columns._kept = None
    assert queries_for_sites(client) == []  # and it was written anew


def test_a_folder_that_takes_no_file_does_not_stop_the_map(
    client: Client, network: dict[str, Link], files: Path
) -> None:
    (files / "registers").write_text("a file where the folder should be")
    assert data(client)["sites"]["code"]


def test_another_history_is_not_mixed_with_the_file(
    client: Client, network: dict[str, Link], files: Path
) -> None:
    """A backup put back has changes of the same numbers that were made at other times."""
    data(client)
    (file,) = files.glob("registers/*/map.npz")
    loaded = map_columns._from_file()
    assert loaded is not None
    revision, tables = loaded
    other = replace(revision, at=revision.at and revision.at + dt.timedelta(microseconds=1))
    named = {map_columns._name(model): table for model, table in tables.items()}
    named["site"] = named["site"] | {"code": np.array(["WRONG"] * len(named["site"]["code"]))}
    map_files.save(file, other, named)
    map_columns._kept = None
    site("MORE", 47.0, 14.5)
    assert "WRONG" not in data(client)["sites"]["code"]


def test_an_edit_reads_only_what_changed(client: Client, network: dict[str, Link]) -> None:
    data(client)
    site("MORE", 47.0, 14.5)
    (one,) = queries_for_sites(client)
    assert "WHERE" in one


@pytest.mark.parametrize(
    ("query", "says"),
    [
        (
            {"west": "x", "south": "46", "east": "15", "north": "48", "width": "800"},
            "west is “x”; a number was expected",
        ),
        ({"west": "14"}, "south is “”; a number was expected"),
        (
            {"west": "15", "south": "46", "east": "14", "north": "48", "width": "800"},
            "The view is not on the earth",
        ),
        ({"west": "14", "south": "46", "east": "nan", "north": "48", "width": "800"}, "east is “nan”"),
        (
            {"west": "14", "south": "46", "east": "15", "north": "48", "width": "0"},
            "the width between 1 and 20000",
        ),
    ],
)
def test_a_view_that_is_none_is_refused_with_a_sentence(
    client: Client, query: dict[str, str], says: str
) -> None:
    answer = client.get("/map/data/", query)

    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    assert says in answer.json()["detail"]


@pytest.mark.parametrize("address", ["/map/data/", "/map/"])
def test_the_number_of_queries_does_not_grow_with_the_network(
    client: Client, network: dict[str, Link], address: str
) -> None:
    client.get(address)
    with CaptureQueriesContext(connection) as small:
        client.get(address, {"q": "O"})
    register = {"own": network["ours"].holder}
    for i in range(12):
        a, b = site(f"A{i}", 47 + i / 50, 14.2), site(f"B{i}", 47 + i / 50, 14.4)
        stations = list(network["ours"].stations.order_by("label"))
        for station, place in zip(stations, (a, b), strict=True):
            station.pk, station.site, station._state.adding = None, place, True
        new = Link(code=f"O{i}", holder=register["own"])
        save_link(new, stations, by=TESTS, clashes_are_findings=True)
    client.get(address)
    with CaptureQueriesContext(connection) as large:
        client.get(address, {"q": "O"})

    assert len(large) == len(small)


def test_the_sheet_of_a_link_of_a_site_and_of_a_place(client: Client, network: dict[str, Link]) -> None:
    found("disturbed", "must_fix", link=network["worse"])
    of_link = client.get(f"/map/links/{network['worse'].pk}/").content.decode()
    of_site = client.get(f"/map/sites/{network['worse'].stations.all()[0].site.pk}/").content.decode()
    of_place = client.get("/map/place/", {"latitude": "47.25", "longitude": "14.125"}).content.decode()

    for part in (of_link, of_site):
        assert "disturbed" in part
        assert f'href="/links/{network["worse"].pk}/"' in part
    assert "410.00000" in of_link
    assert "/sites/add/?position=47.25000%2C%2014.12500" in of_place
    assert client.get("/map/place/", {"latitude": "95", "longitude": "14"}).status_code == 400


def test_a_place_on_the_map_fills_the_form_of_a_site(client: Client) -> None:
    form = client.get("/sites/add/", {"position": "47.25, 14.125"}).context["form"]

    assert form["position_typed"].value() == "47.25, 14.125"
    assert form["position_source"].value() == "map"
    assert client.get("/sites/add/").context["form"]["position_source"].value() == "estimate"


def test_two_sites_on_the_map_fill_the_form_of_a_link(client: Client) -> None:
    page = client.get("/links/add/", {"site": ["N2", "S0"]})
    multipoint = client.get("/links/add/", {"site": ["N2", "S0"], "kind": "ptmp"})

    entry = page.context["entry"]
    assert [end["site"].value() for end in entry.ends] == ["N2", "S0"]
    assert 'value="N2"' in page.content.decode()
    entry = multipoint.context["entry"]
    assert [entry.ends[0]["site"].value(), entry.remotes[0]["site"].value()] == ["N2", "S0"]


def test_a_site_that_is_none_is_named_on_the_form_of_a_link(client: Client) -> None:
    page = client.get("/links/add/", {"site": ["N2", "NONE\x00"]})

    assert "“NONE” names no site in the register" in page.content.decode()
    assert page.context["entry"].ends[0]["site"].value() == "N2"


def test_a_filter_knows_the_regions_and_bands_that_there_are(client: Client) -> None:
    form = client.get("/map/").context["filterset"].form

    assert [value for value, _ in form.fields["region"].choices] == ["", "North", "South"]
    assert list(MapFilter.get_filters()) == [
        "q",
        "status",
        "whose",
        "channel_plan",
        "region",
        "band",
        "worst",
    ]
