"""Frequency-dependent rejection of an emission by a receiver (ITU-R SM.337-6).

How it is computed
------------------
Both masks are straight lines in dB between their points. Move the receiver's
mask by the offset and cut the frequency axis at every point of either mask:
on each piece the sum of the two levels is again a straight line in dB, hence
the power is an exponential and its integral is known,

    integral of 10^(L/10) over a piece = width · 10^(L_high/10) · (1 − e^(−x)) / x,
    x = |L_end − L_start| · ln(10) / 10,

with the limit 1 for a level piece. Nothing is sampled.
"""

from __future__ import annotations

from functools import lru_cache
from threading import Lock
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from spectrum.radio.masks.mask import SMALLEST_WIDTH_KHZ, Mask, Pieces, level_on_piece_db
from spectrum.radio.ranges import Array, ArrayLike, same_shape

NO_OVERLAP_FDR_DB = 200.0
"""Rejection reported where the masks share no frequency, and the most that is ever reported.

Our own convention, no published source: a finite figure keeps the sum of a
link budget finite, and capping at it keeps the rejection non-decreasing.
"""

_ELEMENTS_PER_BATCH = 1 << 17
_OFFSETS_KEPT_PER_PAIR = 1 << 16


class Rejection(NamedTuple):
    """Rejection of an emission by a receiver.

    Attributes
    ----------
    fdr_db : frequency-dependent rejection at the offset, dB, from 0 to :data:`NO_OVERLAP_FDR_DB`
    otr_db : on-tune rejection, the frequency-dependent rejection at offset 0, dB
    ofr_db : off-frequency rejection, ``fdr_db - otr_db``, dB
    overlaps : False where the two masks share no frequency, so that the floor stands in ``fdr_db``
    """

    fdr_db: Array
    otr_db: Array
    ofr_db: Array
    overlaps: npt.NDArray[np.bool_]


def frequency_dependent_rejection(emission: Mask, selectivity: Mask, offset_khz: ArrayLike) -> Rejection:
    """Frequency-dependent, on-tune and off-frequency rejection for one pair of masks.

    FDR(Δf) = 10 log [ ∫ P(f) df / ∫ P(f) · |H(f + Δf)|² df ], OTR = FDR(0), OFR = FDR − OTR,
    where f is the offset from the emission's centre and Δf = f_emission − f_receiver.

    Parameters
    ----------
    emission : Mask
        P, relative power spectral density of the emission.
    selectivity : Mask
        |H|², relative response of the receiver.
    offset_khz : scalar or array
        Δf in kHz, frequency of the emission minus frequency of the receiver.

    Returns
    -------
    Rejection
        Four values of the shape of ``offset_khz`` (``otr_db`` is one figure); NaN where the
        offset is NaN. Where the masks share no frequency ``overlaps`` is False and ``fdr_db``
        is :data:`NO_OVERLAP_FDR_DB`.

    Source
    ------
    ITU-R SM.337-6, Annex 1, equations (2) to (4); integral in closed form, see the head of this module.

    Range
    -----
    Any offset. Results from 0 dB to 200 dB.

    Known disagreements
    -------------------
    OTR is often approximated as 10 log(B_T / B_R) (noise-like; 20 log for pulses, from memory, not
    verified); here it is always the integral. The rejection is symmetric in Δf only if both masks
    are symmetric.

    Examples
    --------
    >>> wide, narrow = Mask.rectangle(25), Mask.rectangle(12.5)
    >>> result = frequency_dependent_rejection(wide, narrow, 12.5)
    >>> round(float(result.fdr_db), 4), round(float(result.otr_db), 4), round(float(result.ofr_db), 4)
    (6.0206, 3.0103, 3.0103)
    >>> frequency_dependent_rejection(narrow, narrow, [0, 6.25, 12.5]).overlaps
    array([ True,  True, False])
    """
    offset = np.asarray(offset_khz, dtype=np.float64)
    fdr, overlaps = _fdr(emission, selectivity, np.append(offset.ravel(), 0.0))
    fdr_db, otr_db = fdr[:-1].reshape(offset.shape), fdr[-1]
    return Rejection(
        same_shape(fdr_db),
        otr_db,
        same_shape(fdr_db - otr_db),
        overlaps[:-1].reshape(offset.shape)[()],
    )


def rejection_table(emission: Mask, selectivity: Mask, offsets_hz: npt.ArrayLike) -> Rejection:
    """Rejection for offsets in whole Hz, each computed once per pair of masks and then kept.

    Channel rasters repeat the same few offsets over thousands of links; values are exact per
    offset and never interpolated. Safe to call from several threads.

    Parameters
    ----------
    emission, selectivity : Mask
        As for :func:`frequency_dependent_rejection`.
    offsets_hz : integer scalar or array
        Δf in whole Hz, frequency of the emission minus frequency of the receiver.

    Returns
    -------
    Rejection
        As for :func:`frequency_dependent_rejection`.

    Raises
    ------
    TypeError
        If the offsets are not integers.

    Source
    ------
    ITU-R SM.337-6, Annex 1, equations (2) to (4).

    Range
    -----
    Any offset that fits 64 bits.

    Examples
    --------
    >>> channel = Mask.rectangle(25)
    >>> rejection_table(channel, channel, [0, 12500, -12500]).fdr_db.round(4)
    array([0.    , 3.0103, 3.0103])
    >>> bool(rejection_table(channel, channel, 25000).overlaps)
    False
    """
    offset = np.asarray(offsets_hz)
    if offset.dtype.kind not in "iu":
        raise TypeError(f"offsets_hz has the type {offset.dtype}; give integers, in Hz.")
    kept = _kept(emission, selectivity)
    fdr_db, overlaps = kept.read(offset.astype(np.int64).ravel())
    fdr_db = fdr_db.reshape(offset.shape)
    otr_db = kept.otr_db
    return Rejection(
        same_shape(fdr_db), otr_db, same_shape(fdr_db - otr_db), overlaps.reshape(offset.shape)[()]
    )


