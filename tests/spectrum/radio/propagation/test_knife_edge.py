"""Knife edge against the formula and the exact Fresnel integrals (ITU-R P.526)."""

import numpy as np
import pytest
from scipy.special import fresnel

from spectrum.radio.propagation.knife_edge import knife_edge_loss_db, knife_edge_nu
from tests.reference_tables import project_table
from tests.spectrum.radio.propagation.columns import column


def test_p526_knife_edge_table():
    rows = project_table("p526_knife_edge.csv")
    assert np.abs(knife_edge_loss_db(column(rows, "nu")) - column(rows, "J_approx_dB")).max() < 1e-4


def test_p526_knife_edge_geometry_table():
    rows = project_table("p526_knife_edge_geometry.csv")
    nu = knife_edge_nu(
        column(rows, "f_MHz"), column(rows, "h_m"), column(rows, "d1_km"), column(rows, "d2_km")
    )
    assert np.abs(nu - column(rows, "nu")).max() < 1e-5
    assert np.abs(knife_edge_loss_db(nu) - column(rows, "J_approx_dB")).max() < 1e-4
    assert np.abs(nu - column(rows, "nu_practical")).max() < 1e-3 * np.abs(nu).max()


def test_formula_stays_within_its_stated_gap_of_the_exact_loss():
    nu = np.linspace(0.0, 10.0, 2001)
    s, c = fresnel(nu)
    exact = -20.0 * np.log10(np.hypot(1.0 - c - s, c - s) / 2.0)
    assert np.abs(knife_edge_loss_db(nu) - exact).max() < 0.13


@pytest.mark.parametrize(("nu", "loss"), [(-0.78, 0.0), (-5.0, 0.0), (np.nan, np.nan)])
def test_no_loss_from_a_low_edge_and_none_known_from_an_unknown_one(nu, loss):
    assert np.array_equal(knife_edge_loss_db(nu), loss, equal_nan=True)
