"""The budget of a pair, added up by hand and against published terms."""

from __future__ import annotations

import math

import pytest

from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.evidence import adds_up, rows_as_json
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.network import Network
from spectrum.radio.propagation.p452 import smooth_earth_loss
from tests.spectrum.conflicts.made import TODAY, WHIP, YAGI, link, mode, station

CRITERIA = Criteria()
# One degree of latitude along the meridian from 47° on WGS 84 is 111.18 km (any handbook of geodesy).
ONE_DEGREE_KM = 111.18


def two_links(**victim: object) -> Network:
    """Link 1 sends on 410 MHz at 47° N; link 2 listens on 410 MHz one degree further north."""
    far = {"latitude_deg": 48.0, "ground_height_m": 500.0, **victim}
    return Network(
        as_of=TODAY,
        stations=[
            station(link(1), "A", antenna_height_agl_m=300.0),
            station(link(1), "B", latitude_deg=46.9, tx_frequency_hz=None, tx_power_dbm=None),
            station(link(2), "A", **{"tx_frequency_hz": None, "tx_power_dbm": None, **far}),
            station(link(2), "B", tx_frequency_hz=None, tx_power_dbm=None, antenna_height_agl_m=300.0, **far),
        ],
    )


def found_in(network: Network) -> list[Draft]:
    """Single entries against I/N."""
    drafts = interference_findings(network, CRITERIA).drafts
    return [draft for draft in drafts if draft.kind in ("co_channel", "adjacent_channel")]


def value(rows: list[dict[str, object]], name: str) -> float:
    return next(float(str(row["value"])) for row in rows if row["name"] == name)


def test_every_term_of_a_budget_is_the_published_one() -> None:
    found = [d for d in found_in(two_links()) if d.parties.station_label == "A"]
    assert [(d.kind, d.parties.other_station_label) for d in found] == [("co_channel", "B")]
    rows = rows_as_json(found[0].evidence)
    length_km = value(rows, "Path length")
    assert length_km == pytest.approx(ONE_DEGREE_KM, abs=0.01)
    # ITU-R P.452-18 §4.1: 92.4 + 20 log f + 20 log d, and gas: 0.0011 dB/km at 0.25 GHz to 0.0030 at 0.5 GHz
    free_space = 92.4 + 20 * math.log10(0.41) + 20 * math.log10(length_km)
    assert 0.0011 * length_km < value(rows, "Part: free space and gas") - free_space < 0.0030 * length_km
    loss = smooth_earth_loss(
        410.0, length_km, 300.0, 300.0, 20.0, 500.0, 500.0, latitude_deg=47.5, gain_tx_dbi=6, gain_rx_dbi=6
    )
    assert value(rows, "Basic transmission loss, 20 % of time") == pytest.approx(-float(loss.lb_db), abs=0.1)
    # kTB at 290 K in 25 kHz, shared reference table of thermal noise: −122.996 dBm with 7 dB noise figure
    assert value(rows, "Less: thermal noise kTB") == pytest.approx(129.996, abs=0.001)
    assert value(rows, "Less: noise figure") == pytest.approx(-7.0)
    assert adds_up(rows, found[0].margin or 0.0)


def test_the_margin_falls_by_as_much_as_the_power_rises() -> None:
    low, high = (found_in(network)[0].margin for network in (two_links(), _with_power(two_links(), 40.0)))
    assert low is not None and high is not None
    assert low - high == pytest.approx(3.0)


def _with_power(network: Network, power_dbm: float) -> Network:
    first = network.stations[0]
    louder = station(first.link, "A", antenna_height_agl_m=300.0, tx_power_dbm=power_dbm)
    return Network(as_of=TODAY, stations=[louder, *network.stations[1:]])


def test_periods_that_do_not_overlap_do_not_conflict() -> None:
    network = two_links()
    gone = [
        station(link(2, ends_on=TODAY.replace(year=2025)), s.label, latitude_deg=48.0) if s.link.id == 2
        else station(link(1, starts_on=TODAY), s.label) for s in network.stations
    ]  # fmt: skip
    assert found_in(Network(as_of=TODAY, stations=gone)) == []


def test_links_of_others_do_not_conflict_among_themselves() -> None:
    network = two_links()
    others = [
        station(link(s.link.id, own=False), s.label, latitude_deg=s.latitude_deg) for s in network.stations
    ]
    assert found_in(Network(as_of=TODAY, stations=others)) == []


def test_a_cure_named_in_a_finding_does_cure_it() -> None:
    found = next(d for d in found_in(two_links()) if d.parties.station_label == "A")
    assert found.margin is not None and found.margin < 0
    less = float(found.cure.split("Any one of: ")[1].split(" dB less power")[0])
    cured = _with_power(two_links(), 37.0 - less - 0.1)
    margins = [d.margin for d in found_in(cured) if d.parties.station_label == "A"]
    assert all(margin is not None and margin >= -0.05 for margin in margins)


