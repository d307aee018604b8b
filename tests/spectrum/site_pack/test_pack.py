"""The licence pack of a site: its figures are those of the register, on the page and in the PDF alike."""

from __future__ import annotations

import datetime as dt
import io
import re
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from licences.models import LicensedChannel
from sites.models import ChangeRecord, Site
from sites.positions import format_dms
from sites.services import record
from sites.services.documents import attach, new_document
from spectrum.models import CommissioningRecord, Link
from spectrum.services.links import set_status
from spectrum.site_pack import Pack, site_pack
from spectrum.site_pack.pdf import pack_pdf
from tests.documents import PDF, own_folder
from tests.made import DAY, TESTS, TODAY, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    return own_folder(settings, tmp_path)


#: 0 dBd = 2.15 dBi (RR 1.162 with the half-wave dipole's 1.64)
DIPOLE_DBI = 2.15


def licensed_link(made: Register, here: Site, code: str = "L1", **changes: Any) -> Link:
    """A link on the air from a site, whose end A is licensed there at 410 MHz."""
    link = made.link(code, here, site(f"far-{code}", 47.2))
    licence = made.licence(f"N-{code}", service="fixed", responsible=None)
    values = {
        "label": "A-go", "site": here, "tolerance_m": 50.0, "frequency_hz": 410_000_000, "channel_width_hz": 25_000,
        "emission_designators": ["16K0F1D"], "power_limit_dbm": 45.0, "power_kind": "eirp", "antenna_height_max_m": 25.0,
        **changes,
    }  # fmt: skip
    channel = record.create(LicensedChannel(licence=licence, **values), by=TESTS)
    station = link.stations.get(label="A")
    station.licensed_channel = channel
    record.change(station, by=TESTS)
    link.refresh_from_db()
    set_status(link, Link.Status.ON_AIR, by=TESTS, expected_version=link.version)
    return link


def text_of(pack: Pack) -> str:
    """The text of the PDF, its lines and spaces as one space each."""
    reader = PdfReader(io.BytesIO(pack_pdf(pack)))
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


def of(lines: Any, name: str) -> str:
    return next(f"{line.value} {line.note}".strip() for line in lines if line.name == name)


def test_the_pdf_says_what_the_register_has() -> None:
    made = Register()
    here = site("MAST", 47.05, 14.1, structure_height_m=42.0, position_accuracy_m=5.0)
    link = licensed_link(made, here)
    licence = LicensedChannel.objects.get().licence
    pack = site_pack(here, TODAY)
    text = text_of(pack)

    station = link.stations.get(label="A")
    eirp = 37.0 + made.antenna.gain_dbi
    for figure in (
        format_dms(47.05, 14.1), "47.05000 14.10000", "within 5 m", "42.0 m", "500.0 m",
        "410.00000 MHz", "420.00000 MHz", "37.0 dBm", "5.01 W",
        f"{eirp:.1f} dBm", f"{eirp - DIPOLE_DBI:.1f} dBm", "6.0 dBi", "20.0 m above ground", "16K0F1D",
        "AUT N-L1", licence.holder.name, "AUT Authority", str(licence.expires_on), str(licence.granted_on),
        "45.0 dBm e.i.r.p.", "25.0 m above ground", "MAST, within 50 m", "25.00 kHz",
        str(TODAY), f"register revision {ChangeRecord.objects.latest('id').pk}",
    ):  # fmt: skip
        assert figure in text, figure
    assert f"{station.link.code}/A" in text
    assert pack.off == []
    assert pack.answer == (
        "1 transmitting station, 1 licence. "
        "Nothing is known to be off the licences, nor found otherwise than planned."
    )


def test_the_exposure_distance_is_that_of_the_far_field() -> None:
    """Against the equation itself: d = sqrt(P / 4πS), with S of ICNIRP 2020 (10 MHz to 400 MHz: 2 W/m², else f/200)."""
    made, here = Register(), site("MAST")
    made.antenna.diameter_m = 0.3  # small enough that the distance lies in its far field
    record.change(made.antenna, by=TESTS)
    licensed_link(made, here)
    (part,) = site_pack(here, TODAY).stations
    distance = (10 ** (43.0 / 10) / 1e3 / (4 * 3.141592653589793 * (410 / 200))) ** 0.5
    assert of(part.exposure, "general public, ICNIRP 2020").startswith(f"{distance:.1f} m")


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"power_limit_dbm": 40.0}, "e.i.r.p. of 43.00 dBm is 3.00 dB above"),
        ({"antenna_height_max_m": 15.0}, "5.0 m above the licensed 15.0 m"),
        ({"frequency_hz": 410_025_000}, "25 kHz off the assigned 410.025000 MHz"),
    ],
)
def test_what_leaves_the_licence_is_said_first(changes: dict[str, Any], sentence: str) -> None:
    here = site("MAST")
    licensed_link(Register(), here, **changes)
    pack = site_pack(here, TODAY)

    assert any(sentence in found for found in pack.off), pack.off
    assert all(found.startswith("L1/A") for found in pack.off)
    assert text_of(pack).count(sentence) >= 2  # at the head, and at the station


