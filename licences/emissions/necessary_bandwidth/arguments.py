"""The argument check that the formulas share."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def checked(argument: str, value: npt.ArrayLike, low: float = 0.0) -> Array:
    """``value`` as float64, not below ``low``; NaN passes."""
    array = np.asarray(value, dtype=np.float64)
    if (array < low).any():
        raise ValueError(f"{argument} is {np.nanmin(array):g}; it must be {low:g} or more (ITU-R SM.1138).")
    return array
