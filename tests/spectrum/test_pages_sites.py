"""The page of a site: frequencies, isolation, products, exposure, licences."""

from __future__ import annotations

import datetime as dt
import re
import time
from typing import Any

import pytest
from django.contrib.contenttypes.models import ContentType
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.fixtures import DjangoAssertNumQueries

from licences import selectors as licence_selectors
from sites.models import Site
from sites.services import record
from spectrum.models import Finding, Link
from spectrum.services import checks
from spectrum.services.links import save_link
from spectrum.services.site_view import SHOWN, Cell, SiteView, site_view
from tests.made import DAY, TESTS, TODAY, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
# session, person and permissions 4, the site 1, criteria 1, sites and links near 3, their stations with modes, masks and
# pointing 3, equipment and exceptions 2, areas and licences 2, and stations, channels (each with its number), findings 5
SITE_QUERIES = 22


def text(answer: Any) -> str:
    return str(answer.content.decode())


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person_of_role("planner"))
    return signed_in


def crowd(links: int, step_hz: int = 50_000, isolation_db: float = 85.0) -> Site:
    """A hill with an end of every link; all figures of the radio are entered. End A sends low on the hill."""
    register = Register()
    register.radio.blocking_level_dbm = -20.0
    register.radio.transmitter_noise_dbc_per_hz = -150.0
    register.radio.third_order_intercept_dbm = 0.0
    record.change(register.radio, by=TESTS)
    hill, valley = site("HILL", 47.0, 14.0), site("VALLEY", 47.1, 14.1)
    for n in range(links):
        ends = register.stations(hill, valley, duplexer_isolation_db=isolation_db)
        for end in ends:
            for name in ("tx_frequency_hz", "rx_frequency_hz"):
                setattr(end, name, getattr(end, name) + n * step_hz)
        link = Link(code=f"L-{n:02d}", holder=register.own, status=Link.Status.ON_AIR)
        save_link(link, ends, by=TESTS)
    return hill


def cells(view: SiteView) -> dict[tuple[str, str], Cell]:
    assert view.isolation is not None
    return {
        (row.station.name, receiver.name): cell
        for row in view.isolation.rows
        for receiver, cell in zip(view.isolation.receivers, row.cells, strict=True)
    }


def test_the_matrix_has_the_figures_of_the_findings() -> None:
    """10 dB of duplexer: each station is short of isolation from itself, and so are its neighbours."""
    hill = crowd(4, isolation_db=10.0)
    checks.check_network(as_of=TODAY)
    matrix = cells(site_view(hill, TODAY))
    found = Finding.objects.filter(site=hill, gone_at=None, margin__isnull=False)
    compared = set()

    for finding in found.filter(kind="duplex_isolation"):
        name = f"{finding.link}/{finding.station_label}"
        cell = matrix[name, name]
        stated = {row["name"]: row["value"] for row in finding.evidence}
        assert finding.margin is not None and cell.over == (finding.margin < 0)
        assert cell.margin_db == pytest.approx(finding.margin, abs=1e-3)
        assert cell.found_db == pytest.approx(stated["Isolation found"], abs=1e-3)
        assert cell.needed_db == pytest.approx(stated[f"Isolation needed against {cell.against}"], abs=1e-3)
        compared.add("itself")
    for finding in found.filter(
        kind__in=("receiver_blocking", "transmitter_noise"), other_link__isnull=False
    ):
        cell = matrix[
            f"{finding.link}/{finding.station_label}", f"{finding.other_link}/{finding.other_station_label}"
        ]
        assert cell.margin_db is not None and finding.margin is not None
        assert cell.margin_db <= finding.margin + 1e-3  # the worse of blocking and noise is shown
        if cell.against == {"receiver_blocking": "blocking"}.get(finding.kind, "transmitter noise"):
            assert cell.margin_db == pytest.approx(finding.margin, abs=1e-3)
            losses = {
                row["name"]: row["value"] for row in finding.evidence
                if row["role"] == "term" and row["unit"] == "dB" and not row["name"].startswith("Less")
            }  # fmt: skip
            assert cell.found_db == pytest.approx(-sum(losses.values()), abs=1e-3)
            compared.add(cell.against)
    assert "itself" in compared and len(compared) >= 2


def test_the_least_margin_is_framed_and_said(client: Client) -> None:
    hill = crowd(3, isolation_db=50.0)
    view = site_view(hill, timezone.localdate())
    worst = [cell for cell in cells(view).values() if cell.worst]
    page = text(client.get(reverse("site", args=[hill.pk])))

    assert len(worst) == 1 and view.isolation is not None
    assert worst[0].margin_db == min(c.margin_db for c in cells(view).values() if c.margin_db is not None)
    assert page.count(" worst") == 1 and "■" in page
    assert f"{view.isolation.short} of {view.isolation.judged} pairs have too little isolation" in page


