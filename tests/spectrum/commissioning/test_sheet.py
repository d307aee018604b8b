"""The commissioning sheet: what it says, that the PDF says the same, and when a link is not to be switched on."""

from __future__ import annotations

import datetime as dt
import io
import math
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from licences.limits import Allowance
from sites.models import Site
from sites.services import record
from spectrum.commissioning import commissioning_sheet
from spectrum.commissioning.exposure import antenna_size_m
from spectrum.commissioning.power import PowerSteps, power_setting
from spectrum.conflicts.gather import one_link
from spectrum.models import Link
from spectrum.places import stations_in_order
from spectrum.services.links import save_link
from tests.made import TESTS, TODAY, Register, person, site

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day():
    with time_machine.travel(dt.datetime.combine(TODAY, dt.time(12)), tick=False):
        yield


@pytest.fixture
def made() -> Register:
    return Register()


def licensed_link(made: Register, *, power_limit_dbm: float = 38.0, **changes: Any) -> Link:
    near, far = site("NEAR", 47.0, 14.0), site("FAR", 47.1, 14.1)
    licence = made.licence("L-1", **changes.pop("licence", {}))
    link = made.link("K1", near, far, status="granted", **changes)
    for station, hertz in zip(stations_in_order(link), (410_000_000, 420_000_000), strict=True):
        station.licensed_channel = made.channel(
            licence, station.label, frequency_hz=hertz, site=station.site, power_limit_dbm=power_limit_dbm
        )
        record.change(station, by=TESTS)
    return Link.objects.get(pk=link.pk)


def sheet(link: Link) -> Any:
    return commissioning_sheet(link, stations_in_order(link), [], TODAY)


def value(lines: list[Any], name: str) -> str:
    return next(line.value for line in lines if line.name == name)


def text_of(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def test_what_one_end_transmits_the_other_receives_and_each_is_told_whether_it_is_the_high_one(made):
    a, b = sheet(licensed_link(made)).ends
    assert (a.sends, a.hears) == (b.hears, b.sends) == ("410.00000", "420.00000")
    notes = [next(x.note for x in end.settings if x.name == "transmit frequency") for end in (a, b)]
    assert "LOW" in notes[0] and "HIGH" in notes[1]


@pytest.mark.parametrize(
    ("limit", "kind", "losses", "gain", "planned", "expected"),
    [
        (38.0, "erp", 2.0, 6.0, 37.0, 36.0),  # 38 + 2.15 - 6 + 2 = 36.15, by hand
        (38.0, "eirp", 2.0, 6.0, 37.0, 34.0),  # 38 - 6 + 2 = 34, exactly on a step
        (38.0, "tx_output", 2.0, 6.0, 37.0, 37.0),  # losses and gain are not the licence's business
        (60.0, "tx_output", 0.0, 0.0, 36.4, 36.0),  # the plan is the lower
        (60.0, "tx_output", 0.0, 0.0, 50.0, 43.0),  # the radio has no more
    ],
)
def test_the_power_to_set_is_the_highest_step_below_licence_and_plan(
    limit, kind, losses, gain, planned, expected
):
    allowed = Allowance(frequency_hz=1, channel_width_hz=1, power_limit_dbm=limit, power_kind=kind)
    steps = PowerSteps(20.0, 43.0, 1.0)
    setting = power_setting(planned, allowed, line_losses_db=losses, antenna_gain_dbi=gain, steps=steps)
    assert setting.set_dbm == pytest.approx(expected)
    terms = [float(row.value) for row in setting.rows if row.role == "term"]
    assert sum(terms) == pytest.approx(next(row.value for row in setting.rows if row.role == "sum"))


def test_no_step_of_any_radio_ever_exceeds_the_licence():
    for step in (0.1, 0.5, 1.0, 3.0):
        for tenth in range(200, 500):
            limit = tenth / 10 + 0.049
            chosen = PowerSteps(20.0, 43.0, step).at_most(limit)
            assert chosen is not None and chosen <= min(limit, 43.0) + 1e-6
            assert chosen + step > min(limit, 43.0) - 1e-6 or chosen + step > 43.0


def test_a_radio_that_cannot_go_low_enough_is_given_no_power(made):
    end = sheet(licensed_link(made, power_limit_dbm=10.0)).ends[0]
    assert end.power.set_dbm is None and "lowest power" in end.power.sentence


def test_a_link_inside_its_licence_carries_no_warning(made):
    assert sheet(licensed_link(made, power_limit_dbm=43.0)).warning == ""


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"power_limit_dbm": 30.0}, "above the licensed"),
        ({"licence": {"expires_on": TODAY - dt.timedelta(days=1)}}, "ended on 2026-05-31"),
        ({"licence": {"in_force_from": TODAY + dt.timedelta(days=9)}}, "in force from 2026-06-10"),
    ],
)
def test_what_the_licence_forbids_is_the_first_line_of_the_page_and_of_every_page_of_the_pdf(
    made, client: Client, changes, said
):
    link = licensed_link(made, **changes)
    client.force_login(person("reader", "spectrum.view_link"))
    page = client.get(reverse("link-commissioning", args=[link.pk])).content.decode()
    main = page[page.index("<main") :]
    assert main.index("Not to be switched on: ") < main.index("<h1")
    assert said in main
    assert main.count(said) == 2  # one sentence for each station
    pages = text_of(client.get(reverse("link-commissioning-pdf", args=[link.pk])).content)
    assert len(pages) > 1
    assert all("Not to be switched on: " in text for text in pages)


@pytest.mark.parametrize("status", ["planned", "granted"])
def test_a_link_without_a_licence_is_not_to_be_switched_on_and_gets_no_power(made, status):
    link = made.link("K2", site("NEAR"), site("FAR", 47.1, 14.1), status=status)
    found = sheet(link)
    assert found.warning.startswith("Not to be switched on: K2/A has no licensed channel.")
    assert [end.power.set_dbm for end in found.ends] == [None, None]


