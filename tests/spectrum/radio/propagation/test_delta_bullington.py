"""Delta-Bullington against the twenty validation cases of ITU-R Study Group 3."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.propagation.bullington import bullington_loss_db
from spectrum.radio.propagation.delta_bullington import delta_bullington_loss_db
from spectrum.radio.propagation.knife_edge import knife_edge_loss_db, knife_edge_nu
from spectrum.radio.propagation.profiles import PathProfiles
from tests.reference_tables import outside_table
from tests.spectrum.radio.propagation.columns import column


def stacked(profiles):
    """Profiles of unequal length as one batch."""
    longest = max(len(d) for d, _ in profiles)
    distance = np.full((len(profiles), longest), np.nan)
    terrain = np.zeros_like(distance)
    for row, (d, h) in enumerate(profiles):
        distance[row, : len(d)], terrain[row, : len(h)] = d, h
    return PathProfiles(distance, terrain)


@pytest.mark.reference
def test_p526_delta_bullington_validation_table():
    rows = outside_table("p526_delta_bullington_validation.csv")
    tables = [outside_table("p526_profiles/" + row["profile_file"]) for row in rows]
    paths = stacked([(column(t, "d_km"), column(t, "h_m")) for t in tables])
    loss = delta_bullington_loss_db(
        paths,
        1e3 * column(rows, "f_GHz"),
        column(rows, "htg_m"),
        column(rows, "hrg_m"),
        8500.0,
        vertical=False,
    )
    for mine, name in (
        (loss.terrain_db, "ref_Lbulla_dB"),
        (loss.smooth_db, "ref_Lbulls_dB"),
        (loss.spherical_db, "ref_Ldsph_dB"),
        (loss.total_db, "ref_Ld_dB"),
    ):
        assert np.abs(mine - column(rows, name)).max() < 0.01


def test_a_single_edge_is_a_knife_edge_with_the_correction_for_the_path():
    # P.452-18 §4.2.1 written out by hand for one point above the line between two antennas.
    path = PathProfiles([[0.0, 8.0, 20.0]], [[0.0, 90.0, 0.0]])
    bulge = 500.0 * 8.0 * 12.0 / 8500.0
    j = knife_edge_loss_db(knife_edge_nu(410.0, 90.0 + bulge - 30.0, 8.0, 12.0))
    expected = j + (1.0 - np.exp(-j / 6.0)) * (10.0 + 0.02 * 20.0)
    assert bullington_loss_db(path, 410.0, 30.0, 30.0)[0] == pytest.approx(expected, abs=1e-9)


def test_a_row_has_the_same_loss_alone_and_in_a_ragged_batch():
    rng = np.random.default_rng(20)
    profiles = []
    for points in (3, 4, 17, 60):
        d = np.concatenate(([0.0], np.sort(rng.uniform(0.5, 39.5, points - 2)), [40.0]))
        profiles.append((d, 100.0 + 30.0 * rng.standard_normal(points)))
    batch = delta_bullington_loss_db(stacked(profiles), 410.0, 25.0, 25.0).total_db
    alone = [
        delta_bullington_loss_db(PathProfiles([d], [h]), 410.0, 25.0, 25.0).total_db[0] for d, h in profiles
    ]
    assert np.allclose(batch, alone, rtol=0.0, atol=1e-9)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.floats(1.0, 200.0),
    st.floats(30.0, 10_000.0),
    st.floats(1.0, 100.0),
    st.floats(1.0, 100.0),
    st.booleans(),
)
def test_loss_is_the_same_with_the_ends_swapped(seed, length, frequency, tx, rx, vertical):
    rng = np.random.default_rng(seed)
    d = length * np.concatenate(([0.0], np.sort(rng.uniform(0.01, 0.99, 30)), [1.0]))
    h = 200.0 + np.cumsum(rng.normal(0.0, rng.choice([0.5, 5.0, 40.0]), d.size))
    turned = length - d[::-1]
    turned[0] = 0.0
    there, back = PathProfiles([d], [h]), PathProfiles([turned], [h[::-1]])
    one = delta_bullington_loss_db(there, frequency, tx, rx, 8500.0, vertical)
    other = delta_bullington_loss_db(back, frequency, rx, tx, 8500.0, vertical)
    for name in ("terrain_db", "smooth_db", "spherical_db", "total_db"):
        assert getattr(one, name)[0] == pytest.approx(getattr(other, name)[0], abs=1e-6)
    assert bullington_loss_db(there, frequency, tx, rx)[0] == pytest.approx(
        bullington_loss_db(back, frequency, rx, tx)[0], abs=1e-6
    )


@pytest.mark.parametrize(
    ("distance", "message"),
    [
        ([[0.0, 2.0, 1.0]], "must rise"),
        ([[1.0, 2.0, 3.0]], "must begin with 0"),
        ([[0.0, 1.0, np.nan]], "fewer than 3 points"),
        ([[0.0, np.nan, 1.0]], "must rise"),
        ([[0.0, 1.0, 2.0, np.nan, 4.0]], "NaN may only fill its end"),
    ],
)
def test_distances_that_make_no_profile_are_refused(distance, message):
    with pytest.raises(ValueError, match=message):
        PathProfiles(distance, np.zeros((1, len(distance[0]))))


def test_unknown_terrain_gives_an_unknown_loss_on_its_own_path_only():
    paths = PathProfiles([0.0, 5.0, 10.0], [[0.0, np.nan, 0.0], [0.0, 5.0, 0.0]])
    assert np.isnan(delta_bullington_loss_db(paths, 410.0, 20.0, 20.0).total_db).tolist() == [True, False]
