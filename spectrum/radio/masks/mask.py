"""A mask: piecewise linear in dB over the offset from the centre frequency."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from sites.refusals import RefusalError
from sites.sentences import sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy
from spectrum.radio.ranges import Array, ArrayLike, same_shape

MASK_FLOOR_DB = -200.0
"""Lowest level a mask may state; what lies outside a mask's last point is reported at this level.

Our own convention, no published source: 200 dB is more than any transmitter
power over any receiver noise at the shortest coupling that occurs at a site.
"""

SMALLEST_WIDTH_KHZ = 1e-9
"""Widths below 1 µHz are rounding, not spectrum."""


class MaskError(RefusalError):
    """A table of points that does not describe a mask; the sentence says how to mend it."""


class Pieces(NamedTuple):
    """A mask cut into pieces of positive width, over negative and positive offsets.

    ``edge_khz`` has one value more than the other two; piece ``i`` runs from
    ``edge_khz[i]`` at ``start_db[i]`` to ``edge_khz[i + 1]`` at ``end_db[i]``.
    """

    edge_khz: Array
    start_db: Array
    end_db: Array


@dataclass(frozen=True)
class Mask:
    """Relative power spectral density or relative response, in dB over offset in kHz.

    For an emission the level is the power spectral density (per Hz, not per
    reference bandwidth) relative to that in the channel; for a receiver it is
    the response relative to that in the pass band. Between two points the
    level is linear in dB. Two points at one offset make a vertical step.

    If no offset is negative the mask is symmetric: the first offset must be 0
    and the table holds for both sides. If any offset is negative the table is
    taken as it stands and the mask may be one-sided or asymmetric.

    Outside its last point a mask holds no power and lets none through; it is
    shown there as :data:`MASK_FLOOR_DB`. Use :meth:`extended_to` to continue
    the last level to a stated cut-off.

    A mask is immutable and hashable, so that results can be kept per pair of
    masks.

    Parameters
    ----------
    offset_khz : tuple of float
        Offsets from the centre frequency in kHz, ascending; at most two points share one offset.
    level_db : tuple of float
        Levels in dB, from :data:`MASK_FLOOR_DB` to 0.

    Raises
    ------
    MaskError
        Fewer than two points, unequal lengths, a value that is not finite, offsets that do not
        ascend, more than two points at one offset, a level above 0 dB or below the floor, a
        symmetric table that does not start at 0, or no width.

    Source
    ------
    Form of the tables: ITU-R SM.337-6 Annex 1 (P(f) and H(f) as functions of the offset).

    Range
    -----
    Levels from -200 dB to 0 dB; offsets of any size.

    Examples
    --------
    >>> Mask(offset_khz=(0, 6.25, 12.5), level_db=(0, 0, -60)).span_khz
    (-12.5, 12.5)
    >>> Mask(offset_khz=(0, 6.25), level_db=(0, 3))
    Traceback (most recent call last):
    ...
    spectrum.radio.masks.mask.MaskError: Point 2 of the mask has the level 3 dB; levels are relative to \
