"""The published P.452-18 validation rows as one ragged batch."""

import numpy as np

from spectrum.radio.propagation.p452 import (
    Climate,
    PathProfiles,
    basic_transmission_loss,
    path_centre_latitude_deg,
)
from tests.reference_tables import outside_table
from tests.spectrum.radio.propagation.columns import column


def profile_batch(folder, names, columns):
    """Profiles of unequal length, stacked: distance padded with NaN, the rest with zero."""
    tables = {name: outside_table(f"{folder}/{name}") for name in set(names)}
    longest = max(len(table) for table in tables.values())
    stacked = []
    for position, title in enumerate(columns):
        padded = {}
        for name, table in tables.items():
            values = np.full(longest, np.nan if position == 0 else 0.0)
            values[: len(table)] = column(table, title)
            padded[name] = values
        stacked.append(np.stack([padded[name] for name in names]))
    return stacked


def published_result(rows):
    """Run every row of a published P.452-18 table."""
    names = [row["profile"] for row in rows]
    d, h, clutter, zone = profile_batch("p452_profiles", names, ("d_km", "h_m", "ground_cover_m", "zone"))
    zone[zone == 0.0] = 2.0
    latitude = path_centre_latitude_deg(
        column(rows, "phit_n"),
        column(rows, "phit_e"),
        column(rows, "phir_n"),
        column(rows, "phir_e"),
        column(rows, "dtot"),
    )
    return basic_transmission_loss(
        PathProfiles(d, h, clutter, zone),
        frequency_ghz=column(rows, "f"),
        time_percent=column(rows, "p"),
        height_tx_agl_m=column(rows, "htg"),
        height_rx_agl_m=column(rows, "hrg"),
        latitude_deg=latitude,
        gain_tx_dbi=column(rows, "Gt"),
        gain_rx_dbi=column(rows, "Gr"),
        vertical=column(rows, "pol") == 2.0,
        coast_tx_km=column(rows, "dct"),
        coast_rx_km=column(rows, "dcr"),
        climate=Climate(column(rows, "DN"), column(rows, "N0"), column(rows, "press"), column(rows, "temp")),
    )
