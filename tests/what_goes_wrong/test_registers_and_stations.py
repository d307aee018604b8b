"""What goes wrong with licence and frequency records: the lines on positions, stations, masts and the two registers.

Each line is from public enforcement notices and regulators' pages (the FCC's DA numbers name the public record);
each test carries the line's own words as its name and shows that the register catches it.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from licences.models import Licence, LicensedChannel
from sites.models import Site
from sites.services import record
from spectrum.models import Difference, Finding, Link, Station
from spectrum.services import comparison
from spectrum.services.checks import check_network
from spectrum.services.completeness import report
from spectrum.services.extracts import described, import_extract
from spectrum.services.sensitivity import sensitivity_of
from spectrum.site_pack import site_pack
from tests.made import DAY, TESTS, TODAY, Register, site
from tests.spectrum.extracts.made import csv_bytes, description, row
from tests.spectrum.site_pack.test_pack import licensed_link, text_of

pytestmark = pytest.mark.django_db


def cases(code: str) -> list[str]:
    part = next(part for part in report(TODAY) if part.code == code)
    return [f"{gap.obj}: {gap.said}" for gap in part.gaps]


def load(*rows: dict[str, str]) -> None:
    mapping = described(description())
    import_extract(csv_bytes(*rows), "extract.csv", mapping, by=TESTS, as_of=dt.date(2026, 6, 1))


def ours(**changes: Any) -> dict[str, str]:
    return row(Holder="Own Grid Company", Holder_no="1", Number="G-1", **changes)


def test_6_records_missing_clearly_erroneous_or_conflicting_lose_their_protection() -> None:
    """DA-22-236: completeness and consistency report; as licensed against as built."""
    register = Register()
    mast = site("S1", position_source="estimate")
    channel = register.channel(
        register.licence("L 6"), site=mast, power_limit_dbm=None, latitude_deg=47.02, longitude_deg=14.0
    )
    assert cases("channel_power") == [f"{channel}: no power limit"]
    assert cases("site_position") == ["S1 Place S1: position not surveyed"]
    [conflicting] = cases("positions")
    assert conflicting.startswith(f"{channel}: as licensed 222")
    link = register.link("K-1", mast, site("S2", 47.2, 14.2), status=Link.Status.ON_AIR)
    sender = Station.objects.get(link=link, label="A")
    sender.licensed_channel = channel
    record.change(sender, by=TESTS)
    check_network(as_of=TODAY)
    assert Finding.objects.filter(kind="licence_position", link=link, severity="must_fix").exists()
    assert any("K-1/A" in case for case in cases("limits"))


def test_7_a_wrong_transmitter_position_is_the_commonest_audit_finding() -> None:
    """As licensed beside as surveyed, never overwritten by an import; where it came from, how good it is, the datum."""
    load(ours())
    mast = Site.objects.get(code="VRA N47.00000 E014.00000")
    assert (mast.position_source, mast.position_accuracy_m, mast.position_epsg) == ("regulator", 5, 4326)
    mast.latitude_deg, mast.position_source, mast.position_accuracy_m = 47.0004, "survey", 1.0
    mast.position_typed = "47.0004, 14.0"
    record.change(mast, by=TESTS)
    load(ours())
    mast.refresh_from_db()
    channel = LicensedChannel.objects.get()
    assert (mast.latitude_deg, mast.position_source) == (47.0004, "survey")
    assert channel.latitude_deg == 47.0
    difference = Difference.objects.get(record__kind="site", field="position")
    assert (difference.register, difference.now, difference.state) == ([47.0004, 14.0], [47.0, 14.0], "open")
    # 0.0004° of the meridian at 47° north: 44.5 m (WGS 84)
    assert difference.distance_m == pytest.approx(44.5, abs=0.1)


def test_10_stations_that_do_not_exist_block_good_frequencies() -> None:
    """Not built, abandoned, last seen: each is listed, with the surrender beside it."""
    register = Register()
    unbuilt = register.licence("L 10", bring_into_use_by=TODAY - DAY)
    assert cases("not_built") == [f"{unbuilt}: to be in use by {TODAY - DAY}, 1 day ago"]
    left = register.channel(register.licence("L 11"), site=site("S1"))
    link = register.link("K-1", site("S3", 48.0), site("S2", 48.2, 14.2), status=Link.Status.ON_AIR)
    sender = Station.objects.get(link=link, label="A")
    sender.licensed_channel = left
    record.change(sender, by=TESTS)
    assert cases("abandoned") == []
    assert cases("unseen") == [
        "K-1/A: on the air from an unknown day",
        "K-1/B: on the air from an unknown day",
    ]
    link.refresh_from_db()
    link.status = Link.Status.RETIRED
    record.change(link, by=TESTS)
    assert cases("abandoned") == [f"{left}: link K-1 is retired"]
    assert cases("unseen") == []


def test_11_interference_that_shows_only_in_fades() -> None:
    """Judge the margin with fading, not whether the link works today.

    The interferer stands beyond the horizon: half of the time the link works, in the rare time in which
    the layer bends the signal further it does not. The check judges that time.
    """
    register = Register()
    high = {"antenna_height_agl_m": 60.0}
    register.link("WORKS", site("S1"), site("S2", 47.3, 14.0), status=Link.Status.ON_AIR, stations=high)
    register.link("FAR", site("S3", 48.6), site("S4", 48.9, 14.0), status=Link.Status.ON_AIR, stations=high)
    check_network(as_of=TODAY)
    found = Finding.objects.filter(kind="carrier_to_interference", severity="must_fix")
    answers = [(finding, sensitivity_of(finding, as_of=TODAY).sensitivity) for finding in found]
    only_in_fades = [
        (finding.margin, changed.margin_db)
        for finding, answer in answers
        for changed in answer.rows
        if changed.now == "50 % of time" and changed.other_sign
    ]
    assert only_in_fades
    assert all(rare < 0 < half for rare, half in only_in_fades if rare is not None and half is not None)


def test_12_transmitting_high_and_low_from_one_mast() -> None:
    """Band-half rule per site and band, with documented exceptions."""
    register = Register()
    mast = site("MAST")
    register.link("LOW", mast, site("S1", 47.3), status=Link.Status.ON_AIR)
    turned = register.link("HIGH", site("S2", 46.7), mast, status=Link.Status.ON_AIR)
    for station in Station.objects.filter(link=turned):
        station.tx_frequency_hz = (station.tx_frequency_hz or 0) + 4_000_000
        station.rx_frequency_hz = (station.rx_frequency_hz or 0) + 4_000_000
        record.change(station, by=TESTS)
    check_network(as_of=TODAY)
    [clash] = Finding.objects.filter(kind="band_half_clash", gone_at=None)
    assert (clash.severity, clash.site) == ("must_fix", mast)
    mast.refresh_from_db()
    mast.band_half_exceptions = "410-430: one hop turned round, letter of 2024-03-04."
    record.change(mast, by=TESTS)
    check_network(as_of=TODAY)
    assert not Finding.objects.filter(kind="band_half_clash", gone_at=None, severity="must_fix").exists()


def test_15_the_regulators_register_and_ones_own_differ() -> None:
    """Compare the two and show the differences, field by field; nothing is overwritten in silence."""
    load(row(), row(Number="F-101", MHz="6040.5"))
    licence = Licence.objects.get(number="F-100")
    licence.expires_on, licence.service = dt.date(2029, 1, 1), "as the paper says"
    record.change(licence, by=TESTS)
    load(row(Expires="2031-05-01"))
    shown = {
        (d.record.key, d.field or d.what): (d.register, d.then, d.now)
        for d in Difference.objects.select_related("record").filter(state="open", record__kind="licence")
    }
    assert shown["F-100", "expires_on"] == ("2029-01-01", "2030-05-01", "2031-05-01")
    assert shown["F-100", "service"][0] == "as the paper says"
    assert ("F-101", "gone") in shown
    assert Licence.objects.get(number="F-100").expires_on == dt.date(2029, 1, 1)
    difference = Difference.objects.get(field="expires_on", record__key="F-100", state="open")
    seen = comparison.distinct(difference)
    comparison.decide(difference, "regulator", reason="letter of May", by=TESTS, seen=seen)
    assert Licence.objects.get(number="F-100").expires_on == dt.date(2031, 5, 1)


def test_13_audits_are_targeted_and_random() -> None:
    """A licence pack per site that an inspector can be shown: what is licensed there, and what is not, in one PDF."""
    mast = site("MAST", 47.05, 14.1)
    register = Register()
    licensed = licensed_link(register, mast)
    unlicensed = register.link("K-13", mast, site("S2", 47.3, 14.3), status=Link.Status.ON_AIR)
    pack = site_pack(mast, TODAY)
    shown = text_of(pack)
    channel = LicensedChannel.objects.get()
    for word in (
        f"AUT {channel.licence.number}",
        "410.00000 MHz",
        f"{licensed.code}/A",
        f"{unlicensed.code}/A",
    ):
        assert word in shown, word
    [missing] = [said for said in pack.off if said.startswith(f"{unlicensed.code}/A")]
    assert "without a licensed channel" in missing and missing in shown
    assert not any(said.startswith(f"{licensed.code}/A") for said in pack.off)
