"""Whole positions as people type them, and grids by EPSG code."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from sites.geodesy import inverse
from sites.positions import Notation, PositionError, parse_position, unproject
from tests.reference_tables import project_table

VALLEY = (23.0, 49.0, 26.0, 51.0)


@pytest.mark.parametrize(
    "typed",
    [
        "50.125, 24.5",
        "50.125,24.5",
        "50.125 24.5",
        "50.125; 24.5",
        "50,125; 24,5",
        "50,125 24,5",
        "50,125, 24,5",
        "50.125 N, 24.5 E",
        "24.5 E 50.125 N",
        "N50.125 E24.5",
        "50.125N24.5E",
        "50 07.5 N 24 30 E",
        "50 07.5 24 30.0",
        "50 07 30 24 30 00",
        "50 07 30, 24 30 00",
        "50 07 30,24 30 00",
        "50 07 30 N 24 30 00 E",
        "50°07'30\"N 24°30'00\"E",
        "50°07′30″ N, 024°30′ E",
        "50°07'30\", 24°30'",
        "50°07'30,0\" 24°30'00,0\"",
        "024E3000 50N0730",
        "500730N 0243000E",
        "50-07-30 24-30-00",
        "50:07:30 24:30:00",
        "50d07m30s N / 24d30m00s E",
        "50 deg 7 min 30 sec north, 24 deg 30 min east",
        ("50 07 30 N", "24,5"),
        ("24.5 E", "50.125 N"),
        (50.125, 24.5),
        (Decimal("50.125"), Decimal("24.5")),
    ],
)
def test_one_place_in_every_usual_notation(typed):
    position = parse_position(typed, expected_area=VALLEY)
    assert position.latitude_deg == pytest.approx(50.125, abs=1e-12)
    assert position.longitude_deg == pytest.approx(24.5, abs=1e-12)
    assert position.epsg == 4326
    assert position.notices == ()
    if isinstance(typed, str):
        assert position.typed == typed


@pytest.mark.parametrize(
    ("typed", "latitude", "longitude"),
    [
        ("-0 07 30 -0 07 30", -0.125, -0.125),
        ("50 07 30 -24 30 00", 50.125, -24.5),
        ("-33.5 -70", -33.5, -70.0),
        ("33 30 S 70 W", -33.5, -70.0),
        ("50 -24", 50.0, -24.0),
        ("0 0", 0.0, 0.0),
        ("-0.0, -0.0", 0.0, 0.0),
        ("90 N 180 W", 90.0, -180.0),
    ],
)
def test_signs_and_letters_put_it_in_the_right_quarter(typed, latitude, longitude):
    position = parse_position(typed)
    assert (position.latitude_deg, position.longitude_deg) == (latitude, longitude)
    assert "-0.0" not in (str(position.latitude_deg), str(position.longitude_deg))


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ("", "position", "nothing was typed"),
        ("somewhere", "position", "“somewhere” cannot be read"),
        ("50 north 24 left", "position", "“left” cannot be read"),
        ("50.1", "position", "holds 1 number,"),
        ("50 07 24 24 33", "position", "holds 5 numbers"),
        ("50,24", "position", "two whole numbers or be a decimal sign"),
        ("50,1,24,5", "position", "which of them part the coordinates"),
        ("50.1,24.5,120", "position", "which of them part the coordinates"),
        ("50.1; 24.5; 120", "position", "falls into 3 parts"),
        ("50.1-24.5", "position", "where the second coordinate begins"),
        ("1e3 5", "position", "power of ten or east"),
        ("50 60 N 24 E", "latitude", "minutes are 60"),
        ("50 N 24 07 60 E", "longitude", "seconds are 60"),
        ("91 N 24 E", "latitude", "beyond ±90"),
        ("50 N 181 E", "longitude", "beyond ±180"),
        ("145.0 -37.5", "latitude", "the axes look swapped"),
        ("-50 N 24 E", "latitude", "disagree"),
        ("50 N -24 E", "longitude", "disagree"),
        ("50 N 24 S", "position", "both coordinates carry the letter of a latitude"),
        ("50 E 24 W", "position", "both coordinates carry the letter of a longitude"),
        ("50 N 24 E 3 S", "position", "more than two of the letters"),
        (("50.1",), "position", "there is 1 coordinate"),
        ((float("nan"), 24.0), "latitude", "not a finite number"),
        ((50.0, None), "longitude", "not a finite number"),
    ],
)
def test_what_cannot_be_read_or_meant_is_refused_with_a_sentence(typed, field, sentence):
    with pytest.raises(PositionError) as caught:
        parse_position(typed)
    error = caught.value
    assert error.field == field
    assert sentence in str(error)
    assert error.expected in str(error) and error.example in str(error)
    if isinstance(typed, str):
        assert error.typed == typed


def test_swapped_axes_are_noticed_where_the_swap_lands_in_the_expected_area():
    with pytest.raises(PositionError, match="axes look swapped"):
        parse_position("24.5, 50.125", expected_area=VALLEY)


def test_a_position_merely_outside_the_expected_area_is_taken_with_a_notice():
    position = parse_position("10, 20", expected_area=VALLEY)
    assert "outside the expected area" in position.notices[0]


def test_an_expected_area_may_cross_the_antimeridian():
    area = (175.0, -20.0, -175.0, -10.0)
    assert parse_position("-15, -179", expected_area=area).notices == ()
    assert "outside" in parse_position("-15, 170", expected_area=area).notices[0]


def test_projected_grid_rows_of_the_projection_table():
    """UTM rows computed with pyproj 3.7.2; the two geocentric rows are no typed positions (see test_geodesy),
    and the Molodensky row shifts geographic coordinates without a grid."""
    rows = [row for row in project_table("geodesy_datum_projection.csv") if "EPSG:" in row["what"]]
    assert len(rows) == 5
    for row in rows:
        epsg = int(row["what"].rsplit("EPSG:", 1)[1])
        latitude, longitude = (float(part) for part in row["input"].split())
        position = parse_position(row["pyproj_3.7.2"], epsg=epsg)
        distance, _, _ = inverse(latitude, longitude, position.latitude_deg, position.longitude_deg)
        assert distance < 0.001, row["what"]
        assert position.notation is Notation.EASTING_NORTHING
        assert position.epsg == epsg
        assert "UTM" in position.transformation


def test_british_national_grid_of_epsg_guidance_note_7_2():
    """EPSG Guidance Note 7-2, Transverse Mercator example (value from memory, reproduced within 0.01 m)."""
    (row,) = [
        row for row in project_table("geodesy_datum_projection.csv") if "British National Grid" in row["what"]
    ]
    easting, northing = (float(part) for part in row["published"].split())
    latitude, longitude = unproject(easting, northing, 27700)
    distance, _, _ = inverse(latitude, longitude, 50.5, 0.5, ellipsoid="airy")
    assert distance <= 0.015


def test_a_datum_shift_names_its_transformation_and_the_grid_file_it_went_without():
    position = parse_position("577274.99 69740.50", epsg=27700)
    assert "OSGB36 to WGS 84" in position.transformation
    assert "axis order" not in position.transformation
    assert position.accuracy_m is not None and position.accuracy_m > 0.0
    shift, _, _ = inverse(50.5, 0.5, position.latitude_deg, position.longitude_deg)
    assert 50.0 < shift < 200.0
    (notice,) = position.notices
    assert notice.startswith("Fallback without a datum grid")
    assert ".tif" in notice or ".gsb" in notice


def test_a_geographic_system_other_than_wgs_84_is_shifted_too():
    """ED50 differs from WGS 84 by 80 to 200 m in Europe: common knowledge, no published source."""
    position = parse_position("48.0 N 9.0 E", epsg=4230)
    shift, _, _ = inverse(48.0, 9.0, position.latitude_deg, position.longitude_deg)
    assert 80.0 < shift < 200.0
    assert "ED50" in position.transformation


@pytest.mark.parametrize(
    "typed",
    ["669459.6216 2734271.6718", "669459.6216, 2734271.6718", "669459,6216 2734271,6718",
     "669459.6216 mE 2734271.6718 mN", "N 2734271.6718 E 669459.6216", ("669459,6216", "2734271.6718"),
     (669459.6216, 2734271.6718)],
)  # fmt: skip
def test_easting_and_northing_as_people_write_them(typed):
    position = parse_position(typed, epsg=32638)
    assert position.latitude_deg == pytest.approx(24.7136, abs=1e-8)
    assert position.longitude_deg == pytest.approx(46.6753, abs=1e-8)


@pytest.mark.parametrize(
    ("typed", "epsg", "field", "sentence"),
    [
        ("2734271.8 669459.6", 32638, "position", "the axes look swapped"),
        ("1 2", 32638, "position", "outside the area of use of EPSG:32638"),
        (("669,459", "2734271"), 32638, "easting", "thousands"),
        (("669459", "S2734271"), 32638, "northing", "not one plain number"),
        (("669459", float("inf")), 32638, "northing", "not a finite number"),
        ("40 -170", 4230, "position", "outside the area of use of EPSG:4230"),
        ("1 1", 99999, "epsg", "not in the EPSG register"),
        ("1 1", 4978, "epsg", "Geocentric"),
    ],
)
def test_a_grid_position_that_cannot_be_meant_is_refused(typed, epsg, field, sentence):
    with pytest.raises(PositionError) as caught:
        parse_position(typed, epsg=epsg)
    assert caught.value.field == field
    assert sentence in str(caught.value)


@given(st.floats(42.1, 47.9), st.floats(1.0, 60.0))
@settings(max_examples=60, derandomize=True, deadline=None)
def test_grid_and_degrees_agree_within_a_millimetre(longitude, latitude):
    easting, northing = Transformer.from_crs(4326, 32638, always_xy=True).transform(longitude, latitude)
    position = parse_position(f"{easting:.4f} {northing:.4f}", epsg=32638)
    distance, _, _ = inverse(latitude, longitude, position.latitude_deg, position.longitude_deg)
    assert distance < 0.001


@given(st.text(alphabet="0123456789.,;:/-+−°'\"′″ NSEWnsewdmsx½²\u0663\n", max_size=24))
@settings(max_examples=400, derandomize=True, deadline=None)
def test_any_text_gives_a_position_in_range_or_a_sentence(text):
    for epsg in (None, 32638):
        try:
            position = parse_position(text, epsg=epsg)
        except PositionError as error:
            assert error.problem and error.expected and error.example
        else:
            assert -90.0 <= position.latitude_deg <= 90.0
            assert -180.0 <= position.longitude_deg <= 180.0
