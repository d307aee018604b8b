"""The arguments of P.452-18 besides the profile, checked and repeated for each path."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation.p452.climate import Climate
from spectrum.radio.ranges import Array, ArrayLike, in_range

SOURCE = "ITU-R P.452-18"


@dataclass(frozen=True)
class Conditions:
    """The arguments of :func:`basic_transmission_loss`, checked and one per path."""

    frequency_ghz: Array
    time_percent: Array
    height_tx_agl_m: Array
    height_rx_agl_m: Array
    latitude_deg: Array
    gain_tx_dbi: Array
    gain_rx_dbi: Array
    vertical: npt.NDArray[np.bool_]
    coast_tx_km: Array
    coast_rx_km: Array
    lapse: Array
    refractivity: Array
    pressure_hpa: Array
    temperature_c: Array

    @property
    def wavelength_m(self) -> Array:
        """0.2998/f, as P.452-18 is computed by its published results, not c/f."""
        return 0.2998 / self.frequency_ghz


def checked_conditions(
    paths: int,
    *,
    frequency_ghz: ArrayLike,
    time_percent: ArrayLike,
    height_tx_agl_m: ArrayLike,
    height_rx_agl_m: ArrayLike,
    latitude_deg: ArrayLike,
    gain_tx_dbi: ArrayLike,
    gain_rx_dbi: ArrayLike,
    vertical: npt.ArrayLike,
    coast_tx_km: ArrayLike,
    coast_rx_km: ArrayLike,
    climate: Climate,
) -> Conditions:
    """Check each argument against the range of P.452-18 and repeat it for every path."""

    def each(
        name: str, value: ArrayLike, low: float = -np.inf, high: float = np.inf, *, above: bool = False
    ) -> Array:
        return np.broadcast_to(in_range(name, value, low, high, above=above, source=SOURCE), paths)

    return Conditions(
        frequency_ghz=each("frequency_ghz", frequency_ghz, 0.1, 50.0),
        time_percent=percentages("time_percent", time_percent, paths)[0],
        height_tx_agl_m=each("height_tx_agl_m", height_tx_agl_m, 0.0, above=True),
        height_rx_agl_m=each("height_rx_agl_m", height_rx_agl_m, 0.0, above=True),
        latitude_deg=each("latitude_deg", latitude_deg, -90.0, 90.0),
        gain_tx_dbi=each("gain_tx_dbi", gain_tx_dbi),
        gain_rx_dbi=each("gain_rx_dbi", gain_rx_dbi),
        vertical=np.broadcast_to(np.asarray(vertical, dtype=np.bool_), paths),
        coast_tx_km=each("coast_tx_km", coast_tx_km, 0.0),
        coast_rx_km=each("coast_rx_km", coast_rx_km, 0.0),
        lapse=each("refractivity_lapse_n_per_km", climate.refractivity_lapse_n_per_km, 0.0, 156.0),
        refractivity=each("surface_refractivity_n", climate.surface_refractivity_n, 200.0, 500.0),
        pressure_hpa=each("pressure_hpa", climate.pressure_hpa, 300.0, 1100.0),
        temperature_c=each("temperature_c", climate.temperature_c, -80.0, 60.0),
    )


def percentages(name: str, value: ArrayLike, paths: int) -> Array:
    """Percentages of time, checked: one row (paths,) or several (times, paths); always (times, paths)."""
    checked = in_range(name, value, 0.001, 50.0, source=SOURCE)
    times = checked.shape[0] if checked.ndim > 1 else 1
    return np.broadcast_to(checked, (times, paths))
