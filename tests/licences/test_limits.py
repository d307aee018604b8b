"""A transmission against a licensed channel. Expectations are worked by hand; geodesy by geographiclib."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, get_args

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from licences.limits import DIPOLE_GAIN_DBI, Allowance, LimitKind, Transmission, compare

KINDS = (
    "frequency",
    "channel_width",
    "occupied_bandwidth",
    "emission",
    "modulation",
    "power",
    "position",
    "antenna_height",
    "azimuth",
    "polarisation",
)

SENT = Transmission(
    frequency_hz=410_012_500,
    channel_width_hz=25_000,
    occupied_bandwidth_hz=20_000,
    emission_designator="20K0D7W",
    modulation="16-QAM",
    tx_power_dbm=40.0,
    line_losses_db=2.0,
    antenna_gain_dbi=8.0,
    latitude_deg=48.0,
    longitude_deg=11.0,
    antenna_height_agl_m=30.0,
    azimuth_deg=359.0,
    polarisation="V",
)
ALLOWED = Allowance(
    frequency_hz=410_012_500,
    channel_width_hz=25_000,
    occupied_bandwidth_hz=22_000,
    emission_designators=("25K0D7W", "16K0F3E"),
    modulations=("QPSK", "16QAM"),
    power_limit_dbm=46.0,
    power_kind="eirp",
    latitude_deg=48.0,
    longitude_deg=11.0,
    tolerance_m=31.0,
    antenna_height_max_agl_m=30.0,
    azimuth_deg=1.0,
    azimuth_tolerance_deg=2.0,
    polarisation="V",
)


def verdicts(sent=SENT, allowed=ALLOWED):
    results = compare(sent, allowed)
    return {result.kind: result for result in results}


def test_one_result_per_kind_in_a_fixed_order():
    assert tuple(result.kind for result in compare(SENT, ALLOWED)) == KINDS == get_args(LimitKind)


def test_a_station_on_its_licence_is_within_in_every_kind():
    assert {result.kind for result in compare(SENT, ALLOWED) if result.within is not True} == set()


def test_frequency_must_be_the_assigned_one():
    off = verdicts(replace(SENT, frequency_hz=410_006_250, channel_width_hz=12_500))["frequency"]
    assert (off.within, off.margin, off.margin_unit) == (False, -6250, "Hz")
    assert "6.25 kHz off the assigned 410.012500 MHz; its channel is still inside" in off.sentence
    assert "not inside" in verdicts(replace(SENT, frequency_hz=410_025_000))["frequency"].sentence


def test_channel_width():
    wide = verdicts(replace(SENT, channel_width_hz=50_000))["channel_width"]
    assert (wide.within, wide.margin) == (False, -25_000)
    assert "50 kHz is 25 kHz wider than 25 kHz" in wide.sentence


def test_occupied_bandwidth_falls_back_on_the_channel_width():
    allowed = replace(ALLOWED, occupied_bandwidth_hz=None)
    found = verdicts(replace(SENT, occupied_bandwidth_hz=26_000), allowed)["occupied_bandwidth"]
    assert (found.within, found.margin) == (False, -1000)
    assert "no narrower limit is stated" in found.sentence


def test_emission_margin_is_the_necessary_bandwidth_left():
    assert verdicts()["emission"].margin == 5000
    assert verdicts(replace(SENT, emission_designator="20K0G7W"))["emission"].within is False


@pytest.mark.parametrize("name", ["16QAM", "16-QAM", "QAM16", "qam-16", "16 QAM"])
def test_modulation_is_compared_whatever_its_spelling(name):
    assert verdicts(replace(SENT, modulation=name))["modulation"].within is True


def test_modulation_not_listed():
    found = verdicts(replace(SENT, modulation="64-QAM"))["modulation"]
    assert found.within is False
    assert found.sentence == "64-QAM is not among the permitted modulations: QPSK, 16QAM."


@pytest.mark.parametrize(
    ("kind", "limit_dbm", "margin_db"),
    [
        # 10 W, 8 dBi, 2 dB: e.i.r.p. 46.000 dBm, e.r.p. 43.850 dBm (47 CFR 2.1, 2.15 dB)
        ("tx_output", 40.0, 0.0),
        ("eirp", 46.0, 0.0),
        ("erp", 43.85, 0.0),
        ("erp", 43.0, -0.85),
        ("eirp", 43.0, -3.0),
    ],
)
def test_power_is_compared_in_the_kind_of_the_licence(kind, limit_dbm, margin_db):
    found = verdicts(allowed=replace(ALLOWED, power_kind=kind, power_limit_dbm=limit_dbm))["power"]
    assert found.margin == pytest.approx(margin_db, abs=1e-9)
    assert found.within is (margin_db == 0.0)
    names = [term.name for term in found.terms]
    assert ("plus gain of a half-wave dipole" in names) == (kind == "erp")
    assert ("less antenna gain" in names) == (kind != "tx_output")


def test_dipole_gain_is_that_of_47_cfr_2_1():
    assert DIPOLE_GAIN_DBI == 2.15


def test_position_margin_is_tolerance_less_geodesic_distance():
    """Distance by another library (geographiclib)."""
    sent = replace(SENT, latitude_deg=48.001, longitude_deg=11.002)
    distance_m = Geodesic.WGS84.Inverse(48.0, 11.0, 48.001, 11.002)["s12"]
    found = verdicts(sent)["position"]
    assert found.within is False
    assert found.margin == pytest.approx(31.0 - distance_m, abs=1e-6)
    assert f"{distance_m:.0f} m from the licensed position" in found.sentence


def test_one_second_of_latitude_is_within_31_m():
    """1 second of latitude is 30.715 m at the equator to 30.948 m at 60 degrees (geographiclib)."""
    sent = replace(SENT, latitude_deg=48.0 + 1 / 3600)
    assert verdicts(sent)["position"].within is True
    assert verdicts(replace(sent, latitude_deg=48.0 + 1.01 / 3600))["position"].within is False


def test_an_area_takes_the_place_of_the_point():
    square = {"type": "Polygon", "coordinates": [[[12, 48], [13, 48], [13, 49], [12, 49], [12, 48]]]}
    found = verdicts(allowed=replace(ALLOWED, area=square))["position"]
    assert found.within is False
    along_the_meridian = (48.0 + step / 1000 for step in range(20))
    nearest_m = min(Geodesic.WGS84.Inverse(48.0, 11.0, lat, 12.0)["s12"] for lat in along_the_meridian)
    assert found.margin == pytest.approx(-nearest_m, abs=0.1)
    unreadable = verdicts(allowed=replace(ALLOWED, area={"type": "Point", "coordinates": [12, 48]}))[
        "position"
    ]
    assert unreadable.within is None
    assert "is a Point; a GeoJSON Polygon or MultiPolygon was expected" in unreadable.sentence


def test_antenna_height():
    found = verdicts(replace(SENT, antenna_height_agl_m=32.5))["antenna_height"]
    assert (found.within, found.margin) == (False, -2.5)
    assert "2.5 m above the licensed 30.0 m" in found.sentence


def test_azimuth_difference_goes_round_north():
    assert verdicts()["azimuth"].margin == pytest.approx(0.0, abs=1e-9)
    found = verdicts(replace(SENT, azimuth_deg=181.0))["azimuth"]
    assert (found.within, found.margin) == (False, -178.0)


def test_polarisation():
    assert verdicts(replace(SENT, polarisation="H"))["polarisation"].within is False
    assert verdicts(allowed=replace(ALLOWED, polarisation="D"))["polarisation"].within is True


@pytest.mark.parametrize(
    ("field", "kind", "missing"),
    [
        ("occupied_bandwidth_hz", "occupied_bandwidth", "the radio's mode does not state it"),
        ("emission_designator", "emission", "the radio's mode does not state it"),
        ("modulation", "modulation", "the radio's mode does not state it"),
        ("tx_power_dbm", "power", "transmitter output power not stated"),
        ("line_losses_db", "power", "line losses not stated"),
        ("antenna_gain_dbi", "power", "antenna gain not stated"),
        ("latitude_deg", "position", "the station's site has none"),
        ("antenna_height_agl_m", "antenna_height", "the station does not state it"),
        ("azimuth_deg", "azimuth", "the station does not state it"),
        ("polarisation", "polarisation", "the station does not state it"),
    ],
)
def test_what_the_station_does_not_know_cannot_be_judged(field, kind, missing):
    unknown: dict[str, Any] = {field: None}
    found = verdicts(replace(SENT, **unknown))[kind]
    assert (found.within, found.margin) == (None, None)
    assert "cannot be judged" in found.sentence
    assert missing in found.sentence


@pytest.mark.parametrize(
    ("changes", "kind", "within", "said"),
    [
        ({"emission_designators": ()}, "emission", None, "lists no emission designator"),
        ({"emission_designators": ("F3E",)}, "emission", None, "Emission designator 'F3E'"),
        ({"modulations": ()}, "modulation", True, "sets no limit on the modulation"),
        ({"power_limit_dbm": None}, "power", None, "the licensed power limit not stated"),
        ({"latitude_deg": None}, "position", None, "neither a point nor an area"),
        ({"tolerance_m": None}, "position", None, "states no tolerance"),
        ({"antenna_height_max_agl_m": None}, "antenna_height", True, "sets no limit on the antenna height"),
        ({"azimuth_deg": None}, "azimuth", True, "sets no limit on the azimuth"),
        ({"azimuth_tolerance_deg": None}, "azimuth", None, "states no tolerance"),
        ({"polarisation": None}, "polarisation", True, "sets no limit on the polarisation"),
    ],
)
def test_what_the_licence_does_not_state(changes, kind, within, said):
    found = verdicts(allowed=replace(ALLOWED, **changes))[kind]
    assert found.within is within
    assert said in found.sentence


def test_a_power_kind_of_no_licence_is_an_error():
    with pytest.raises(KeyError):
        compare(SENT, replace(ALLOWED, power_kind="field_strength"))  # type: ignore[arg-type]


decimals = st.integers(-600, 600).map(lambda tenths: tenths / 10)


@settings(max_examples=100, derandomize=True)
@given(
    decimals,
    decimals,
    decimals,
    decimals,
    st.sampled_from(["tx_output", "erp", "eirp"]),
    st.integers(-30, 30),
)
def test_the_terms_of_every_kind_add_up_to_its_margin(power, losses, gain, limit, kind, steps):
    sent = replace(
        SENT,
        tx_power_dbm=power,
        line_losses_db=losses,
        antenna_gain_dbi=gain,
        frequency_hz=SENT.frequency_hz + steps * 6250,
        latitude_deg=48.0 + steps / 1000,
        azimuth_deg=float(12 * steps),
    )
    for result in compare(sent, replace(ALLOWED, power_limit_dbm=limit, power_kind=kind)):
        if result.margin is None:
            assert result.terms == ()
            continue
        assert sum(term.value for term in result.terms) == pytest.approx(result.margin, abs=1e-6)
        assert all(term.name and term.unit and term.source for term in result.terms)
        if result.kind != "emission":  # the class decides beside the width
            assert result.within == (result.margin >= -1e-9)


def test_records_are_frozen():
    for record in (SENT, ALLOWED, compare(SENT, ALLOWED)[0]):
        with pytest.raises(AttributeError):
            setattr(record, fields(record)[0].name, 0)
