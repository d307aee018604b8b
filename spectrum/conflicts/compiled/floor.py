"""A table of losses that no path over level ground undercuts, looked up before the loss itself is computed.

The bound is that of :mod:`spectrum.conflicts.least_loss`, each cell taken at the end of its ranges that makes the
bound smaller: the shorter distance, the greater heights. Heights come in by S = √h_t + √h_r alone: of all
heights of one S the bound is least where one antenna has all of it (αβd falls with (x_t − x_r)², all
else depends on the sum); and what the distance to the horizons adds to ducting, 20 log S, is taken back to the
lower end of the row, for it alone grows with the heights. Within a range of frequencies no term of the bound moves by more than
``MARGIN_DB``, and the bound moves by no more than its terms do.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.conflicts.criteria import Criteria, Limits
from spectrum.conflicts.least_loss import least_loss_db
from spectrum.conflicts.network import Network
from spectrum.conflicts.path_loss import GREATEST_FREQUENCY_MHZ, LEAST_FREQUENCY_MHZ, LEAST_HEIGHT_M

FREQUENCY_FACTOR = 1.03
MARGIN_DB = 0.8
# Distances in steps of √km, heights in steps of S.
STEPS_PER_ROOT_KM = 6.0
MOST_S = 120


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
        tallest_m = upper**2
        horizons_db = 20.0 * np.log10(upper / np.maximum(upper - 1.0, 2.0 * np.sqrt(LEAST_HEIGHT_M)))
        self.values = np.empty((len(kinds), len(steps), s_count, len(roots), 2), dtype=np.float32)
        latitude = _least_latitude_deg(network.latitude_deg)
        for k, percent in enumerate(kinds):
            for f, number in enumerate(steps):
                loss = least_loss_db(
                    FREQUENCY_FACTOR ** float(number), nearest_km, percent[:, None, None], tallest_m, 0.0, latitude,
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


def _least_latitude_deg(latitude_deg: npt.NDArray[np.float64]) -> float:
    """|φ| that no path between places of the register comes nearer to the equator than."""
    if not len(latitude_deg) or (latitude_deg.min() < 0.0 < latitude_deg.max()):
        return 0.0
    return max(float(np.abs(latitude_deg).min()) - 0.5, 0.0)