the channel and lie between −200 and 0 dB.
    """

    offset_khz: tuple[float, ...]
    level_db: tuple[float, ...]

    def __post_init__(self) -> None:
        offsets = tuple(float(value) for value in self.offset_khz)
        levels = tuple(float(value) for value in self.level_db)
        _check(offsets, levels)
        object.__setattr__(self, "offset_khz", offsets)
        object.__setattr__(self, "level_db", levels)

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.offset_khz, self.level_db))

    @classmethod
    def from_points(cls, points: Iterable[tuple[float, float]]) -> Mask:
        """Make a mask from pairs (offset in kHz, level in dB).

        Parameters
        ----------
        points : iterable of pairs
            Offset in kHz and level in dB, ascending in offset.

        Returns
        -------
        Mask

        Raises
        ------
        MaskError
            As for :class:`Mask`.

        Source
        ------
        As for :class:`Mask`.

        Range
        -----
        As for :class:`Mask`.

        Examples
        --------
        >>> Mask.from_points([(0, 0), (5.625, 0), (5.625, -40), (12.5, -40)]).level_db
        (0.0, 0.0, -40.0, -40.0)
        >>> Mask.from_points([(-3, -20), (0, 0), (8, 0)]).is_symmetric
        False
        """
        pairs = list(points)
        return cls(tuple(offset for offset, _ in pairs), tuple(level for _, level in pairs))

    @classmethod
    def rectangle(cls, width_khz: float) -> Mask:
        """Make a flat mask of the given width with vertical sides.

        Parameters
        ----------
        width_khz : float
            Full width in kHz, above 0.

        Returns
        -------
        Mask

        Raises
        ------
        MaskError
            If the width is not a positive number.

        Source
        ------
        The uniform spectrum of the closed-form cases of ITU-R SM.337-6 Annex 1.

        Range
        -----
        Any positive width.

        Examples
        --------
        >>> Mask.rectangle(12.5).span_khz
        (-6.25, 6.25)
        >>> Mask.rectangle(25).offset_khz
        (0.0, 12.5)
        """
        return cls((0.0, width_khz / 2), (0.0, 0.0))

    def extended_to(self, cut_off_khz: float) -> Mask:
        """Continue the outermost levels to a stated cut-off.

        Parameters
        ----------
        cut_off_khz : float
            Offset in kHz at which the mask ends, on both sides; beyond every offset of the mask.

        Returns
        -------
        Mask

        Raises
        ------
        MaskError
            If the cut-off does not lie beyond the mask.

        Source
        ------
        Our own convention, no published source.

        Range
        -----
        Any cut-off beyond the last point.

        Examples
        --------
        >>> Mask((0, 10), (0, -60)).extended_to(100).offset_khz
        (0.0, 10.0, 100.0)
        >>> Mask((-10, 0, 20), (-60, 0, -70)).extended_to(50).level_db
        (-60.0, -60.0, 0.0, -70.0, -70.0)
        """
        low, high = self.span_khz
        if not cut_off_khz > max(-low, high):
            raise MaskError(
                sentence(
                    _("The cut-off is {khz:g} kHz; it must lie beyond the mask, which ends at {end:g} kHz."),
                    khz=cut_off_khz,
                    end=max(-low, high),
                )
            )
        points = [*zip(self.offset_khz, self.level_db, strict=True), (cut_off_khz, self.level_db[-1])]
        if not self._is_half_table:
            points.insert(0, (-cut_off_khz, self.level_db[0]))
        return Mask.from_points(points)

    def level_at_db(self, offset_khz: ArrayLike) -> Array:
        """Read the mask at one or more offsets.

        Parameters
        ----------
        offset_khz : scalar or array
            Offsets from the centre frequency in kHz, of either sign.

        Returns
        -------
        scalar or array
            Level in dB; at a vertical step the higher of the two; outside the mask
            :data:`MASK_FLOOR_DB`; NaN where the offset is NaN.

        Source
        ------
        As for :class:`Mask`.

        Range
        -----
        Any offset.

        Examples
        --------
        >>> mask = Mask((0, 6, 12), (0, 0, -60))
        >>> float(mask.level_at_db(-9))
        -30.0
        >>> mask.level_at_db([0, 12, 13])
        array([   0.,  -60., -200.])
        """
        offset = np.asarray(offset_khz, dtype=np.float64)
        edge, start, _ = self.pieces
        right = np.clip(np.searchsorted(edge, offset, side="right") - 1, 0, start.size - 1)
        left = np.clip(np.searchsorted(edge, offset, side="left") - 1, 0, start.size - 1)
        level = np.maximum(*(level_on_piece_db(self.pieces, piece, offset) for piece in (left, right)))
        level = np.where((offset < edge[0]) | (offset > edge[-1]), MASK_FLOOR_DB, level)
        return same_shape(np.where(np.isnan(offset), np.nan, level))

    @property
    def span_khz(self) -> tuple[float, float]:
        """Lowest and highest offset of the mask in kHz, mirrored if it is symmetric."""
        last = self.offset_khz[-1]
        return (-last, last) if self._is_half_table else (self.offset_khz[0], last)

    @cached_property
    def is_symmetric(self) -> bool:
        """True if both sides are alike, whether given as one half or written out."""
        edge, start, end = self.pieces
        return bool(np.array_equal(edge, -edge[::-1]) and np.array_equal(start, end[::-1]))

    @cached_property
    def is_monotone(self) -> bool:
        """True if the level never rises while moving away from the centre, on either side.

        Two masks that are both symmetric and monotone have a frequency-dependent
        rejection that never falls while the offset grows (a convolution of two
        symmetric unimodal functions is unimodal).
        """
        edge, start, end = self.pieces
        right = edge[:-1] >= 0
        left = edge[1:] <= 0
        if not np.all(right | left):  # one piece lies across the centre
            across = ~(right | left)
            if not np.array_equal(start[across], end[across]):
                return False
        outward = np.concatenate((start[right, None], end[right, None]), axis=1).ravel()
        inward = np.concatenate((start[left, None], end[left, None]), axis=1).ravel()
        middle = start[~(right | left)]
        outward = np.concatenate((middle, outward))
        inward = np.concatenate((inward, middle))
        return bool(np.all(np.diff(outward) <= 0) and np.all(np.diff(inward) >= 0))

    @property
    def _is_half_table(self) -> bool:
        return self.offset_khz[0] >= 0

    @cached_property
    def pieces(self) -> Pieces:
        """The mask as pieces of positive width over both sides."""
        offset = np.array(self.offset_khz)
        level = np.array(self.level_db)
        if self._is_half_table:
            offset = np.concatenate((-offset[::-1], offset))
            level = np.concatenate((level[::-1], level))
        wide = np.diff(offset) > SMALLEST_WIDTH_KHZ
        edge = np.append(offset[:-1][wide], offset[-1])
        return Pieces(edge, level[:-1][wide], level[1:][wide])


def level_on_piece_db(pieces: Pieces, piece: npt.NDArray[np.intp], offset_khz: Array) -> Array:
    """Level at an offset on the straight line of one piece of a mask, held at the piece's ends.

    Parameters
    ----------
    pieces : Pieces
        The mask.
    piece : array of int
        Index of the piece for each offset.
    offset_khz : array
        Offset from the centre in kHz.

    Returns
    -------
    array
        Level in dB.

    Source
    ------
    Linear interpolation in dB; the form in which ITU-R SM.337 and the rules draw masks.

    Range
    -----
    Any offset; outside the piece its end holds.

    Examples
    --------
    >>> pieces = Mask((0.0, 10.0), (0.0, -40.0)).pieces
    >>> level_on_piece_db(pieces, np.array([1, 1]), np.array([2.5, 20.0]))
    array([-10., -40.])
    >>> level_on_piece_db(pieces, np.array([0]), np.array([-7.5]))
    array([-30.])
    """
    edge, start, end = pieces
    fraction = (offset_khz - edge[piece]) / (edge[piece + 1] - edge[piece])
    return np.asarray(start[piece] + (end[piece] - start[piece]) * np.clip(fraction, 0.0, 1.0))


def _check(offsets: tuple[float, ...], levels: tuple[float, ...]) -> None:
    """Raise :class:`MaskError` unless the points describe a mask."""
    if len(offsets) != len(levels):
        raise MaskError(
            sentence(
                _("The mask has {offsets} offsets and {levels} levels; give one level for each offset."),
                offsets=len(offsets),
                levels=len(levels),
            )
        )
    if len(offsets) < 2:
        raise MaskError(
            sentence(
                ngettext_lazy(
                    "The mask has {count} point; give at least two.",
                    "The mask has {count} points; give at least two.",
                ),
                count=len(offsets),
            )
        )
    for number, (offset, level) in enumerate(zip(offsets, levels, strict=True), start=1):
        if not np.isfinite(offset):
            raise MaskError(
                sentence(
                    _("Point {number} of the mask has the offset {offset}; give a finite one, in kHz."),
                    number=number,
                    offset=str(offset),
                )
            )
        if not MASK_FLOOR_DB <= level <= 0:
            raise MaskError(
                sentence(
                    _(
                        "Point {number} of the mask has the level {level:g} dB; levels are relative to the "
                        "channel and lie between {floor:g} and 0 dB."
                    ),
                    number=number,
                    level=level,
                    floor=MASK_FLOOR_DB,
                )
            )
    for number, (before, after) in enumerate(pairwise(offsets), start=2):
        if after < before:
            raise MaskError(
                sentence(
                    _(
                        "Point {number} of the mask is at {after:g} kHz, after a point at {before:g} kHz; "
                        "give the points in ascending order of offset."
                    ),
                    number=number,
                    after=after,
                    before=before,
                )
            )
    for number, (before, after) in enumerate(zip(offsets, offsets[2:], strict=False), start=3):
        if after == before:
            raise MaskError(
                sentence(
                    _(
                        "Point {number} is the third point of the mask at {khz:g} kHz; a vertical step takes two points."
                    ),
                    number=number,
                    khz=after,
                )
            )
    if offsets[0] > 0:
        raise MaskError(
            sentence(
                _(
                    "The mask starts at {khz:g} kHz; a symmetric mask starts at 0, "
                    "a one-sided mask has a negative first offset."
                ),
                khz=offsets[0],
            )
        )
    if not offsets[-1] - offsets[0] > SMALLEST_WIDTH_KHZ:
        raise MaskError(sentence(_("The mask has no width; give two points at different offsets.")))
