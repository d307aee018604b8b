"""A link against itself, its licence and the calendar: one test a rule, with what lies just inside and just outside."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from licences.limits import Allowance
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.evidence import adds_up, rows_as_json
from spectrum.conflicts.licence_checks import licence_findings
from spectrum.conflicts.link_checks import link_findings, nearest_on_plan_hz
from spectrum.conflicts.network import ChannelRecord, LicenceRecord, Network, PlanRecord, StationRecord
from spectrum.conflicts.time_checks import licence_time_findings, reservation_findings
from tests.spectrum.conflicts.made import TODAY, link, mode, station

DAY = dt.timedelta(days=1)
CRITERIA = Criteria()
PLAN = PlanRecord("P-25", 410_000_000, 25_000, 100, 10_000_000)

LICENCE = LicenceRecord(
    id=1, name="AUT 1", own=True, authority="AUT", granted_on=TODAY - 1000 * DAY, in_force_from=TODAY - 900 * DAY,
    expires_on=TODAY + 900 * DAY, ended_on=None, renewal_filed_on=None, bring_into_use_by=None,
    brought_into_use_on=None, renewal_opens_on=TODAY + 720 * DAY, last_filing_on=TODAY + 870 * DAY, unused_after_days=365,
)  # fmt: skip
CHANNEL = ChannelRecord(
    id=1,
    name="AUT 1/1",
    licence=LICENCE,
    allowance=Allowance(
        frequency_hz=410_000_000, channel_width_hz=25_000, emission_designators=("16K0F1D",), power_limit_dbm=43.0,
        power_kind="eirp", latitude_deg=47.0, longitude_deg=14.0, tolerance_m=100.0,
    ),
    site_id=10,
    in_force_from=LICENCE.in_force_from,
    expires_on=LICENCE.expires_on,
    ended_on=None,
)  # fmt: skip


def time_findings(network: Network, criteria: Criteria) -> list[Draft]:
    return [*reservation_findings(network, criteria), *licence_time_findings(network, criteria)]


def network(*stations: StationRecord, channel: ChannelRecord | None = None) -> Network:
    channels = [channel] if channel else []
    return Network(
        as_of=TODAY, stations=list(stations), licences=[c.licence for c in channels], channels=channels
    )


def kinds(drafts: list[Draft]) -> list[str]:
    for draft in drafts:
        if draft.margin is not None:
            assert adds_up(rows_as_json(draft.evidence), draft.margin), draft.headline
    return sorted(draft.kind for draft in drafts)


def ends(**b: object) -> tuple[StationRecord, StationRecord]:
    return station(link(1), "A"), station(link(1), "B", **b)


def test_mirrored_ends_are_clear() -> None:
    assert kinds(link_findings(network(*ends()))) == []


@pytest.mark.parametrize(
    ("change", "margin", "unit"),
    [
        ({"rx_frequency_hz": 410_025_000}, -0.025, "MHz"),
        ({"tx_frequency_hz": 420_012_500}, -0.0125, "MHz"),
        ({"mode": mode(12_500)}, -12.5, "kHz"),
    ],
)
def test_ends_that_do_not_mirror_are_found(change: dict[str, object], margin: float, unit: str) -> None:
    found = link_findings(network(*ends(**change)))
    assert kinds(found) == ["ends_not_mirrored"]
    assert (found[0].margin, found[0].margin_unit) == (pytest.approx(margin), unit)


def test_a_link_with_one_end_is_not_whole() -> None:
    found = link_findings(network(station(link(1), "A")))
    assert [d.headline for d in found] == ["A point-to-point link has two stations; L-001 has 1."]


def test_a_hub_and_its_remotes_mirror_each_other() -> None:
    system = link(1, kind="ptmp")
    hub = station(system, "A", role="hub")
    good, bad = (
        station(system, "B", role="remote"),
        station(system, "C", role="remote", tx_frequency_hz=421_000_000),
    )
    good, bad = (replace(s, rx_frequency_hz=410_000_000) for s in (good, bad))
    found = link_findings(network(hub, good, bad))
    assert kinds(found) == ["ends_not_mirrored"]
    assert found[0].parties.station_label == "C"


def test_a_frequency_off_its_plan_names_the_nearest_channel() -> None:
    on = link(1, plan=PLAN)
    assert kinds(link_findings(network(station(on, "A"), station(on, "B")))) == []
    found = link_findings(
        network(station(on, "A", tx_frequency_hz=410_005_000), station(on, "B", rx_frequency_hz=410_005_000))
    )
    assert kinds(found) == ["off_raster", "off_raster"]
    assert found[0].margin == pytest.approx(-5.0)
    assert found[0].cure == "The nearest channel is 410.00000 MHz."


@pytest.mark.parametrize(
    ("asked_hz", "nearest_hz"),
    [(1, 410_000_000), (410_037_000, 410_025_000), (419_990_000, 420_000_000), (500_000_000, 422_475_000)],
)
def test_the_nearest_channel_of_a_plan_is_found_in_both_halves(asked_hz: int, nearest_hz: int) -> None:
    assert nearest_on_plan_hz(PLAN, asked_hz) == nearest_hz


@pytest.mark.parametrize(
    ("change", "margin"),
    [({"tx_power_dbm": 43.0}, None), ({"tx_power_dbm": 45.0}, -2.0), ({"tx_power_dbm": 17.0}, -3.0)],
)
def test_power_outside_the_radio_is_found(change: dict[str, object], margin: float | None) -> None:
    found = link_findings(network(station(link(1), "A", **change), station(link(1), "B")))
    assert [d.margin for d in found if d.kind == "equipment_limits"] == ([] if margin is None else [margin])


def licensed(channel: ChannelRecord = CHANNEL, **changes: object) -> list[str]:
    link_changes = {k: changes.pop(k) for k in ("status", "starts_on", "ends_on") if k in changes}
    values = {"channel": channel, "mode": mode(), "site_id": 10, "tx_power_dbm": 37.0, **changes}
    return kinds(
        licence_findings(network(station(link(1, **link_changes), "A", **values)), CRITERIA, link_id=1)
    )


def test_a_station_inside_its_licence_is_clear() -> None:
    assert licensed() == []


def test_each_limit_is_found_when_it_is_passed() -> None:
    def allowed(**changes: Any) -> ChannelRecord:
        return replace(CHANNEL, allowance=replace(CHANNEL.allowance, **changes))

    assert licensed(allowed(frequency_hz=410_025_000)) == ["licence_frequency"]
    assert licensed(allowed(channel_width_hz=12_500)) == [
        "licence_channel_width",
        "licence_occupied_bandwidth",
    ]
    assert licensed(allowed(occupied_bandwidth_hz=16_000)) == ["licence_occupied_bandwidth"]
    assert licensed(allowed(emission_designators=("11K2F1D",))) == ["licence_emission"]
    assert licensed(allowed(modulations=("QPSK",))) == ["licence_modulation"]
    # 37 dBm − 2 dB + 6 dBi = 41 dBm e.i.r.p.
    assert licensed(allowed(power_limit_dbm=41.0)) == []
    assert licensed(allowed(power_limit_dbm=40.9)) == ["licence_power"]
    # e.i.r.p. = e.r.p. + 2.15 dB (47 CFR 2.1)
    assert licensed(allowed(power_limit_dbm=38.86, power_kind="erp")) == []
    assert licensed(allowed(power_limit_dbm=38.84, power_kind="erp")) == ["licence_power"]
    # One second of latitude is about 31 m.
    assert licensed(allowed(latitude_deg=47.0 + 3 / 3600)) == []
    assert licensed(allowed(latitude_deg=47.0 + 4 / 3600)) == ["licence_position"]
    assert licensed(allowed(antenna_height_max_agl_m=19.0)) == ["licence_antenna_height"]
    assert licensed(allowed(azimuth_deg=90.0, azimuth_tolerance_deg=2.0), azimuth_deg=93.0) == [
        "licence_azimuth"
    ]
    assert licensed(allowed(polarisation="H")) == ["licence_polarisation"]


def test_a_station_without_a_licence_must_be_fixed_only_if_it_may_transmit() -> None:
    def severity(status: str) -> list[tuple[str, str]]:
        found = licence_findings(network(station(link(1, status=status), "A")), CRITERIA)
        return [(d.kind, d.severity) for d in found]

    assert severity("on_air") == [("station_without_licence", "must_fix")]
    assert severity("planned") == [("station_without_licence", "note")]


def test_stations_outside_the_dates_of_their_licence_are_found() -> None:
    over = replace(LICENCE, expires_on=TODAY - DAY)
    assert licensed(replace(CHANNEL, licence=over, expires_on=over.expires_on)) == ["licence_expired"]
    last = replace(LICENCE, expires_on=TODAY)
    assert licensed(replace(CHANNEL, licence=last, expires_on=TODAY)) == []
    # The day of surrender is the first day without the licence.
    assert licensed(replace(CHANNEL, ended_on=TODAY)) == ["station_without_licence"]
    assert licensed(replace(CHANNEL, ended_on=TODAY + DAY)) == []
    assert licensed(replace(CHANNEL, in_force_from=TODAY + DAY)) == ["not_yet_in_force"]
    assert licensed(ends_on=TODAY + 901 * DAY) == ["link_outlives_licence"]
    assert licensed(ends_on=TODAY + 900 * DAY) == []


def test_what_continues_beyond_its_expiry_is_said_and_is_no_lack_of_a_licence() -> None:
    past: dict[str, Any] = {
        "expires_on": TODAY - 9 * DAY, "renewal_opens_on": TODAY - 99 * DAY, "last_filing_on": TODAY - 9 * DAY,
        "renewal_filed_on": TODAY - 50 * DAY, "continues": True,
    }  # fmt: skip
    held = replace(LICENCE, **past)
    assert licensed(replace(CHANNEL, licence=held, expires_on=held.expires_on)) == []
    assert licensed(replace(CHANNEL, licence=held, expires_on=held.expires_on), ends_on=TODAY + DAY) == []
    alone = replace(CHANNEL, licence=held, expires_on=TODAY - 10 * DAY)
    assert licensed(alone) == ["licence_expired"]
    ending = replace(CHANNEL, licence=held, expires_on=held.expires_on, ended_on=TODAY + 5 * DAY)
    assert licensed(ending, ends_on=TODAY + 5 * DAY) == ["link_outlives_licence"]
    assert timed(**past) == [("renewal_undecided", "decide")]
    assert timed(**past, fee_due_on=TODAY) == [("renewal_undecided", "decide"), ("fee_due", "decide")]
    assert timed(**{**past, "continues": False}, fee_due_on=TODAY) == [("licence_expired", "must_fix")]
    # Before the expiry a renewal may still be refused.
    coming = replace(held, expires_on=TODAY + DAY, last_filing_on=TODAY + DAY)
    assert licensed(
        replace(CHANNEL, licence=coming, expires_on=coming.expires_on), ends_on=TODAY + 2 * DAY
    ) == ["link_outlives_licence"]


def test_one_channel_under_two_links_is_found_while_both_live() -> None:
    both = [station(link(n), "A", channel=CHANNEL, mode=mode()) for n in (1, 2)]
    assert kinds(licence_findings(network(*both), CRITERIA)) == ["same_assignment_twice"]
    after = station(link(2, starts_on=TODAY + DAY), "A", channel=CHANNEL)
    before = station(link(1, ends_on=TODAY), "A", channel=CHANNEL)
    assert kinds(licence_findings(network(before, after), CRITERIA)) == []


def test_one_frequency_licensed_twice_at_one_place_is_found() -> None:
    second = replace(CHANNEL, id=2, name="AUT 2/1", licence=replace(LICENCE, id=2, name="AUT 2"))
    far = replace(second, allowance=replace(CHANNEL.allowance, latitude_deg=47.01))
    for other, expected in ((second, ["same_assignment_twice"]), (far, [])):
        both = Network(as_of=TODAY, stations=[], licences=[LICENCE, other.licence], channels=[CHANNEL, other])
        assert kinds(licence_findings(both, CRITERIA)) == expected


def timed(on_air: bool = True, **changes: Any) -> list[tuple[str, str]]:
    licence = replace(LICENCE, **changes)
    channel = replace(CHANNEL, licence=licence, expires_on=licence.expires_on)
    status = "on_air" if on_air else "planned"
    found = time_findings(
        network(station(link(1, status=status), "A", channel=channel), channel=channel), CRITERIA
    )
    kinds(found)
    return [(d.kind, d.severity) for d in found]


def test_the_dates_of_a_licence_are_found_as_they_come_near() -> None:
    assert timed() == []
    assert timed(expires_on=TODAY - DAY) == [("licence_expired", "must_fix")]
    assert timed(on_air=False, expires_on=TODAY - DAY) == [("licence_expired", "decide")]
    assert timed(renewal_opens_on=TODAY, last_filing_on=TODAY + 31 * DAY) == [("renewal_due", "decide")]
    assert timed(renewal_opens_on=TODAY, last_filing_on=TODAY + 30 * DAY) == [("renewal_due", "must_fix")]
    assert timed(renewal_opens_on=TODAY, last_filing_on=TODAY, renewal_filed_on=TODAY) == []
    assert timed(in_force_from=TODAY + DAY) == [("not_yet_in_force", "must_fix")]
    assert timed(bring_into_use_by=TODAY + 91 * DAY) == []
    assert timed(bring_into_use_by=TODAY + 90 * DAY) == [("bring_into_use_near", "decide")]
    assert timed(bring_into_use_by=TODAY - DAY) == [("bring_into_use_near", "must_fix")]
    assert timed(bring_into_use_by=TODAY - DAY, brought_into_use_on=TODAY - DAY) == []


def test_a_channel_nobody_uses_is_found_after_its_grace() -> None:
    young = replace(CHANNEL, in_force_from=TODAY - 364 * DAY)
    old = replace(CHANNEL, in_force_from=TODAY - 365 * DAY)
    assert [kinds(time_findings(network(channel=c), CRITERIA)) for c in (young, old)] == [
        [],
        ["channel_unused"],
    ]


@pytest.mark.parametrize(
    ("days", "found"), [(15, []), (14, ["reservation_lapsing"]), (-1, ["reservation_lapsing"])]
)
def test_a_reservation_that_lapses_soon_is_found(days: int, found: list[str]) -> None:
    planned = link(1, status="planned", reserved_until=TODAY + days * DAY)
    assert kinds(time_findings(network(station(planned, "A")), CRITERIA)) == found


def test_licences_of_others_are_not_ours_to_renew() -> None:
    assert timed(own=False, expires_on=TODAY - DAY) == []
