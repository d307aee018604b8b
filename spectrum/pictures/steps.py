"""Round steps for scales and ticks."""

from __future__ import annotations

import math


def round_step(raw: float, *, down: bool = False) -> float:
    """The next of 1, 2 and 5 times a power of ten: not below the value, or with ``down`` not above it.

    >>> round_step(13.0), round_step(13.0, down=True), round_step(0.3), round_step(50.0)
    (20.0, 10.0, 0.5, 50.0)
    """
    power = 10.0 ** math.floor(math.log10(raw) + 1e-12)
    steps = [m * power for m in (1.0, 2.0, 5.0, 10.0)]
    if down:
        return max(step for step in steps if step <= raw * (1 + 1e-9))
    return min(step for step in steps if step >= raw * (1 - 1e-9))


def ticks(low: float, high: float, wanted: int) -> list[float]:
    """Round values from low to high, about as many as wanted.

    >>> ticks(-31.25, 62.5, 5)
    [-20.0, 0.0, 20.0, 40.0, 60.0]
    """
    step = round_step((high - low) / wanted)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(n * step, 9) for n in range(first, last + 1)]
