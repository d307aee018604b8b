"""Channels of a raster in whole Hz: their frequencies, the nearest one, on or off the raster."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from spectrum.radio.passbands import Integers, whole_hz


class ChannelPair(NamedTuple):
    """Go and return frequency of every channel, whole Hz; arrays of shape (count,)."""

    go_hz: Integers
    return_hz: Integers


class NearestChannel(NamedTuple):
    """Nearest channel of a raster.

    Attributes
    ----------
    number : number of the channel, the first is 0
    channel_hz : its frequency
    offset_hz : the frequency asked less that of the channel; 0 on the raster
    """

    number: Integers
    channel_hz: Integers
    offset_hz: Integers


def channel_frequencies_hz(first_go_hz: int, spacing_hz: int, count: int, duplex_hz: int = 0) -> ChannelPair:
    """Frequencies of all channels of a raster with a constant duplex spacing.

    Parameters
    ----------
    first_go_hz : int
        Go frequency of the first channel, whole Hz.
    spacing_hz : int
        Channel spacing, whole Hz above 0.
    count : int
        Number of channels, 1 or more.
    duplex_hz : int
        Return less go frequency, whole Hz; negative where the return channel is the lower one.

    Returns
    -------
    ChannelPair
        ``go_hz`` = first + n·spacing for n = 0 … count − 1, and ``return_hz`` = ``go_hz`` + duplex.

    Raises
    ------
    ValueError
        When a value is not whole or not positive as stated, or a return frequency not above 0.

    Source
    ------
    Arithmetic of channel arrangements, as in 47 CFR 101.147(b), CEPT T/R 25-02 and the ITU-R F series.

    Range
    -----
    Rasters whose spacing is a whole number of Hz.

    Examples
    --------
    >>> pair = channel_frequencies_hz(928_006_250, 12_500, 28, 24_000_000)
    >>> pair.go_hz[[0, -1]].tolist(), pair.return_hz[[0, -1]].tolist()
    ([928006250, 928343750], [952006250, 952343750])
    >>> channel_frequencies_hz(956_600_000, 100_000, 2, -3_600_000).return_hz.tolist()
    [953000000, 953100000]
    """
    first = int(whole_hz("first_go_hz", first_go_hz, least=1)[0])
    spacing = int(whole_hz("spacing_hz", spacing_hz, least=1)[0])
    if count < 1 or count != int(count):
        raise ValueError(f"count is {count}; a whole number of 1 or more was expected.")
    if duplex_hz != int(duplex_hz) or first + duplex_hz <= 0:
        raise ValueError(
            f"duplex_hz is {duplex_hz}; whole Hz that leave the return frequency above 0 were expected."
        )
    go = first + spacing * np.arange(int(count), dtype=np.int64)
    return ChannelPair(go, go + int(duplex_hz))


def nearest_channel(
    frequency_hz: npt.ArrayLike, first_hz: int, spacing_hz: int, count: int
) -> NearestChannel:
    """The channel of a raster nearest to each frequency.

    Number n = (f − f_first) / spacing, rounded; offset = f − (f_first + n · spacing).

    Parameters
    ----------
    frequency_hz : array_like
        Frequencies, whole Hz.
    first_hz : int
        Frequency of the first channel, whole Hz.
    spacing_hz : int
        Channel spacing, whole Hz above 0.
    count : int
        Number of channels.

    Returns
    -------
    NearestChannel
        Number, frequency and offset, in the shape of ``frequency_hz``. Half way between two channels the
        lower is taken; outside the raster its first or last.

    Raises
    ------
    ValueError
        When a value is not whole or not positive as stated.

    Source
    ------
    Arithmetic in whole Hz.

    Range
    -----
    As :func:`channel_frequencies_hz`.

    Examples
    --------
    >>> found = nearest_channel(451_013_000, 451_006_250, 6_250, 130)
    >>> int(found.number), int(found.channel_hz), int(found.offset_hz)
    (1, 451012500, 500)
    >>> nearest_channel([400_000_000, 451_009_375], 451_006_250, 6_250, 130).number.tolist()
    [0, 0]
    """
    raster = channel_frequencies_hz(first_hz, spacing_hz, count).go_hz
    frequency = whole_hz("frequency_hz", frequency_hz, least=1).reshape(np.shape(frequency_hz))
    # ceil((f − first)/spacing − 1/2) without leaving the whole numbers
    twice = 2 * int(spacing_hz)
    index = -((int(spacing_hz) - 2 * (frequency - int(raster[0]))) // twice)
    index = np.clip(index, 0, raster.size - 1)
    return NearestChannel(index[()], raster[index], (frequency - raster[index])[()])


def on_raster(
    frequency_hz: npt.ArrayLike, first_hz: int, spacing_hz: int, count: int
) -> npt.NDArray[np.bool_]:
    """Whether each frequency is that of a channel of the raster.

    Parameters
    ----------
    frequency_hz : array_like
        Frequencies, whole Hz.
    first_hz, spacing_hz, count : int
        The raster, as :func:`nearest_channel`.

    Returns
    -------
    ndarray of bool or bool
        True on the raster.

    Raises
    ------
    ValueError
        As :func:`nearest_channel`.

    Source
    ------
    Arithmetic in whole Hz.

    Range
    -----
    As :func:`channel_frequencies_hz`.

    Examples
    --------
    >>> bool(on_raster(451_012_500, 451_006_250, 6_250, 130))
    True
    >>> on_raster([451_012_501, 451_818_750], 451_006_250, 6_250, 130).tolist()
    [False, False]
    """
    return np.asarray(nearest_channel(frequency_hz, first_hz, spacing_hz, count).offset_hz == 0)[()]
