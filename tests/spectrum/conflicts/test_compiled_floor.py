"""The table of least losses lies below the bound it is made of, and below P.452-18 itself."""

from __future__ import annotations

import numpy as np

from spectrum.conflicts.brute_force import random_network
from spectrum.conflicts.compiled.floor import STEPS_PER_ROOT_KM, LossFloor
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.interference import Prepared
from spectrum.conflicts.least_loss import least_loss_db
from spectrum.radio.propagation.p452 import smooth_earth_loss

CRITERIA = Criteria()
CASES = 20_000


def test_no_cell_is_above_the_bound_or_the_loss_anywhere_in_it() -> None:
    rng = np.random.default_rng(23)
    network = random_network(5, 60, lowest_hz=160_000_000)
    network.tx_hz[:] = np.exp(rng.uniform(np.log(150e6), np.log(20e9), len(network))).astype(np.int64)
    network.latitude_deg[:] = rng.uniform(46.0, 49.0, len(network))
    ready = Prepared(network, CRITERIA)
    floor = LossFloor(network, ready.limits, CRITERIA)
    tx = rng.integers(0, len(network), CASES)
    d = np.exp(rng.uniform(np.log(0.1), np.log(990.0), CASES))
    h_t, h_r = (np.exp(rng.uniform(0.0, np.log(700.0), CASES)) for _ in range(2))
    row = np.floor(np.sqrt(h_t) + np.sqrt(h_r)).astype(np.int64)
    inside = row < floor.values.shape[2]
    tx, d, h_t, h_r, row = tx[inside], d[inside], h_t[inside], h_r[inside], row[inside]
    at = np.floor(np.sqrt(d) * STEPS_PER_ROOT_KM).astype(np.int64)
    percent = [
        CRITERIA.band_of(400.0, "").long_term_time_percent,
        CRITERIA.band_of(400.0, "").short_term_time_percent,
    ]
    latitude = rng.uniform(46.0, 49.0, len(tx))
    for number, p in enumerate(percent):
        cell = floor.values[0, floor.frequency[tx], row, at, number].astype(np.float64)
        bound = least_loss_db(network.tx_hz[tx] / 1e6, d, p, h_t, h_r, latitude, CRITERIA.climate)
        loss = smooth_earth_loss(network.tx_hz[tx] / 1e6, d, h_t, h_r, p, latitude_deg=latitude).lb_db
        assert (cell <= bound).all()
        assert (cell <= loss).all()
        # It is of use only where it lies near what it stands for.
        far = d > 50.0
        assert np.median((bound - cell)[far]) < 4.0
    assert len(tx) > CASES / 3
