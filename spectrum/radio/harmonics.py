"""Harmonics of transmitters that fall into receivers at the same site."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from spectrum.radio.passbands import Passbands, whole_hz

#: One row per harmonic and receiver; see :func:`harmonics_in_passbands`.
HARMONIC: Final = np.dtype(
    [
        ("rx", np.int64),
        ("tx", np.int64),
        ("harmonic", np.int64),
        ("harmonic_hz", np.int64),
        ("width_hz", np.int64),
        ("offset_hz", np.int64),
    ]
)


def harmonics_in_passbands(
    tx_frequency_hz: npt.ArrayLike,
    tx_width_hz: npt.ArrayLike,
    rx_frequency_hz: npt.ArrayLike,
    rx_width_hz: npt.ArrayLike,
    highest: int = 5,
) -> npt.NDArray[np.void]:
    """Find the harmonics of transmitters that touch a receiver's passband.

    The n-th harmonic lies at n times the frequency and is taken to be n times as wide as the emission.
    It touches a passband when their centres lie at most half the sum of their widths apart; edges that
    meet count.

    Parameters
    ----------
    tx_frequency_hz : array_like, shape (n,)
        Frequencies of the transmitters, whole Hz.
    tx_width_hz : array_like, shape (n,) or scalar
        Width of each emission, whole Hz; 0 counts harmonic centres only.
    rx_frequency_hz : array_like, shape (m,)
        Frequencies of the receivers, whole Hz.
    rx_width_hz : array_like, shape (m,) or scalar
        Width of each passband, whole Hz.
    highest : int
        Highest harmonic considered, from 2.

    Returns
    -------
    structured array, shape (hits,)
        Fields ``rx``, ``tx`` (indices), ``harmonic`` (n), ``harmonic_hz``, ``width_hz``,
        ``offset_hz`` (harmonic less receiver); sorted by receiver, harmonic, distance.

    Raises
    ------
    ValueError
        When frequencies or widths are not whole Hz, or ``highest`` is below 2 or above 100.

    Source
    ------
    Arithmetic. Harmonic emission: ITU Radio Regulations 1.145 (spurious emission).

    Range
    -----
    Harmonics 2 to 100.

    Known disagreements
    -------------------
    n times the width holds for angle modulation; an amplitude-modulated harmonic may be narrower.
    The wider is taken, which is the safe side.

    Examples
    --------
    >>> hits = harmonics_in_passbands([150_000_000], 12_500, [450_012_500, 460_000_000], 12_500)
    >>> hits[["rx", "harmonic", "width_hz"]].tolist()
    [(0, 3, 37500)]
    >>> harmonics_in_passbands([410_000_000], 25_000, [820_062_500], 12_500).size
    0
    """
    if not 2 <= highest <= 100:
        raise ValueError(f"highest is {highest}; a whole number from 2 to 100 was expected.")
    frequency = whole_hz("tx_frequency_hz", tx_frequency_hz, least=1)
    width = whole_hz("tx_width_hz", tx_width_hz, frequency.size)
    receivers = Passbands(rx_frequency_hz, rx_width_hz)
    multiple = np.arange(2, highest + 1)
    harmonic_hz = np.outer(multiple, frequency).ravel()
    width_hz = np.outer(multiple, width).ravel()
    lines, rx, offset_hz = receivers.touched(harmonic_hz, width_hz)
    hits = np.zeros(lines.size, HARMONIC)
    hits["rx"], hits["offset_hz"] = rx, offset_hz
    hits["harmonic"], hits["tx"] = multiple[lines // frequency.size], lines % frequency.size
    hits["harmonic_hz"], hits["width_hz"] = harmonic_hz[lines], width_hz[lines]
    return hits[np.lexsort((np.abs(offset_hz), hits["harmonic"], rx))]