def test_a_crowded_site_shows_the_worst_and_all_on_request(client: Client) -> None:
    hill = crowd(SHOWN + 3)
    address = reverse("site", args=[hill.pk])
    part, whole = (
        text(client.get(address)),
        text(client.get(address, {"isolation": "all", "products": "all"})),
    )

    def rows(page: str) -> int:
        table = page[page.index('<table class="matrix">') :]
        return table[: table.index("</table>")].count('<th scope="row"')

    assert (rows(part), rows(whole)) == (SHOWN, SHOWN + 3)
    assert f"All {SHOWN + 3} transmitters and {SHOWN + 3} receivers" in part
    assert "Only those with the least margins" in whole


@pytest.mark.parametrize("links", [3, 9])
def test_the_page_of_a_site_asks_a_fixed_number_of_queries(
    client: Client, links: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    hill = crowd(links)
    ContentType.objects.get_for_model(type(hill))  # kept by the process once it is known
    with django_assert_num_queries(SITE_QUERIES):
        client.get(reverse("site", args=[hill.pk]))


def test_products_stand_with_their_mix_and_order(client: Client) -> None:
    """Three transmitters beside a receiver of the other half turned round: 2 × 410.05 − 410.00 = 410.10 MHz."""
    hill = crowd(2)
    register_link = Link.objects.get(code="L-00")
    turned = list(register_link.stations.all())
    link = Link(code="L-90", holder=register_link.holder, status=Link.Status.ON_AIR)
    for station in turned:
        station.pk, station._state.adding, station.link = None, True, link
        station.tx_frequency_hz, station.rx_frequency_hz = station.rx_frequency_hz, station.tx_frequency_hz
        for name in ("tx_frequency_hz", "rx_frequency_hz"):
            setattr(station, name, getattr(station, name) + 100_000)
    save_link(link, turned, by=TESTS)

    view = site_view(hill, timezone.localdate())
    page = text(client.get(reverse("site", args=[hill.pk])))

    assert view.products is not None
    first = view.products.rows[0]
    assert (first.order, first.mix, first.product_hz) == (3, "2 × L-01/A − L-00/A", 410_100_000)
    assert (first.victim.name, first.offset_khz) == ("L-90/A", 0.0)
    assert "2 × L-01/A − L-00/A" in page and "410.10000" in page


def test_exposure_is_guidance_with_its_cautions(client: Client) -> None:
    hill = crowd(1)
    (row,) = site_view(hill, timezone.localdate()).exposure
    page = text(client.get(reverse("site", args=[hill.pk])))

    # 37 dBm and 6 dBi: 43 dBm, 20 W. By ICNIRP 2020 √(20 / (4π · 410/200)) = 0.88 m, inside the near field of an
    # antenna of λG/2 = 1.46 m, 2D²/λ = 5.8 m: no distance is given.
    assert row.eirp_dbm == pytest.approx(43.0)
    assert row.none and row.assumed and row.near_field_m == pytest.approx(5.8, abs=0.05)
    assert "no distance" in page
    assert "As guidance only; the local code decides." in page
    assert "Before anybody transmits or climbs" in page


def test_licences_that_cover_a_site_are_those_there_and_those_around_it(client: Client) -> None:
    register = Register()
    here, away = site("HERE", 47.0, 14.0), site("AWAY", 48.5, 14.0)
    square = {
        "type": "Polygon",
        "coordinates": [[[13, 46.5], [15, 46.5], [15, 47.5], [13, 47.5], [13, 46.5]]],
    }
    register.channel(register.licence("AT-SITE"), site=here)
    register.channel(register.licence("AROUND"), area=square, tolerance_m=None)
    register.channel(register.licence("ELSEWHERE"), site=away)
    register.channel(register.licence("ENDED", ended_on=TODAY - DAY), site=here)

    def numbers(place: Site) -> set[str]:
        return {licence.number for licence in licence_selectors.licences_covering(place, TODAY)}

    assert numbers(here) == {"AT-SITE", "AROUND"}
    assert numbers(away) == {"ELSEWHERE"}
    page = text(client.get(reverse("site", args=[here.pk])))
    covering = page[
        page.index("Which licences cover this site?") : page.index("Licensed channels at this site")
    ]
    assert "AT-SITE" in covering and "AROUND" in covering and "ELSEWHERE" not in covering


def test_a_site_where_nothing_stands_says_so(client: Client) -> None:
    page = text(client.get(reverse("site", args=[site("BARE").pk])))

    assert "No station stands here" in page and "No licence has a channel here" in page
    assert "Isolation" not in page and not re.search(r'class="plan', page)


def test_sixty_transmitters_are_looked_at_in_the_time_of_a_page() -> None:
    hill = crowd(60, step_hz=12_500)
    site_view(hill, dt.date(2026, 6, 1))
    start = time.perf_counter()
    view = site_view(hill, dt.date(2026, 6, 1), whole_matrix=True, many_products=True)

    # 0.2 s on two cores that others were using too; what is quadratic in anything more would not stay below this
    assert time.perf_counter() - start < 3.0
    assert view.isolation is not None and len(view.isolation.rows) == 60
    assert view.axes[0].unnamed