@pytest.mark.parametrize("status", ["lapsed", "retired"])
def test_a_link_that_is_no_more_is_not_to_be_switched_on(made, status):
    link = made.link("K3", site("N3"), site("F3", 47.1, 14.1), status=status)
    assert "The status of the link is" in sheet(link).warning


def test_the_pdf_read_back_has_the_figures_of_the_register(made, client: Client):
    link = licensed_link(made)
    for station in stations_in_order(link):
        station.duplexer_isolation_db, station.feeder_loss_db = 71.0, 1.3
        station.polarisation, station.antenna_height_agl_m = "H", 23.4
        record.change(station, by=TESTS)
    link = Link.objects.get(pk=link.pk)
    client.force_login(person("reader", "spectrum.view_link"))
    answer = client.get(reverse("link-commissioning-pdf", args=[link.pk]))
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(text_of(answer.content))
    for station in stations_in_order(link):
        assert station.tx_frequency_hz is not None and station.rx_frequency_hz is not None
        of_register = one_link(link, TODAY)
        azimuth = next(s.azimuth_deg for s in of_register.stations if s.id == station.pk)
        for expected in (
            f"{station.tx_frequency_hz / 1e6:.5f} MHz",
            f"{station.rx_frequency_hz / 1e6:.5f} MHz",
            f"{station.mode.channel_width_hz / 1e3:.2f} kHz",
            f"{station.mode.occupied_bandwidth_hz / 1e3:.2f} kHz",
            station.mode.modulation,
            station.mode.emission_designator,
            station.get_polarisation_display(),
            f"{azimuth:.1f}° from true north",
            f"{station.antenna_height_agl_m:.1f} m above ground",
            f"{station.site.latitude_deg:.5f} {station.site.longitude_deg:.5f}",
            "71.0 dB",
            "1.3 dB",
        ):
            assert expected in text, expected
    assert "47°00'00.0\"N 014°00'00.0\"E" in text and "47°06'00.0\"N 014°06'00.0\"E" in text
    # 38 dBm e.r.p. + 2.15 − 6 dBi + 1.3 dB of line = 35.45 dBm, rounded down to whole dB
    assert "35.45" in text and "35.0 dBm (3.16 W)" in text


def test_the_predicted_level_is_the_engines_and_the_bench_attenuation_leads_to_it(made):
    end = sheet(licensed_link(made)).ends[1]
    level = float(value(end.expected, "received level, median").replace("−", "-").removesuffix(" dBm"))
    attenuation = float(value(end.expected, "attenuation on the bench for that level").removesuffix(" dB"))
    assert 20.0 - attenuation == pytest.approx(level, abs=0.11)  # the radio's lowest power is 20 dBm
    # free space over 13.48 km at 410 MHz with 37 dBm and 6 dBi at either end is the most that can arrive
    free_space = 32.45 + 20 * math.log10(410.0) + 20 * math.log10(13.48)
    assert level < 37.0 + 12.0 - free_space + 1.0


def test_no_exposure_distance_is_given_inside_the_near_field(made):
    end = sheet(licensed_link(made)).ends[0]
    line = next(x for x in end.exposure if x.name.startswith("general public"))
    assert line.value == "no distance" and "near field" in line.note
    assert antenna_size_m("f1336_omni", 6.0, 410.0) == pytest.approx(1.456, abs=0.001)


def test_the_exposure_distance_of_a_small_antenna_is_the_far_field_one(made):
    link = licensed_link(made, power_limit_dbm=43.0)
    made.antenna.diameter_m = 0.3
    record.change(made.antenna, by=TESTS)
    end = sheet(Link.objects.get(pk=link.pk)).ends[0]
    # 37 dBm + 6 dBi = 43 dBm = 19.95 W; ICNIRP 2020 at 410 MHz: 410/200 = 2.05 W/m²
    expected = math.sqrt(10 ** (43.0 / 10) / 1e3 / (4 * math.pi * 2.05))
    assert value(end.exposure, "general public, ICNIRP 2020") == f"{expected:.1f} m"


def test_letters_that_the_face_lacks_are_printed_plain_and_the_sheet_says_so(made, client: Client):
    link = licensed_link(made)
    place = Site.objects.get(code="NEAR")
    place.name = "Hřebenová Őr Ж"
    record.change(place, by=TESTS)
    client.force_login(person("reader", "spectrum.view_link"))
    text = " ".join(text_of(client.get(reverse("link-commissioning-pdf", args=[link.pk])).content))
    assert "Hrebenová Or ¿" in text and "face lacks" in text


def test_the_sheet_of_many_remotes_takes_no_more_queries_than_that_of_one(made, client: Client):
    client.force_login(person("reader", "spectrum.view_link"))

    def queries(remotes: int) -> int:
        places = [site(f"P{remotes}-{n}", 47.0 + n / 100) for n in range(remotes + 1)]
        stations = made.stations(places[0], places[1])
        stations += [made.stations(places[0], place)[1] for place in places[2:]]
        stations[0].role, stations[0].label = "hub", "hub"
        for number, station in enumerate(stations[1:], start=1):
            station.role, station.label = "remote", str(number)
        link = save_link(
            Link(code=f"H{remotes}", kind="ptmp", holder=made.own),
            stations,
            by=TESTS,
            clashes_are_findings=True,
        )
        with CaptureQueriesContext(connection) as captured:
            assert client.get(reverse("link-commissioning", args=[link.pk])).status_code == 200
        return len(captured)

    queries(1)
    assert queries(6) == queries(2) <= 25