def test_next_channel_is_an_adjacent_finding_and_further_away_is_clear() -> None:
    near = {"latitude_deg": 47.02, "antenna_height_agl_m": 20.0}
    kinds = []
    for offset_hz in (0, 25_000, 50_000, 1_000_000):
        network = Network(
            as_of=TODAY,
            stations=[
                station(link(1), "A"),
                station(link(2), "B", rx_frequency_hz=410_000_000 + offset_hz, tx_frequency_hz=None, **near),
            ],
        )
        kinds.append([d.kind for d in found_in(network)])
    assert kinds == [["co_channel"], ["adjacent_channel"], ["adjacent_channel"], []]


def test_an_antenna_turned_away_helps_as_its_table_says() -> None:
    def margin(azimuth_deg: float) -> float:
        network = Network(
            as_of=TODAY,
            stations=[
                station(link(1), "A", antenna=YAGI, azimuth_deg=azimuth_deg),
                station(link(2), "B", latitude_deg=47.3, antenna=WHIP, tx_frequency_hz=None),
            ],
        )
        found = found_in(network)
        assert found[0].margin is not None
        return found[0].margin

    # 12 dB at 40° off the axis, in the table of made.YAGI
    assert margin(40.0) - margin(0.0) == pytest.approx(12.0, abs=0.05)


def test_missing_facts_are_said_on_the_finding() -> None:
    network = two_links(ground_height_m=None)
    found = found_in(network)[0]
    assert any("ground height is missing" in sentence for sentence in found.not_judged)
    assert any("No terrain" in sentence for sentence in found.not_judged)


def test_wider_receiver_takes_in_a_narrow_sender_whole() -> None:
    """FDR is 0 where the whole emission falls into the pass band (ITU-R SM.337)."""
    network = Network(
        as_of=TODAY,
        stations=[
            station(link(1), "A", mode=mode(12_500)),
            station(link(2), "B", latitude_deg=47.2, mode=mode(200_000), tx_frequency_hz=None),
        ],
    )
    rows = rows_as_json(found_in(network)[0].evidence)
    assert value(rows, "Frequency-dependent rejection") == pytest.approx(0.0, abs=0.01)


def test_two_interferers_below_the_limit_add_up_to_an_aggregate_over_it() -> None:
    """Two equal levels make 3.01 dB more than one; the shares are half each."""
    victim = station(link(9), "B", latitude_deg=47.5, tx_frequency_hz=None)

    def network(power_dbm: float) -> Network:
        senders = [station(link(n), "A", tx_power_dbm=power_dbm, rx_frequency_hz=None) for n in (1, 2)]
        return Network(as_of=TODAY, stations=[*senders, victim])

    single = found_in(network(37.0))[0].margin
    assert single is not None
    # Bring each to 1 dB below the single-entry limit.
    drafts = interference_findings(network(37.0 + single - 1.0), CRITERIA).drafts
    assert [(d.kind, d.severity) for d in drafts if d.margin is not None and d.margin < 0] == [
        ("aggregate", "must_fix")
    ]
    summed = next(d for d in drafts if d.kind == "aggregate")
    rows = rows_as_json(summed.evidence)
    # I/N −7 dB each: −7 + 3.01 = −3.99 dB against −5.87 dB, the I/N of 1.0 dB threshold degradation (47 CFR 101.105)
    assert summed.margin == pytest.approx(-5.868 - (-7.0 + 3.0103), abs=0.002)
    assert adds_up(rows, summed.margin or 0.0)
    assert [row["source"] for row in rows if row["role"] == "power"] == ["50.0 % of the sum"] * 2


def test_a_strong_wanted_signal_is_no_help_against_noise_but_is_against_c_over_i() -> None:
    """The same interferer: over I/N either way, over C/I only while the wanted signal is weak."""

    def kinds(wanted_dbm: float) -> set[str]:
        pair = {"latitude_deg": 47.5, "rx_frequency_hz": 410_000_000, "tx_frequency_hz": None}
        network = Network(
            as_of=TODAY,
            stations=[
                station(link(1), "A", tx_power_dbm=20.0, rx_frequency_hz=None),
                station(link(9), "A", latitude_deg=47.51, tx_power_dbm=wanted_dbm, rx_frequency_hz=None),
                station(link(9), "B", **pair),
            ],
        )
        return {d.kind for d in interference_findings(network, CRITERIA).drafts}

    assert kinds(37.0) == {"co_channel"}
    assert kinds(-40.0) == {"co_channel", "carrier_to_interference"}
