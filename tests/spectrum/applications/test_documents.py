"""The data sheet read back from PDF, CSV and XLSX: its figures are those of the register."""

from __future__ import annotations

import csv
import io
import re

import pytest
from geographiclib.geodesic import Geodesic
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from licences.applying import FIELDS
from licences.models import Application
from sites.positions import parse_position
from sites.services import record
from spectrum.filing import DataSheet, data_sheet
from spectrum.filing.pdf import application_pdf
from spectrum.filing.tables import sheet_csv, sheet_xlsx
from spectrum.models import Finding, Link, Station
from spectrum.services import applications, checks
from spectrum.services.findings import accept
from spectrum.services.links import save_link
from tests.made import TESTS, TODAY, person
from tests.spectrum.applications.made import WHY, Desk, desk, terms

pytestmark = pytest.mark.django_db


@pytest.fixture
def at() -> Desk:
    made = desk(name="Mill – Tower")
    made.register.authority.asked_fields = list(FIELDS)
    record.change(made.register.authority, by=TESTS)
    return made


def shown(application: Application) -> DataSheet:
    return data_sheet(applications.all_applications().get(pk=application.pk), TODAY)


def text_of(application: Application) -> str:
    pages = PdfReader(io.BytesIO(application_pdf(shown(application)))).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def test_the_figures_of_the_pdf_are_those_of_the_register(at: Desk) -> None:
    text = text_of(at.draft())
    for station in Station.objects.select_related("site", "antenna_type", "mode"):
        site = station.site
        assert f"{site.code} {site.name}" in text
        assert f"{(station.tx_frequency_hz or 0) / 1e6:.5f} MHz" in text
        assert f"{site.ground_height_m:.1f} m" in text
        assert station.mode.emission_designator in text
        # 37 dBm into a line without loss, 6 dBi: 43 dBm e.i.r.p. = 20 W; 2.15 dB less as e.r.p. (47 CFR 2.1)
        assert "43.00 dBm (20 W)" in text
        assert "40.85 dBm (12.2 W)" in text
        assert "37.00 dBm (7.00 dBW)" in text
    # The positions are read back by the register's own reader and meet the stored ones to the tenth of a second.
    written = re.findall(r"\d\d°\d\d'\d\d\.\d\"[NS] \d{3}°\d\d'\d\d\.\d\"[EW]", text)
    assert len(written) == 4  # the position and the other end's, of both stations
    read = {(round(p.latitude_deg, 4), round(p.longitude_deg, 4)) for p in map(parse_position, written)}
    assert read == {(47.0, 14.0), (47.2, 14.0)}
    # The length of the path by GeographicLib (C. F. F. Karney), which the register does not use.
    length_m = Geodesic.WGS84.Inverse(47.0, 14.0, 47.2, 14.0)["s12"]
    assert f"{length_m / 1e3:.2f} km" in text
    assert "omnidirectional" in text
    assert "Draft: not filed" in text


def test_what_is_missing_is_said_in_the_pdf(at: Desk) -> None:
    text = text_of(at.draft(contact=""))
    assert "Missing: responsible contact (name, address, e-mail, telephone)" in text
    assert "Missing: structure height (m above ground). Enter it at site S1." in text


def test_the_pdf_of_a_filed_application_prints_what_was_filed_and_what_was_granted(at: Desk) -> None:
    at.register.authority.asked_fields = ["tx_frequency", "eirp", "contact"]
    record.change(at.register.authority, by=TESTS)
    application = at.filed()
    link = Link.objects.get()
    stations = list(link.stations.all())
    for station in stations:
        station.tx_power_dbm = 30.0
    save_link(link, stations, by=TESTS)
    text = text_of(application)
    assert "43.00 dBm (20 W)" in text
    assert "filed 43.00 dBm (20 W), the register has 36.00 dBm (3.98 W)" in text
    assert f"Filed nevertheless, because: {WHY}" in text
    assert "Draft: not filed" not in text

    granted = terms(application, power_limit_dbm=40.0, frequency_hz=410_025_000)
    applications.grant(application, granted, by=TESTS, today=TODAY)
    text = text_of(application)
    assert "e.i.r.p.: granted 40.00 dBm, asked 43.00 dBm" in text
    assert "frequency: granted 410.02500 MHz, asked 410.00000 MHz" in text
    assert "frequency: granted 410.02500 MHz, asked 420.00000 MHz" in text


def test_the_conflict_report_names_what_was_found_and_what_was_accepted_and_why(at: Desk) -> None:
    register = at.register
    sites = [station.site for station in at.link.stations.order_by("label")]
    register.link("L-9", *sites, status="on_air")  # the same pair between the same sites
    checks.check_link(at.link.pk, by=TESTS)
    worst = Finding.objects.filter(kind="co_channel").first()
    assert worst is not None
    planner = person("petra", "spectrum.accept_finding")
    accept(worst, by=planner, reason="Never on the air at once.")
    text = text_of(at.draft())
    assert "Never on the air at once." in text
    assert f"accepted by {planner}" in text
    still = Finding.objects.filter(kind="co_channel", accepted_at=None).first()
    assert still is not None and still.margin is not None
    assert still.headline.split("  ")[0][:40] in text
    assert f"{still.margin:.1f} dB".replace("-", "−") in text


def test_the_workbook_is_read_by_another_library_and_agrees_with_the_csv(at: Desk) -> None:
    sheet = shown(at.draft())
    book = CalamineWorkbook.from_filelike(io.BytesIO(sheet_xlsx(sheet)))
    assert book.sheet_names == ["application", "stations", "conflicts"]
    rows = book.get_sheet_by_name("stations").to_python()
    lines = list(csv.reader(io.StringIO(sheet_csv(sheet))))
    assert rows == lines
    by_name = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    assert [row["station"] for row in by_name] == ["A", "B"]
    assert by_name[0]["assigned transmit frequency (MHz)"] == "410.00000 MHz"
    assert by_name[0]["class of emission and necessary bandwidth (emission designator)"] == "16K0F1D"
    general = {row[0]: row[1] for row in book.get_sheet_by_name("application").to_python()[1:]}
    assert general["our number"] == "A-2026-001"


@pytest.mark.parametrize("sign", ["=", "+", "-", "@"])
def test_a_name_that_a_spreadsheet_would_compute_is_defused(at: Desk, sign: str) -> None:
    place = at.link.stations.get(label="A").site
    place.region = f"{sign}HYPERLINK(1)"
    record.change(place, by=TESTS)
    sheet = shown(at.draft(contact=f"{sign}1+1"))
    lines = list(csv.DictReader(io.StringIO(sheet_csv(sheet))))
    assert lines[0]["administrative area (name)"] == f"'{sign}HYPERLINK(1)"
    book = CalamineWorkbook.from_filelike(io.BytesIO(sheet_xlsx(sheet)))
    rows = book.get_sheet_by_name("stations").to_python()
    assert f"'{sign}HYPERLINK(1)" in rows[1]
    assert f"'{sign}1+1" in [row[1] for row in book.get_sheet_by_name("application").to_python()]


def test_letters_that_the_face_lacks_are_said(at: Desk) -> None:
    assert "Letters that this sheet's face lacks" in text_of(at.draft(contact="Радио"))
