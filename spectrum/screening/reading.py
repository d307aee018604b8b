"""From the rows of an extract to the paths that are screened."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectrum.extracts.entries import Entry

from .counting import Paths


def paths_in_use(entries: Sequence[Entry]) -> Paths:
    """The rows that the extract itself calls in use, whatever their dates say; each row is one path."""
    used = [entry for entry in entries if entry.in_use]
    number: dict[str, int] = {}
    return Paths(
        licence=np.array([number.setdefault(e.licence_number, len(number)) for e in used], dtype=np.int64),
        frequency_hz=np.array([e.frequency_hz for e in used], dtype=np.int64),
        tx_latitude_deg=np.array([e.tx.latitude_deg for e in used], dtype=np.float64),
        tx_longitude_deg=np.array([e.tx.longitude_deg for e in used], dtype=np.float64),
        rx_latitude_deg=np.array([e.rx.latitude_deg for e in used], dtype=np.float64),
        rx_longitude_deg=np.array([e.rx.longitude_deg for e in used], dtype=np.float64),
    )
