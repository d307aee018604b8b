"""Emission masks and receiver selectivity: levels in dB over frequency offset.

:class:`Mask` is the one form in which a spectrum reaches the arithmetic;
``limits_90`` and ``limits_101`` state published limits, ``from_limit`` turns a
limit into a :class:`Mask`.
"""

from spectrum.radio.masks.mask import MASK_FLOOR_DB, Mask, MaskError

__all__ = ["MASK_FLOOR_DB", "Mask", "MaskError"]
