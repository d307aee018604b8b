"""Columns of the published tables as arrays."""

import numpy as np


def column(rows, name):
    """One column of a table as float64."""
    return np.array([float(row[name]) for row in rows])
