"""A table of losses that no path over level ground undercuts, looked up before the loss itself is computed.

The bound is that of :mod:`spectrum.conflicts.least_loss`, each cell taken at the end of its ranges that makes the
bound smaller: the shorter distance, the greater heights, the lower frequency. Heights come in by S = √h_t + √h_r
alone: of all heights of one S, αβd is least where one antenna has all of it (it falls with (x_t − x_r)²); the
gains of the heights are the greatest of all shares of S (below); all else depends on the sum. What the distance to the
horizons adds to ducting, 20 log S, is taken back to the lower end of the row, for it grows with the heights. Within a
range of frequencies the terms grow but for that of ducting below 0.5 GHz, which falls by less than ``MARGIN_DB``,
and for the gains, which are those of the upper end; the bound moves by no more than its terms do.

Where the share of one antenna in S lies between a and b the gains are at most G(b²) + G((S − a)²), for G grows.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.conflicts.criteria import Criteria, Limits
from spectrum.conflicts.least_loss import FloatArray, Heights, height_gain_db, least_loss_of_heights_db
from spectrum.conflicts.network import Network
from spectrum.conflicts.path_loss import GREATEST_FREQUENCY_MHZ, LEAST_FREQUENCY_MHZ, LEAST_HEIGHT_M

FREQUENCY_FACTOR = 1.03
MARGIN_DB = 0.8
# Distances in steps of √km, heights in steps of S.
STEPS_PER_ROOT_KM = 6.0
MOST_S = 120
# Parts into which half of S is cut to find the greatest gains of its shares.
SHARES = 16


class LossFloor:
    """Least loss at both percentages of time, dB: ``values[percentages, frequency, S, distance, long or short]``.

    ``percentages`` and ``frequency`` are the rows of each station as a receiver and as a transmitter.
    """

    def __init__(self, network: Network, limits: Limits, criteria: Criteria) -> None:
        heard, sent = network.rx_hz > 0, network.tx_hz > 0
        asked = np.column_stack((limits.long_percent, limits.short_percent))
        kinds, self.percentages = np.unique(
            np.where(heard[:, None], asked, asked[:1]), axis=0, return_inverse=True
        )
        megahertz = np.clip(network.tx_hz / 1e6, LEAST_FREQUENCY_MHZ, GREATEST_FREQUENCY_MHZ)
        step = np.floor(np.log(megahertz) / np.log(FREQUENCY_FACTOR)).astype(np.int64)
        steps, self.frequency = np.unique(
            np.where(sent, step, step[sent][:1] if sent.any() else 0), return_inverse=True
        )
        s_count = self._s_count(network)
        roots = np.arange(int(np.sqrt(criteria.policy_radius_km) * STEPS_PER_ROOT_KM) + 2) / STEPS_PER_ROOT_KM
        nearest_km = np.maximum(roots**2, criteria.same_site_spacing_m / 1e3)
        upper = np.arange(1, s_count + 1, dtype=np.float64)[:, None]
        heights = Heights(upper, upper, lambda f, a: _greatest_gain_db(f * FREQUENCY_FACTOR, upper, a))
        horizons_db = 20.0 * np.log10(upper / np.maximum(upper - 1.0, 2.0 * np.sqrt(LEAST_HEIGHT_M)))
        self.values = np.empty((len(kinds), len(steps), s_count, len(roots), 2), dtype=np.float32)
        latitude = _least_latitude_deg(network.latitude_deg)
        for k, percent in enumerate(kinds):
            for f, number in enumerate(steps):
                loss = least_loss_of_heights_db(
                    FREQUENCY_FACTOR ** float(number), nearest_km, percent[:, None, None], heights, latitude,
                    criteria.climate,
                )  # fmt: skip
                self.values[k, f] = np.moveaxis(loss - np.maximum(horizons_db, 0.0) - MARGIN_DB, 0, -1)

    @staticmethod
    def _s_count(network: Network) -> int:
        """Rows of S that cover the register: its lowest ground under its highest antenna, twice."""
        if not len(network):
            return 1
        ground = np.where(network.ground_known, network.ground_height_m, 0.0)
        rise = float(ground.max() - ground.min()) if network.ground_known.any() else 0.0
        tallest = max(float(network.antenna_height_agl_m.max()) + rise, LEAST_HEIGHT_M)
        return min(int(2.0 * np.sqrt(tallest)) + 1, MOST_S)


def _greatest_gain_db(f: FloatArray, roots: FloatArray, radius_km: float) -> FloatArray:
    """The greatest gain that two antennas can have whose √h add up to ``roots``, dB."""
    greatest = np.full_like(roots, -np.inf)
    for share in range(SHARES):
        less, more = 0.5 * share / SHARES * roots, 0.5 * (share + 1) / SHARES * roots
        both = height_gain_db(f, more**2, radius_km) + height_gain_db(f, (roots - less) ** 2, radius_km)
        greatest = np.maximum(greatest, both)
    return greatest


def _least_latitude_deg(latitude_deg: npt.NDArray[np.float64]) -> float:
    """|φ| that no path between places of the register comes nearer to the equator than."""
    if not len(latitude_deg) or (latitude_deg.min() < 0.0 < latitude_deg.max()):
        return 0.0
    return max(float(np.abs(latitude_deg).min()) - 0.5, 0.0)
