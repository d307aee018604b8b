"""Masks that stand in where a radio's own are not in the register.

The figures are nominal: our own choice after common practice for narrowband equipment
(adjacent-channel power near −60 dBc and adjacent-channel selectivity near 60 dB; from memory,
not verified against a standard). A finding that rests on one says so.
"""

from __future__ import annotations

from functools import lru_cache

from spectrum.radio.masks import Mask


@lru_cache(maxsize=256)
def nominal_emission(channel_width_khz: float) -> Mask:
    """Flat over 80 % of the channel, −30 dB at its edge, −60 dB from the next channel's centre, ends at 250 %.

    >>> nominal_emission(25.0).span_khz
    (-62.5, 62.5)
    """
    w = channel_width_khz
    return Mask(offset_khz=(0, 0.4 * w, 0.5 * w, w, 2.5 * w), level_db=(0, 0, -30, -60, -70))


@lru_cache(maxsize=256)
def nominal_selectivity(channel_width_khz: float) -> Mask:
    """Flat over 90 % of the channel, −60 dB from the next channel's centre, ends at 250 %.

    >>> nominal_selectivity(25.0).span_khz
    (-62.5, 62.5)
    """
    w = channel_width_khz
    return Mask(offset_khz=(0, 0.45 * w, w, 2.5 * w), level_db=(0, 0, -60, -80))
