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


def exact_db(nu):
    """The loss by the Fresnel integrals themselves (scipy), ITU-R P.526."""
    s, c = fresnel(nu)
    return -20.0 * np.log10(np.hypot(1.0 - c - s, c - s) / 2.0)


def test_p526_knife_edge_table_exact_column_and_the_gap_of_each_row():
    rows = project_table("p526_knife_edge.csv")
    nu, printed = column(rows, "nu"), column(rows, "J_exact_dB")
    assert np.abs(exact_db(nu) - printed).max() < 1e-4
    gap = knife_edge_loss_db(nu) - exact_db(nu)
    assert np.abs(gap - (column(rows, "J_approx_dB") - printed)).max() < 2e-4


@pytest.mark.parametrize(
    ("low", "high", "least_db", "most_db"),
    [(0.0, 10.0, 0.12, 0.13), (-0.78, 0.0, 0.10, 0.11), (-20.0, -0.78, 1.3, 1.4)],
)
def test_formula_stays_within_its_stated_gap_of_the_exact_loss(low, high, least_db, most_db):
    """The gaps that the docstring states, and no wider ones."""
    nu = np.linspace(low, high, 20_001)
    assert least_db < np.abs(knife_edge_loss_db(nu) - exact_db(nu)).max() < most_db


@pytest.mark.parametrize(("nu", "loss"), [(-0.78, 0.0), (-5.0, 0.0), (np.nan, np.nan)])
def test_no_loss_from_a_low_edge_and_none_known_from_an_unknown_one(nu, loss):
    assert np.array_equal(knife_edge_loss_db(nu), loss, equal_nan=True)
