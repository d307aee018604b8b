"""Every planted trouble is found as the table says, and nothing else is."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from spectrum.conflicts.evidence import adds_up
from spectrum.conflicts.kinds import KINDS, SITE_KINDS
from spectrum.demo.planted import STORY
from spectrum.demo.troubles import TROUBLES, Trouble
from spectrum.models import Finding, Link, Station
from spectrum.services.checks import check_link, check_network
from tests.spectrum.demo.conftest import Demo

pytestmark = pytest.mark.django_db

Key = tuple[str, str, str, str, str, str]


def key_of(trouble: Trouble) -> Key:
    licence = trouble.licence
    if trouble.licence_of:
        station = Station.objects.filter(
            link__code=trouble.licence_of, licensed_channel__isnull=False
        ).select_related("licensed_channel__licence")[0]
        assert station.licensed_channel is not None
        licence = station.licensed_channel.licence.number
    return (trouble.kind, trouble.link, trouble.station, trouble.other_link, trouble.other_station, licence)


def key_of_finding(finding: Finding) -> Key:
    """The parties by name; the licence only where no link is named."""
    other = finding.other_station_label
    return (
        finding.kind,
        finding.link.code if finding.link else "",
        finding.station_label,
        finding.other_link.code if finding.other_link else "",
        "channel" if other.startswith("channel ") else other,
        finding.licence.number if finding.licence and not finding.link else "",
    )


def found() -> dict[Key, Finding]:
    current = Finding.objects.filter(gone_at=None).select_related("link", "other_link", "licence")
    by_key = {key_of_finding(finding): finding for finding in current}
    assert len(by_key) == len(current)
    return by_key


def is_of_busy_hills(finding: Finding) -> bool:
    """Products and notes at hills with a dozen transmitters: they come with the channels, nobody planted them.

    A channel plan in which no product of three meets any channel would fill a hill with a few links; what
    remains rests on assumed spacings and never must be fixed.
    """
    products = finding.kind == "intermodulation" and finding.severity != "must_fix"
    return products or (finding.kind in SITE_KINDS and finding.severity == "note")


def test_the_table_has_every_kind_of_finding() -> None:
    assert {trouble.kind for trouble in TROUBLES} == set(KINDS)


def test_what_was_planted_is_found_and_nothing_else(demo: Demo) -> None:
    expected = {key_of(trouble): trouble for trouble in TROUBLES}
    assert len(expected) == len(TROUBLES)
    by_key = found()
    assert {key for key in by_key.keys() - expected.keys() if not is_of_busy_hills(by_key[key])} == set()
    assert expected.keys() - by_key.keys() == set()
    for key, trouble in expected.items():
        finding = by_key[key]
        assert finding.severity == trouble.severity, key
        assert finding.margin_unit == trouble.unit, key
        if trouble.margin is None:
            assert finding.margin is None, key
        else:
            assert finding.margin == pytest.approx(trouble.margin, abs=trouble.within), key


def test_the_arithmetic_under_every_margin_adds_up(demo: Demo) -> None:
    with_margin = [f for f in found().values() if f.margin is not None]
    assert len(with_margin) > 40
    wrong = [f.headline for f in with_margin if not adds_up(f.evidence, f.margin or 0.0)]
    assert wrong == []


def test_what_could_not_be_judged_says_why(demo: Demo) -> None:
    gaps = [f for f in found().values() if f.kind == "not_computed"]
    assert len(gaps) == 4
    assert all(f.not_judged and f.evidence == [] for f in gaps)


def test_checking_again_changes_nothing(demo: Demo) -> None:
    before = set(Finding.objects.values_list("identity", flat=True))
    again = check_network(as_of=demo.today)
    assert (again.counts["new"], again.counts["still"], again.counts["gone"]) == (0, len(before), 0)
    assert set(Finding.objects.filter(gone_at=None).values_list("identity", flat=True)) == before


@pytest.mark.parametrize("code", [STORY, "O-021", "U41-024", "U41-302", "U41-001"])
def test_checking_one_link_finds_its_part_of_the_whole(demo: Demo, code: str) -> None:
    link = Link.objects.get(code=code)
    counts = check_link(link.pk, as_of=demo.today).counts
    assert (counts["new"], counts["gone"]) == (0, 0)


def test_the_story_added_up_by_hand(demo: Demo) -> None:
    """I/N of the planned link at the railway's receiver, from the register's figures and textbook formulas.

    Free-space loss 32.45 + 20 log f + 20 log d (ITU-R P.525, MHz and km); noise −174 dBm/Hz + 10 log B +
    NF (common practice). P.452 at 20 % of time lies up to 2 dB below free space on a path of this length,
    and of the sender's 12.5 kHz emission all but a fraction of a decibel passes the receiver. What the hills
    between take is read from the finding.
    """
    sender = Station.objects.select_related("site", "antenna_type").get(link__code=STORY, label="A")
    partner = Station.objects.select_related("site").get(link__code=STORY, label="B")
    victim = Station.objects.select_related("site", "antenna_type", "mode__radio_type").get(
        link__code="O-021", label="B"
    )
    heard_from = Station.objects.select_related("site").get(link__code="O-021", label="A")
    length_km, toward = flat_path(sender, victim)
    off_sender = turn(toward, flat_path(sender, partner)[1])
    off_victim = turn(toward + 180.0, flat_path(victim, heard_from)[1])
    loss = 32.45 + 20 * math.log10((sender.tx_frequency_hz or 0) / 1e6) + 20 * math.log10(length_km)
    level = (
        (sender.tx_power_dbm or 0.0)
        - sender.feeder_loss_db
        - sender.duplexer_loss_db
        + table_gain(sender, off_sender)
        - loss
        + table_gain(victim, off_victim)
        - victim.feeder_loss_db
        - victim.duplexer_loss_db
    )
    noise = -174.0 + 10 * math.log10(12_500) + victim.mode.radio_type.noise_figure_db
    finding = found()[("co_channel", STORY, "A", "O-021", "B", "")]
    hills = next(row["value"] for row in finding.evidence if row["name"].startswith("Part: diffraction"))
    assert 0.0 < hills < 10.0
    assert finding.margin == pytest.approx(-6.0 - (level - hills - noise), abs=2.5)


def flat_path(one: Station, other: Station) -> tuple[float, float]:
    """Length in km and azimuth, on a plane: good to 0.3 % over some tens of kilometres."""
    north = (other.site.latitude_deg - one.site.latitude_deg) * 111.18
    middle = math.radians((one.site.latitude_deg + other.site.latitude_deg) / 2)
    east = (other.site.longitude_deg - one.site.longitude_deg) * 111.41 * math.cos(middle)
    return math.hypot(north, east), math.degrees(math.atan2(east, north)) % 360.0


def turn(one_deg: float, other_deg: float) -> float:
    return abs((one_deg - other_deg + 180.0) % 360.0 - 180.0)


def table_gain(station: Station, off_axis_deg: float) -> float:
    points = station.antenna_type.pattern_points
    for (a, ga), (b, gb) in pairwise(points):
        if a <= off_axis_deg <= b:
            return float(station.antenna_type.gain_dbi + ga + (gb - ga) * (off_axis_deg - a) / (b - a))
    raise AssertionError(off_axis_deg)
