"""Who disturbs the victim of one interference finding: each interferer with its whole budget, strongest first.

The figures are those of the check: the same geometry, antennas, masks and losses, computed on the register as
it stands. Pictures and tables of a finding are made from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sites.terrain import TerrainStore
from spectrum.radio.rejection import rejection_table

from .aggregate import Received
from .budget import PairBudget, budget_of, noise_of, wanted_levels
from .criteria import Criteria, limits_of
from .neighbours import candidates, fdr_db
from .network import Network, StationRecord
from .sensitivity import Case

#: So many interferers of a sum are told apart.
MOST: Final = 4


@dataclass(frozen=True)
class Interferer:
    """One interferer at the victim. Angles in degrees (NaN: no boresight), gains in dBi, rejection in dB.

    ``level_dbm`` is what is exceeded at the receiver for the long-term percentage of time. ``overlaps`` is
    False where the masks share no frequency: FDR is then the floor, and nothing arrives.
    """

    sender: StationRecord
    victim: StationRecord
    length_km: float
    same_site: bool
    azimuth_deg: float
    back_azimuth_deg: float
    sender_elevation_deg: float
    victim_elevation_deg: float
    sender_off_axis_deg: float
    victim_off_axis_deg: float
    sender_gain_dbi: float
    victim_gain_dbi: float
    offset_hz: int
    otr_db: float
    ofr_db: float
    fdr_db: float
    overlaps: bool
    level_dbm: float


@dataclass(frozen=True)
class Interferers:
    """The strongest interferers of one victim, and how many there are in all."""

    victim: StationRecord
    strongest: Sequence[Interferer]
    number: int


def interferers_of(
    network: Network, criteria: Criteria, case: Case, terrain: TerrainStore | None = None
) -> Interferers:
    """The interferer of a case; for an aggregate the strongest of those that are summed.

    For an aggregate the network must hold all interferers of the victim.
    """
    rx = np.array([case.rx])
    limits, noise = limits_of(network.rx_hz / 1e6, network.authority, criteria), noise_of(network)
    wanted = wanted_levels(network, limits, criteria, terrain, rx)

    def budget(tx: np.ndarray, at: np.ndarray, fdr: np.ndarray) -> PairBudget:
        return budget_of(
            network, tx, at, fdr, noise, limits, criteria, wanted_dbm=wanted, terrain=terrain
        )  # fmt: skip

    number = 1
    if case.tx is None:
        received = Received(network)
        for block in candidates(
            network, rx, noise.total_dbm, wanted, limits, criteria, over_terrain=terrain is not None
        ):
            received.add(budget(block.tx, block.rx, block.fdr_db), limits, criteria)
        tx, at, level, _ = received.summed()
        tx, level = tx[at == case.rx], level[at == case.rx]
        number = len(tx)
        tx = tx[np.lexsort((tx, -level))][:MOST]
    else:
        tx = np.array([case.tx])
    at = np.full(len(tx), case.rx)
    found = budget(tx, at, fdr_db(network, tx, at))
    strongest = [_told(network, found, i) for i in range(len(tx))]
    return Interferers(network.stations[case.rx], strongest, number)


def _told(network: Network, b: PairBudget, i: int) -> Interferer:
    sender, victim = network.stations[b.tx[i]], network.stations[b.rx[i]]
    offset_hz = int(network.tx_hz[b.tx[i]] - network.rx_hz[b.rx[i]])
    rejection = rejection_table(sender.mode.emission, victim.mode.selectivity, offset_hz)
    return Interferer(
        sender=sender,
        victim=victim,
        length_km=float(b.geometry.slant_km[i]),
        same_site=bool(b.geometry.same_site[i]),
        azimuth_deg=float(b.geometry.tx_azimuth_deg[i]),
        back_azimuth_deg=float(b.geometry.rx_azimuth_deg[i]),
        sender_elevation_deg=float(b.geometry.tx_elevation_deg[i]),
        victim_elevation_deg=float(b.geometry.rx_elevation_deg[i]),
        sender_off_axis_deg=float(b.tx_off_axis_deg[i]),
        victim_off_axis_deg=float(b.rx_off_axis_deg[i]),
        sender_gain_dbi=float(b.tx_gain_dbi[i]),
        victim_gain_dbi=float(b.rx_gain_dbi[i]),
        offset_hz=offset_hz,
        otr_db=float(rejection.otr_db),
        ofr_db=float(rejection.ofr_db),
        fdr_db=float(b.fdr_db[i]),
        overlaps=bool(rejection.overlaps),
        level_dbm=float(b.interference_dbm[i]),
    )
