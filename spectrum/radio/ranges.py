"""Argument checks shared by the radio formulas: one exception, one sentence.

A formula that is asked outside its published range must say so. NaN passes
through: "not known" is a value that the caller carries to the finding.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sites.sentences import sentence
from sites.words import gettext_noop as _

Array = npt.NDArray[np.float64]
ArrayLike = npt.ArrayLike


class RadioRangeError(ValueError):
    """An argument lies outside the range in which a formula holds.

    Attributes
    ----------
    argument : the argument's name, unit included (``"frequency_mhz"``)
    value : the first offending value
    low, high : the permitted range, both ends included
    limits : that range and its source as half a sentence, for those who do not know the argument's name
    """

    def __init__(self, argument: str, value: float, low: float, high: float, source: str = "") -> None:
        self.argument, self.value, self.low, self.high = argument, value, low, high
        where = f" ({source})" if source else ""
        self.limits = sentence(
            _("it must lie between {low:g} and {high:g}{where}."), low=low, high=high, where=where
        )
        super().__init__(f"{argument} is {value:g}; {self.limits}")


def in_range(
    argument: str,
    value: ArrayLike,
    low: float = -np.inf,
    high: float = np.inf,
    *,
    above: bool = False,
    source: str = "",
) -> Array:
    """Return ``value`` as float64, or raise :class:`RadioRangeError`.

    Parameters
    ----------
    argument : name to show, unit included
    value : scalar or array; NaN is let through
    low, high : permitted range, ends included
    above : exclude ``low`` itself (for quantities that must be positive)
    source : document and clause that sets the range

    Returns
    -------
    scalar or array
        The value.

    Raises
    ------
    RadioRangeError
        If any element lies outside.

    Source
    ------
    A rule of this register; each formula names the document that sets its range.

    Range
    -----
    Any numbers.

    Examples
    --------
    >>> float(in_range("frequency_mhz", 410.0, 100.0, 50000.0))
    410.0
    >>> in_range("frequency_mhz", 50.0, 100.0, 50000.0, source="ITU-R P.452-18")
    Traceback (most recent call last):
    ...
    spectrum.radio.ranges.RadioRangeError: frequency_mhz is 50; it must lie between 100 and 50000 (ITU-R P.452-18).
    """
    array = np.asarray(value, dtype=np.float64)
    bad = (array < low) | (array > high)
    if above:
        bad |= array == low
    if bad.any():
        raise RadioRangeError(argument, float(array[bad].flat[0] if array.ndim else array), low, high, source)
    return array


def same_shape(result: Array) -> Array:
    """Give a 0-d result back as a NumPy scalar, an array as it is.

    Parameters
    ----------
    result : array of any shape

    Returns
    -------
    scalar or array

    Source
    ------
    A rule of this register: scalar in, scalar out.

    Range
    -----
    Any array.

    Examples
    --------
    >>> float(same_shape(np.asarray(3.5)))
    3.5
    >>> same_shape(np.asarray([3.5, 4.5]))
    array([3.5, 4.5])
    """
    return result[()]