def test_a_station_without_a_licence_and_a_licence_that_ran_out_are_off() -> None:
    made, here = Register(), site("MAST")
    link = made.link("L9", here, site("far", 47.2))
    set_status(link, Link.Status.ON_AIR, by=TESTS, expected_version=link.version)
    assert any("licen" in found for found in site_pack(here, TODAY).off)

    other = site("MAST2", 47.4)
    licensed_link(made, other, code="L1")
    later = site_pack(other, TODAY + 1000 * DAY)
    assert any("expired" in found or "ran out" in found or "ended" in found for found in later.off), later.off
    assert "expired" in text_of(later)


def test_what_was_found_on_site_counts() -> None:
    here = site("MAST")
    link = licensed_link(Register(), here)
    row = CommissioningRecord(
        station=link.stations.get(label="A"), found_on=TODAY, found_by="Ida", tx_power_dbm=41.0
    )
    record.create(row, by=TESTS)
    pack = site_pack(here, TODAY)
    assert any(
        "as found" in sentence and "2.00 dB above the licensed 45.00 dBm" in sentence for sentence in pack.off
    ), pack.off
    assert of(pack.stations[0].lines, "last visited") == f"{TODAY} Ida"


def test_an_area_licence_covers_the_sites_inside_it_only() -> None:
    made, inside, outside = Register(), site("IN", 47.0, 14.0), site("OUT", 48.0, 16.0)
    ring = [[13.9, 46.9], [14.1, 46.9], [14.1, 47.1], [13.9, 47.1], [13.9, 46.9]]
    record.create(
        LicensedChannel(
            licence=made.licence("AREA"), label="1", area={"type": "Polygon", "coordinates": [ring]},
            frequency_hz=410_000_000, channel_width_hz=25_000,
        ),
        by=TESTS,
    )  # fmt: skip
    (part,) = site_pack(inside, TODAY).licences
    assert of(part.channels[0].lines, "where") == "inside the licensed area"
    assert of(part.channels[0].lines, "used here by") == "no station here"
    assert site_pack(outside, TODAY).licences == []
    assert "No live station stands here" in site_pack(outside, TODAY).answer
    assert "None in the register." in text_of(site_pack(outside, TODAY))


def test_the_page_prints_the_same_record_and_papers_only_to_those_who_may_see_them() -> None:
    here = site("MAST")
    licensed_link(Register(), here)
    attach(
        new_document(here, title="Lease of the hill", dated=dt.date(2024, 3, 4)), [PDF], "lease.pdf", by=TESTS
    )
    client = Client()
    client.force_login(person_of_role("field engineer"))
    page = client.get(reverse("site-pack", args=[here.pk]))
    pack = page.context["pack"]
    body = page.content.decode()
    for part in pack.stations:
        assert all(line.value in body or "°" in line.value for line in part.lines if line.value)
    assert "Lease of the hill" in body
    answer = client.get(reverse("site-pack-pdf", args=[here.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert "mast-licence-pack-" in answer["Content-Disposition"]
    assert site_pack(here, TODAY, documents=False).papers == []


def test_a_site_with_more_stations_asks_no_more_questions() -> None:
    made, here = Register(), site("MAST")
    counts = []
    licensed_link(made, here, code="L1")
    for more in (("L2",), ("L3", "L4")):
        site_pack(here, TODAY)
        with CaptureQueriesContext(connection) as queries:
            site_pack(here, TODAY)
        counts.append(len(queries))
        for code in more:
            licensed_link(made, here, code=code)
    with CaptureQueriesContext(connection) as queries:
        site_pack(here, TODAY)
    counts.append(len(queries))
    assert len(set(counts)) == 1, counts
