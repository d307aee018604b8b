"""The stations of a register as columns of numbers: what the search and the budgets compute with."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

ROLES: Final = ("a", "b", "hub", "remote")
HUB: Final = ROLES.index("hub")
REMOTE: Final = ROLES.index("remote")


@dataclass(frozen=True)
class Columns:
    """One entry a station, in a fixed order.

    Frequencies are whole Hz, 0 where the station does not transmit (or receive); periods are ordinal days,
    both ends included; ``antenna`` and ``mode`` count in the network's tables of these, ``role`` in
    :data:`ROLES`. A ground height that is not known is 0, an azimuth or power NaN.
    """

    station_id: IntArray
    link_id: IntArray
    role: IntArray
    own: BoolArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    ground_known: BoolArray
    ground_height_m: FloatArray
    antenna_height_agl_m: FloatArray
    azimuth_deg: FloatArray
    tilt_deg: FloatArray
    vertical: BoolArray
    line_losses_db: FloatArray
    antenna: IntArray
    mode: IntArray
    gain_dbi: FloatArray
    xpd_db: FloatArray
    tx_power_dbm: FloatArray
    tx_hz: IntArray
    rx_hz: IntArray
    starts: IntArray
    ends: IntArray
    required_ci_db: FloatArray

    def __len__(self) -> int:
        return len(self.link_id)

    def part(self, chosen: npt.NDArray[Any]) -> Columns:
        """The stations that are chosen, by number or by a mask."""
        return Columns(**{f.name: getattr(self, f.name)[chosen] for f in fields(self)})

    def followed_by(self, more: Columns) -> Columns:
        """These stations, then more."""
        return Columns(
            **{f.name: np.concatenate((getattr(self, f.name), getattr(more, f.name))) for f in fields(self)}
        )


COLUMN_TYPES: Final = {
    name: np.dtype(
        {"IntArray": np.int64, "FloatArray": np.float64, "BoolArray": np.bool_}[
            str(Columns.__annotations__[name])
        ]
    )
    for name in (f.name for f in fields(Columns))
}