class _KeptOffsets:
    """Results of one pair of masks by offset in Hz: sorted arrays, replaced as a whole when they grow."""

    def __init__(self, emission: Mask, selectivity: Mask) -> None:
        self._masks = (emission, selectivity)
        self._mirrored = emission.is_symmetric and selectivity.is_symmetric
        self._lock = Lock()
        fdr, overlaps = _fdr(emission, selectivity, np.zeros(1))
        self.otr_db = fdr[0]
        self._rows = (np.zeros(1, dtype=np.int64), fdr, overlaps)

    def read(self, offset_hz: npt.NDArray[np.int64]) -> tuple[Array, npt.NDArray[np.bool_]]:
        key = np.abs(offset_hz) if self._mirrored else offset_hz
        known, fdr, overlaps = self._rows
        at = np.minimum(np.searchsorted(known, key), known.size - 1)
        missing = np.unique(key[known[at] != key])
        if missing.size:
            new_fdr, new_overlaps = _fdr(*self._masks, missing / 1000.0)
            merged = np.concatenate((known, missing))
            order = np.argsort(merged)
            known = merged[order]
            fdr = np.concatenate((fdr, new_fdr))[order]
            overlaps = np.concatenate((overlaps, new_overlaps))[order]
            at = np.searchsorted(known, key)
            if known.size <= _OFFSETS_KEPT_PER_PAIR:
                with self._lock:
                    if known.size > self._rows[0].size:
                        self._rows = (known, fdr, overlaps)
        return fdr[at], overlaps[at]


@lru_cache(maxsize=1024)
def _kept(emission: Mask, selectivity: Mask) -> _KeptOffsets:
    return _KeptOffsets(emission, selectivity)


def _fdr(emission: Mask, selectivity: Mask, offset_khz: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
    """FDR in dB and whether the masks overlap, for a one-dimensional array of offsets."""
    sent = emission.pieces
    total = float(_power(np.diff(sent.edge_khz), sent.start_db, sent.end_db).sum())
    coupled = np.empty(offset_khz.size)
    overlaps = np.empty(offset_khz.size, dtype=bool)
    step = max(1, _ELEMENTS_PER_BATCH // (sent.edge_khz.size + selectivity.pieces.edge_khz.size))
    for first in range(0, offset_khz.size, step):
        batch = slice(first, first + step)
        coupled[batch], overlaps[batch] = _coupled_power(sent, selectivity.pieces, offset_khz[batch])
    with np.errstate(divide="ignore"):  # no shared frequency: replaced by the stated floor
        fdr = 10.0 * np.log10(total / coupled)
    fdr = np.where(overlaps, np.clip(fdr, 0.0, NO_OVERLAP_FDR_DB), NO_OVERLAP_FDR_DB)
    return np.where(np.isnan(offset_khz), np.nan, fdr), overlaps


def _coupled_power(sent: Pieces, received: Pieces, offset_khz: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
    """∫ P(f) · |H(f + Δf)|² df for each Δf, and whether the masks share any frequency."""
    rows = offset_khz[:, None]
    fixed = np.broadcast_to(sent.edge_khz, (offset_khz.size, sent.edge_khz.size))
    edges = np.concatenate((fixed, received.edge_khz - rows), axis=1)
    edges.sort(axis=1)
    low, high = edges[:, :-1], edges[:, 1:]
    middle = (low + high) / 2.0
    sent_piece = np.searchsorted(sent.edge_khz, middle, side="right") - 1
    received_piece = np.searchsorted(received.edge_khz, middle + rows, side="right") - 1
    shared = (
        (high - low > SMALLEST_WIDTH_KHZ)
        & (sent_piece >= 0)
        & (sent_piece < sent.start_db.size)
        & (received_piece >= 0)
        & (received_piece < received.start_db.size)
    )
    row = np.nonzero(shared)[0]
    low, high, shift = low[shared], high[shared], offset_khz[row]
    p, h = sent_piece[shared], received_piece[shared]
    start = level_on_piece_db(sent, p, low) + level_on_piece_db(received, h, low + shift)
    end = level_on_piece_db(sent, p, high) + level_on_piece_db(received, h, high + shift)
    power = np.bincount(row, weights=_power(high - low, start, end), minlength=offset_khz.size)
    return np.asarray(power, dtype=np.float64), np.asarray(shared.any(axis=1))


def _power(width_khz: Array, start_db: Array, end_db: Array) -> Array:
    """∫ 10^(L/10) over pieces on which L is linear from ``start_db`` to ``end_db``."""
    x = np.abs(end_db - start_db) * (np.log(10.0) / 10.0)
    near_level = x < 1e-5
    safe = np.where(near_level, 1.0, x)
    mean = np.where(near_level, 1.0 - x / 2.0 + x * x / 6.0, -np.expm1(-safe) / safe)
    return np.asarray(width_khz * 10.0 ** (np.maximum(start_db, end_db) / 10.0) * mean)
