"""What the search takes an antenna to lose off its boresight is never more than what it loses."""

from __future__ import annotations

import numpy as np
import pytest

from sites.geodesy import ecef
from spectrum.conflicts.brute_force import every_pair, random_network
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.interference import Prepared
from spectrum.conflicts.neighbours import Candidates
from spectrum.conflicts.network import AntennaRecord
from spectrum.conflicts.off_boresight import OffBoresight

CRITERIA = Criteria()
CUT = ((-180, -25), (-41.3, -30), (-41.2, -3), (-41.1, -30), (0, 0), (25, -12), (140, -20))
ANTENNAS = [
    AntennaRecord("Lobe of a fifth of a degree", "measured", 12.0, 0.01, 50_000.0, 18.0, points=CUT),
    AntennaRecord("Dish", "f699", 36.0, 0.01, 50_000.0, 30.0, diameter_m=1.2),
    AntennaRecord("Dish, average", "f1245", 36.0, 0.01, 50_000.0, 30.0, diameter_m=1.2),
    AntennaRecord("Sector", "f1336_sector", 15.0, 0.01, 50_000.0, 20.0, beamwidth_deg=65.0),
    AntennaRecord("Whip", "f1336_omni", 6.0, 0.01, 50_000.0, 10.0),
]


@pytest.mark.parametrize("seed", range(12))
def test_no_pair_loses_less_than_the_table_has(seed: int) -> None:
    rng = np.random.default_rng(seed)
    network = random_network(4000 + seed, 40)
    if seed % 2:
        network.antennas[:] = (ANTENNAS * len(network.antennas))[: len(network.antennas)]
        network.gain_dbi[:] = np.array([a.gain_dbi for a in network.antennas])[network.antenna]
        factor = float(np.exp(rng.uniform(0.0, np.log(40.0))))
        for hertz in (network.tx_hz, network.rx_hz):
            hertz[:] = (hertz * factor).astype(np.int64)
    tx, rx = every_pair(network)
    position = ecef(network.latitude_deg, network.longitude_deg)
    near = np.linalg.norm(position[tx] - position[rx], axis=-1) < CRITERIA.policy_radius_km * 1e3
    tx, rx = tx[near], rx[near]
    lost = OffBoresight(network).lost_by_both_db(tx, rx)
    ready = Prepared(network, CRITERIA)
    budget = ready.budget(Candidates(tx, rx, np.zeros(len(tx))), np.full(len(network), np.nan))
    gained = budget.tx_gain_dbi + budget.rx_gain_dbi
    expected = network.gain_dbi[tx] + network.gain_dbi[rx] - gained
    assert (lost <= expected + 1e-9).all(), float((lost - expected).max())
    # It is of use only where it lies near what it stands for.
    aside = expected > 10.0
    assert aside.any()
    assert np.median((expected - lost)[aside]) < 6.0


def test_an_antenna_that_is_not_aimed_or_looks_far_up_loses_nothing() -> None:
    network = random_network(77, 30)
    network.azimuth_deg[::2] = np.nan
    network.tilt_deg[1::2] = 30.0
    tx, rx = every_pair(network)
    assert not OffBoresight(network).lost_by_both_db(tx, rx).any()
