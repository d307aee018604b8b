"""A real extract, 6,357 rows and dirty: imported whole, its defects counted a second way, a link checked among it.

The same file again changes nothing, and of a copy with known changes exactly those are reported.

Source of the file: US fixed microwave licences along one corridor, federal public record of April 2020, as
collected for D. Bhattacherjee et al., ACM IMC 2020. It is read from REFERENCE_DIR, not kept in the project.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction
from geographiclib.geodesic import Geodesic

from licences.models import Holder, Licence, LicensedChannel
from sites.models import AntennaType, Site
from sites.services import record
from spectrum.extracts.entries import Entries, entries_of
from spectrum.extracts.mapping import Mapping
from spectrum.extracts.quality import Quality, quality_of
from spectrum.extracts.reading import read_table
from spectrum.extracts.registrants import registrants_of
from spectrum.models import Difference, ExtractRun, Finding, Link, RadioType, RegulatorRecord, Station
from spectrum.services.checks import check_link, check_network
from spectrum.services.extracts import READY, described, import_extract
from tests import made
from tests.made import TESTS
from tests.reference_tables import outside_folder

from .mutated import as_csv, mutated, reported

pytestmark = pytest.mark.reference

AS_OF = dt.date(2020, 4, 16)
# Processor time, so that a busy machine does not fail it.
IMPORT_WITHIN_S = 60.0
Rows = list[dict[str, str]]


@pytest.fixture(scope="module")
def path() -> Path:
    return outside_folder() / "registers" / "us_fixed_microwave_2020" / "links.csv"


@pytest.fixture(scope="module")
def raw(path: Path) -> Rows:
    """The rows as the standard library reads them, each with its number in a spreadsheet."""
    with path.open(encoding="utf-8", newline="") as file:
        return [{**row, "n": str(number)} for number, row in enumerate(csv.DictReader(file), start=2)]


@pytest.fixture(scope="module")
def how() -> Mapping:
    described = json.loads((READY / "us_fixed_microwave.json").read_text(encoding="utf-8"))
    parts = ("code", "columns", "reading", "statuses", "key", "own_registrants", "stand_ins")
    return Mapping.of(
        authority_code=described["authority"]["code"], **{part: described[part] for part in parts}
    )


@pytest.fixture(scope="module")
def entries(path: Path, how: Mapping) -> Entries:
    return entries_of(read_table(path.read_bytes(), path.name, how).rows, how)


@pytest.fixture(scope="module")
def quality(entries: Entries) -> Quality:
    return quality_of(entries.rows, registrants_of(entries.rows), AS_OF)


def rows_of(quality: Quality, kind: str) -> set[tuple[int, ...]]:
    return {defect.rows for defect in quality.of_kind(kind)}


def grouped(raw: Rows, key: Callable[[dict[str, str]], object]) -> dict[object, Rows]:
    groups: dict[object, Rows] = defaultdict(list)
    for row in raw:
        groups[key(row)].append(row)
    return groups


def numbers(rows: Rows) -> tuple[int, ...]:
    return tuple(sorted({int(row["n"]) for row in rows}))


def ends(raw: Rows) -> dict[tuple[str, str], list[tuple[int, str]]]:
    """Row number and ground height of each use of each position."""
    uses: dict[tuple[str, str], list[tuple[int, str]]] = defaultdict(list)
    for row in raw:
        for end in ("tx", "rx"):
            uses[row[f"{end}_lat"], row[f"{end}_lon"]].append((int(row["n"]), row[f"{end}_ground_elev_m"]))
    return uses


def test_every_row_is_read_without_a_notice(entries: Entries, raw: Rows) -> None:
    assert len(entries.rows) == len(raw) == 6357
    assert entries.notices == {}
    assert Counter(entry.in_use for entry in entries.rows) == {True: 4308, False: 2049}


def test_sites_under_100_m_apart_are_those_found_by_comparing_each_with_each(
    quality: Quality, raw: Rows
) -> None:
    uses = ends(raw)
    points = sorted(((float(lat), float(lon)), (lat, lon)) for lat, lon in uses)
    expected = set()
    for i, ((lat, lon), key) in enumerate(points):
        for (other_lat, other_lon), other in points[i + 1 :]:
            if other_lat - lat > 0.001:  # 100 m are at most 0.00091 degrees of latitude
                break
            if (
                abs(other_lon - lon) < 0.002
                and Geodesic.WGS84.Inverse(lat, lon, other_lat, other_lon)["s12"] < 100
            ):
                expected.add(tuple(sorted({n for k in (key, other) for n, _ in uses[k]})))
    assert rows_of(quality, "near_sites") == expected
    assert len(quality.of_kind("near_sites")) == 585


def test_one_position_with_several_ground_heights(quality: Quality, raw: Rows) -> None:
    several = {
        tuple(sorted({n for n, _ in uses}))
        for uses in ends(raw).values()
        if len({float(h) for _, h in uses}) > 1
    }
    assert rows_of(quality, "ground_heights") == several
    assert len(quality.of_kind("ground_heights")) == 146


def test_active_past_expiry_and_no_longer_in_use(quality: Quality, raw: Rows) -> None:
    past = [row for row in raw if row["status"] == "Active" and row["expiry_date"] < AS_OF.isoformat()]
    assert rows_of(quality, "active_past_expiry") == {numbers([row]) for row in past}
    assert len(past) == 27
    assert rows_of(quality, "not_in_use") == {numbers([row]) for row in raw if row["status"] != "Active"}
    undated = [row for row in raw if row["status"] != "Active" and not row["cancel_date"]]
    assert rows_of(quality, "ended_without_date") == {numbers([row]) for row in undated}
    assert len(undated) == 2


def test_one_site_and_frequency_under_several_call_signs(quality: Quality, raw: Rows) -> None:
    groups = grouped(raw, lambda r: (r["tx_lat"], r["tx_lon"], r["tx_freq_mhz"])).values()
    shared = {numbers(rows) for rows in groups if len({row["callsign"] for row in rows}) > 1}
    assert rows_of(quality, "shared_frequency") == shared
    assert len(quality.of_kind("shared_frequency")) == 245


def test_one_holder_in_both_halves_of_the_lower_6_ghz_band(quality: Quality, raw: Rows) -> None:
    """By registrant number; 47 CFR 101.147(i) pairs 252.04 MHz apart put the halves below and above 6175 MHz."""
    in_band = [row for row in raw if row["status"] == "Active" and 5925 <= float(row["tx_freq_mhz"]) <= 6425]
    groups = grouped(in_band, lambda r: (r["frn"], r["tx_lat"], r["tx_lon"])).values()
    both = {numbers(rows) for rows in groups if len({float(row["tx_freq_mhz"]) < 6175 for row in rows}) == 2}
    found = {d.rows for d in quality.of_kind("both_halves") if "in lower 6 GHz" in d.what}
    assert found == both
    assert len(both) > 20


def test_names_of_one_registrant_spelt_several_ways(quality: Quality, raw: Rows) -> None:
    groups = grouped([row for row in raw if row["frn"]], lambda r: r["frn"]).values()
    several = [
        {row["licensee"] for row in rows} for rows in groups if len({row["licensee"] for row in rows}) > 1
    ]
    said = [defect.what for defect in quality.of_kind("registrant_spellings")]
    assert len(said) == len(several) == 6
    for names in several:
        assert any(all(f"“{name}”" in what for name in names) for what in said)
    assert [defect.what for defect in quality.of_kind("registrant_unnumbered")] == [
        "COMMONWEALTH EDISON COMPANY"
    ]
    assert len(quality.of_kind("registrant_unnumbered")[0].rows) == sum(not row["frn"] for row in raw) == 6


def test_long_and_short_paths_and_stated_lengths(quality: Quality, raw: Rows) -> None:
    length = {
        row["n"]: Geodesic.WGS84.Inverse(*(float(row[c]) for c in ("tx_lat", "tx_lon", "rx_lat", "rx_lon")))[
            "s12"
        ]
        / 1e3
        for row in raw
    }
    for kind, fits in (("long_path", lambda km: km > 100), ("short_path", lambda km: km < 1)):
        assert rows_of(quality, kind) == {numbers([row]) for row in raw if fits(length[row["n"]])}
    assert (len(quality.of_kind("long_path")), len(quality.of_kind("short_path"))) == (173, 176)
    # The stated lengths were computed on a sphere (the file's own account), and differ by no more than that.
    assert rows_of(quality, "length_differs") == set()
    assert 0.001 < quality.largest_difference_ratio < 0.006


def test_no_row_stands_twice_and_one_frequency_lies_outside_its_band(quality: Quality) -> None:
    assert rows_of(quality, "repeated_row") == set()
    [outside] = quality.of_kind("outside_bands")
    assert "5874.85" in outside.what


def bring(path: Path, *arguments: str) -> tuple[str, float]:
    out, began = io.StringIO(), time.process_time()
    call_command(
        "import_extract",
        str(path),
        "--mapping",
        "us_fixed_microwave",
        "--as-of",
        str(AS_OF),
        *arguments,
        stdout=out,
    )
    return out.getvalue(), time.process_time() - began


def hop_into(victim: Station) -> Link:
    """A planned hop of ours whose end A sends, from 8 km inside the victim's beam, on the victim's channel."""
    own = record.create(Holder(name="Own utility", own=True), by=TESTS)
    sender = victim.link.stations.get(label="A").site
    path = Geodesic.WGS84.Inverse(
        victim.site.latitude_deg, victim.site.longitude_deg, sender.latitude_deg, sender.longitude_deg
    )
    assert path["s12"] > 20_000
    at = Geodesic.WGS84.Direct(victim.site.latitude_deg, victim.site.longitude_deg, path["azi1"], 8_000.0)
    far = Geodesic.WGS84.Direct(at["lat2"], at["lon2"], at["azi2"] + 180.0, 30_000.0)
    ground = victim.site.ground_height_m
    radio = RadioType.objects.get(name="Stand-in radio lower 6 GHz")
    dish = AntennaType.objects.get(name__endswith="lower 6 GHz")
    frequency = victim.rx_frequency_hz
    assert frequency is not None
    other = frequency + 252_040_000
    places = [
        made.site(f"OWN-{n}", p["lat2"], p["lon2"], ground_height_m=ground) for n, p in enumerate((at, far))
    ]
    stations = [
        Station(
            role=label.lower(), label=label, site=place, antenna_type=dish, radio_type=radio, mode=radio.modes.get(),
            antenna_height_agl_m=30.0, tx_power_dbm=30.0, tx_frequency_hz=tx, rx_frequency_hz=rx,
        )
        for label, place, tx, rx in (("A", places[0], frequency, other), ("B", places[1], other, frequency))
    ]  # fmt: skip
    link = record.create(Link(code="OWN-HOP", holder=own, status=Link.Status.PLANNED), by=TESTS)
    for station in stations:
        station.link = link
        record.create(station, by=TESTS)
    return link


@dataclass
class Imported:
    """What the first import and the same again said, how long the first took, and its report."""

    said: str
    seconds: float
    report: list[dict[str, str]]
    again: str


@pytest.fixture(scope="module")
def imported(
    path: Path, tmp_path_factory: pytest.TempPathFactory, django_db_setup: None, django_db_blocker: Any
) -> Iterator[Imported]:
    """The whole extract in the register, brought in twice; each test goes on from there."""
    report = tmp_path_factory.mktemp("extract") / "report.csv"
    with django_db_blocker.unblock(), transaction.atomic():
        said, seconds = bring(path, "--report", str(report))
        again, _ = bring(path)
        rows = list(csv.DictReader(report.read_text(encoding="utf-8").splitlines()))
        yield Imported(said, seconds, rows, again)
        transaction.set_rollback(True)


@pytest.mark.django_db
def test_the_whole_extract_is_imported_and_the_same_again_changes_nothing(imported: Imported) -> None:
    assert imported.seconds < IMPORT_WITHIN_S
    assert "Imported 6357 rows" in imported.said
    assert (Link.objects.count(), Station.objects.count()) == (6357, 12714)
    assert (Licence.objects.count(), LicensedChannel.objects.count(), Site.objects.count()) == (
        2363,
        5918,
        1992,
    )
    assert Link.objects.filter(status=Link.Status.ON_AIR).count() == 4308
    assert not Holder.objects.filter(own=True).exists()
    assert not Link.objects.filter(assumptions="").exists()
    assert Counter(row["kind"] for row in imported.report)["shared_frequency"] == 245

    for name, size in (
        ("holders", 28),
        ("sites", 1992),
        ("licences", 2363),
        ("links", 6357),
        ("stations", 12714),
    ):
        assert f"  {name:18s} {0:6d} new {0:6d} changed {size:6d} unchanged" in imported.again
    assert ExtractRun.objects.count() == 2
    assert Difference.objects.count() == 0
    assert Counter(RegulatorRecord.objects.values_list("kind", flat=True)) == {
        "licence": 2363, "channel": 5918, "site": 1992, "link": 6357, "station": 12714,
    }  # fmt: skip


@pytest.mark.django_db
def test_of_a_mutated_copy_exactly_the_mutations_are_reported(imported: Imported, path: Path) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        copy = mutated(list(csv.DictReader(file)))
    mapping = described(json.loads((READY / "us_fixed_microwave.json").read_text(encoding="utf-8")))
    import_extract(as_csv(copy.rows), "links.csv", mapping, by=TESTS, as_of=AS_OF)
    assert reported() == copy.said


@pytest.mark.django_db
def test_a_planned_link_is_checked_among_it(imported: Imported) -> None:
    victim = (
        Station.objects.filter(
            label="B", link__status="on_air", rx_frequency_hz__range=(5_945_000_000, 6_160_000_000)
        )
        .select_related("link", "site")
        .exclude(site__ground_height_m=None)
        .order_by("link__code")
    )
    long_enough = next(
        s for s in victim if abs(s.site.latitude_deg - s.link.stations.get(label="A").site.latitude_deg) > 0.3
    )
    hop = hop_into(long_enough)
    check = check_link(hop.pk, as_of=AS_OF)
    assert check.counts["new"] > 0
    hit = Finding.objects.get(
        kind="co_channel", link=hop, station_label="A", other_link=long_enough.link, gone_at=None
    )
    assert hit.severity == Finding.Severity.MUST_FIX
    assert hit.margin is not None
    assert hit.margin < -20
    assert any("Assumed, not in the extract" in sentence for sentence in hit.not_judged)

    of_link = {f.identity: f.margin for f in Finding.objects.filter(gone_at=None)}
    network = check_network(as_of=AS_OF)
    assert network.counts["gone"] == 0
    of_network = {f.identity: f.margin for f in Finding.objects.filter(gone_at=None)}
    assert of_network.keys() == of_link.keys()
    for identity, margin in of_link.items():
        assert of_network[identity] == pytest.approx(margin, abs=1e-6)
