"""Discrimination by polarisation between two antennas."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

POLARISATIONS: Final = ("H", "V", "+45", "-45", "RHC", "LHC")
"""Horizontal, vertical, slant ±45°, right-hand and left-hand circular; orthogonal pairs stand together."""

HALF_POWER_DB: Final = 10.0 * float(np.log10(2.0))
"""Loss between polarisations 45° apart, and between linear and circular, 3.01 dB."""


def cross_polar_loss_db(
    polarisation_a: str | npt.ArrayLike,
    polarisation_b: str | npt.ArrayLike,
    xpd_a_db: ArrayLike,
    xpd_b_db: ArrayLike,
) -> Array:
    """Loss between two antennas because of their polarisations.

    Equal polarisations: 0 dB. Orthogonal ones: each antenna leaks into the other's polarisation by
    its cross-polar discrimination, and the two leaks add in power,
    −10 log(10^(−XPD_a/10) + 10^(−XPD_b/10)), not below 0 dB. Any other pair (45° apart, or linear
    against circular): 3.01 dB.

    Parameters
    ----------
    polarisation_a, polarisation_b : str or array of str
        ``"H"``, ``"V"``, ``"+45"``, ``"-45"``, ``"RHC"`` or ``"LHC"``, both seen in the direction of
        travel of one wave.
    xpd_a_db, xpd_b_db : scalar or array
        Cross-polar discrimination of the two antennas in dB, at least 0; NaN where not known.

    Returns
    -------
    scalar or array
        Loss in dB. NaN where a discrimination that matters is not known; equal and 45° pairs do not
        depend on it.

    Raises
    ------
    RadioRangeError
        If a discrimination is negative.
    ValueError
        If a polarisation is none of the six.

    Source
    ------
    Projection of ideal polarisations; the power sum of the leaks is common practice, no published
    source.

    Range
    -----
    Cross-polar discrimination is a figure for the main lobe. Off the axis, and after reflections and
    diffraction, it can vanish: enter a lower figure there.

    Examples
    --------
    >>> round(float(cross_polar_loss_db("H", "V", 25, 25)), 2)
    21.99
    >>> cross_polar_loss_db(["V", "V", "V"], ["V", "H", "+45"], 20.0, 30.0).round(3)
    array([ 0.   , 19.586,  3.01 ])
    """
    a = _index("polarisation_a", polarisation_a)
    b = _index("polarisation_b", polarisation_b)
    leak = 10.0 ** (-in_range("xpd_a_db", xpd_a_db, 0.0) / 10.0)
    leak = leak + 10.0 ** (-in_range("xpd_b_db", xpd_b_db, 0.0) / 10.0)
    crossed = np.maximum(-10.0 * np.log10(leak), 0.0)
    # Orthogonal pairs stand together in POLARISATIONS, so that number // 2 names the pair.
    loss = np.where(a == b, 0.0, np.where(a // 2 == b // 2, crossed, HALF_POWER_DB))
    return same_shape(np.asarray(loss))


def _index(argument: str, polarisation: str | npt.ArrayLike) -> npt.NDArray[np.intp]:
    names = np.asarray(polarisation, dtype=str)
    index = np.full(names.shape, -1)
    for number, name in enumerate(POLARISATIONS):
        index = np.where(names == name, number, index)
    if (index < 0).any():
        raise ValueError(
            f"{argument} is {str(names[index < 0].flat[0])!r}; it must be one of {', '.join(POLARISATIONS)}."
        )
    return index
