"""Emission masks and receiver selectivity: levels in dB over frequency offset.

:class:`Mask` is the one form in which a spectrum reaches the arithmetic;
:mod:`.cfr90_210` and :mod:`.cfr101_111` state published limits, and :mod:`.limit`
turns a limit into a mask.
"""

from spectrum.radio.masks.mask import MASK_FLOOR_DB, Mask, MaskError

__all__ = ["MASK_FLOOR_DB", "Mask", "MaskError"]
