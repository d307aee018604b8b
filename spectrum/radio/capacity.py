"""Bit rate and delay of a channel, and the narrowest mode that serves."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

_NAMED_ORDERS: Final = {"BPSK": 2, "QPSK": 4, "OQPSK": 4, "DQPSK": 4, "DBPSK": 2}


@dataclass(frozen=True, slots=True)
class Mode:
    """One mode of a radio: what it carries, in which width, and how late."""

    name: str
    channel_width_khz: float
    bit_rate_kbps: float
    one_way_delay_ms: float


@dataclass(frozen=True, slots=True)
class ModeChoice:
    """The mode chosen, or None, and why in one sentence."""

    mode: Mode | None
    sentence: str


def modulation_order(modulation: str) -> int:
    """Number of signal states of a linear modulation from its usual name.

    Parameters
    ----------
    modulation : str
        BPSK, QPSK, OQPSK, DQPSK, or M-PSK, M-QAM with M a power of two, however spelt (16-QAM, QAM16).

    Returns
    -------
    int
        Signal states M.

    Raises
    ------
    ValueError
        For a name that is none of these; also for frequency-shift keying, whose bandwidth does not
        follow from the roll-off (see the necessary bandwidths of ITU-R SM.1138).

    Source
    ------
    Terms of the trade.

    Range
    -----
    M from 2 to 4096.

    Examples
    --------
    >>> modulation_order("256-QAM"), modulation_order("QPSK")
    (256, 4)
    >>> modulation_order("4-FSK")
    Traceback (most recent call last):
    ...
    ValueError: modulation '4-FSK' is not one whose rate follows from the roll-off; expected BPSK, QPSK, M-PSK or M-QAM with M a power of two from 2 to 4096, for example 16-QAM.
    """  # noqa: E501
    plain = re.sub(r"[^0-9A-Z]", "", modulation.upper().replace("Π", "PI"))
    plain = re.sub(r"^(PI)?4(D?QPSK)$", r"\2", plain)  # π/4-DQPSK turns its states, it has no more of them
    if plain in _NAMED_ORDERS:
        return _NAMED_ORDERS[plain]
    found = re.fullmatch(r"(\d+)D?(?:PSK|QAM|APSK)|D?(?:PSK|QAM|APSK)(\d+)", plain)
    order = int(found.group(1) or found.group(2)) if found else 0
    if not 2 <= order <= 4096 or order & (order - 1):
        raise ValueError(
            f"modulation '{modulation}' is not one whose rate follows from the roll-off; expected BPSK, QPSK, "
            f"M-PSK or M-QAM with M a power of two from 2 to 4096, for example 16-QAM."
        )
    return order


def gross_bit_rate_kbps(
    channel_width_khz: ArrayLike,
    modulation_order: ArrayLike,
    roll_off: ArrayLike,
    code_rate: ArrayLike = 1.0,
) -> Array:
    """Bit rate of a linearly modulated channel in one direction, before framing.

    Parameters
    ----------
    channel_width_khz : array_like
        Width that the signal fills, kHz.
    modulation_order : array_like
        Signal states M.
    roll_off : array_like
        Roll-off α of the root-raised-cosine filter.
    code_rate : array_like
        Information bits per coded bit; 1 uncoded.

    Returns
    -------
    ndarray or scalar
        width/(1 + α)·log2 M·code rate, kbit/s.

    Raises
    ------
    RadioRangeError
        When the width is not above 0, M outside 2 to 4096, α outside 0 to 1, or the code rate outside
        0 (not included) to 1.

    Source
    ------
    H. Nyquist, "Certain topics in telegraph transmission theory", Trans. AIEE 47 (1928): symbols per
    second from the width and the roll-off of the filter.

    Range
    -----
    Linear modulation. Framing, pilots and guard times of the radio take their share of it.

    Known disagreements
    -------------------
    Common practice, no published source: 256-QAM uncoded in 300 kHz is said to give about 3.4 Mbit/s
    both ways together. A roll-off of 0.4 gives 3.43 Mbit/s.

    Examples
    --------
    >>> round(2 * float(gross_bit_rate_kbps(300.0, 256, 0.4)))
    3429
    >>> gross_bit_rate_kbps(25.0, [4, 16, 64], 0.25, 0.5).tolist()
    [20.0, 40.0, 60.0]
    """
    width = in_range("channel_width_khz", channel_width_khz, 0.0, above=True)
    states = in_range("modulation_order", modulation_order, 2.0, 4096.0)
    alpha = in_range("roll_off", roll_off, 0.0, 1.0)
    rate = in_range("code_rate", code_rate, 0.0, 1.0, above=True)
    return same_shape(np.asarray(width / (1.0 + alpha) * np.log2(states) * rate))


def round_trip_delay_ms(
    one_way_delay_ms: ArrayLike,
    distance_km: ArrayLike = 0.0,
    frame_bytes: ArrayLike = 0.0,
    bit_rate_kbps: ArrayLike = np.inf,
) -> Array:
    """Delay there and back of a frame over a full-duplex link.

    Parameters
    ----------
    one_way_delay_ms : array_like
        Delay of the two radios in one direction (framing, coding, interleaving), ms.
    distance_km : array_like
        Path length, km.
    frame_bytes : array_like
        Length of the frame that is sent back and forth, octets.
    bit_rate_kbps : array_like
        Bit rate in each direction, kbit/s.

    Returns
    -------
    ndarray or scalar
        Twice the sum of radio delay, propagation (distance/c) and serialisation (8·octets/rate), ms.

    Raises
    ------
    RadioRangeError
        When a delay, distance or length is negative or the rate not above 0.

    Source
    ------
    Arithmetic; speed of light 299 792 458 m/s.

    Range
    -----
    One frame on an idle link: waiting in queues comes on top.

    Known disagreements
    -------------------
    Common practice, no published source: the round trip of a wide narrowband duplex link stays under
    20 ms.

    Examples
    --------
    >>> round(float(round_trip_delay_ms(5.0, 50.0, 256, 1714.0)), 2)
    12.72
    >>> round_trip_delay_ms([1.0, 5.0]).tolist()
    [2.0, 10.0]
    """
    propagation_ms = in_range("distance_km", distance_km, 0.0) * 1e6 / SPEED_OF_LIGHT_M_PER_S
    serial_ms = (
        8.0
        * in_range("frame_bytes", frame_bytes, 0.0)
        / in_range("bit_rate_kbps", bit_rate_kbps, 0.0, above=True)
    )
    return same_shape(
        2.0 * (in_range("one_way_delay_ms", one_way_delay_ms, 0.0) + propagation_ms + serial_ms)
    )


def narrowest_mode_index(
    channel_width_khz: ArrayLike,
    bit_rate_kbps: ArrayLike,
    one_way_delay_ms: ArrayLike,
    required_rate_kbps: ArrayLike,
    max_delay_ms: ArrayLike,
) -> npt.NDArray[np.intp]:
    """Index of the narrowest mode that carries the rate within the delay, for many requirements at once.

    Among modes of one width that serve, the one with the lowest bit rate is taken: it needs the least
    signal. Among equals the first.

    Parameters
    ----------
    channel_width_khz, bit_rate_kbps, one_way_delay_ms : array_like, shape (modes,)
        The modes.
    required_rate_kbps, max_delay_ms : array_like, any one shape
        The requirements.

    Returns
    -------
    ndarray of int, shape of the requirements
        Index of the mode; −1 where none serves or a requirement is NaN.

    Raises
    ------
    RadioRangeError
        When a width is not above 0, or a rate or delay is negative.

    Source
    ------
    Common practice, no published source.

    Range
    -----
    Delay is compared one way, as the mode states it.

    Examples
    --------
    >>> int(narrowest_mode_index([12.5, 25, 50], [9.6, 64, 128], [20, 8, 5], 19.2, 10.0))
    1
    >>> narrowest_mode_index([12.5, 25, 50], [9.6, 64, 128], [20, 8, 5], [9.6, 500.0], 30.0).tolist()
    [0, -1]
    """
    width = np.atleast_1d(in_range("channel_width_khz", channel_width_khz, 0.0, above=True))
    rate = np.atleast_1d(in_range("bit_rate_kbps", bit_rate_kbps, 0.0))
    delay = np.atleast_1d(in_range("one_way_delay_ms", one_way_delay_ms, 0.0))
    needed = in_range("required_rate_kbps", required_rate_kbps, 0.0)[..., None]
    allowed = in_range("max_delay_ms", max_delay_ms, 0.0)[..., None]
    preferred = np.lexsort((rate, width))
    serves = (rate[preferred] >= needed) & (delay[preferred] <= allowed)
    if not preferred.size:
        return np.full(serves.shape[:-1], -1)[()]
    return np.where(serves.any(axis=-1), preferred[serves.argmax(axis=-1)], -1)[()]


def narrowest_mode(modes: Sequence[Mode], required_rate_kbps: float, max_delay_ms: float) -> ModeChoice:
    """The narrowest of a radio's modes that carries a rate within a delay, and why.

    Parameters
    ----------
    modes : sequence of Mode
        The modes of the radio.
    required_rate_kbps : float
        Bit rate needed, kbit/s.
    max_delay_ms : float
        Greatest delay one way, ms.

    Returns
    -------
    ModeChoice
        The mode and a sentence; without a mode the sentence says which need fails.

    Raises
    ------
    RadioRangeError
        As :func:`narrowest_mode_index`.

    Source
    ------
    As :func:`narrowest_mode_index`.

    Range
    -----
    As :func:`narrowest_mode_index`.

    Examples
    --------
    >>> modes = [Mode("A", 12.5, 9.6, 20.0), Mode("B", 25.0, 64.0, 8.0)]
    >>> narrowest_mode(modes, 19.2, 10.0).sentence
    'B: 64 kbit/s in 25 kHz with 8 ms one way is the narrowest mode for 19.2 kbit/s within 10 ms.'
    >>> narrowest_mode(modes, 128.0, 10.0).sentence
    'No mode serves: the fastest carries 64 kbit/s, 128 kbit/s are needed.'
    """
    index = int(
        narrowest_mode_index(
            [mode.channel_width_khz for mode in modes],
            [mode.bit_rate_kbps for mode in modes],
            [mode.one_way_delay_ms for mode in modes],
            required_rate_kbps,
            max_delay_ms,
        )
    )
    if index >= 0:
        mode = modes[index]
        return ModeChoice(
            mode,
            f"{mode.name}: {mode.bit_rate_kbps:g} kbit/s in {mode.channel_width_khz:g} kHz with "
            f"{mode.one_way_delay_ms:g} ms one way is the narrowest mode for {required_rate_kbps:g} kbit/s "
            f"within {max_delay_ms:g} ms.",
        )
    if not modes:
        return ModeChoice(None, "No mode serves: the radio has none.")
    fast = [mode for mode in modes if mode.bit_rate_kbps >= required_rate_kbps]
    if fast:
        least_ms = min(mode.one_way_delay_ms for mode in fast)
        return ModeChoice(
            None,
            f"No mode serves: of those that carry {required_rate_kbps:g} kbit/s the quickest takes "
            f"{least_ms:g} ms one way, {max_delay_ms:g} ms are allowed.",
        )
    fastest = max(mode.bit_rate_kbps for mode in modes)
    return ModeChoice(
        None,
        f"No mode serves: the fastest carries {fastest:g} kbit/s, {required_rate_kbps:g} kbit/s are needed.",
    )
