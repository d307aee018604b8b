"""Where products fall on a receiver's channel: distance from its centre to the right, one line a product."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from .steps import ticks

LEFT, RIGHT = 84.0, 548.0
FIRST, LANE = 30.0, 24.0


@dataclass(frozen=True)
class Falls:
    """One product: its name on the picture, its centre's distance from the receiver's and its greatest width, kHz."""

    name: str
    offset_khz: float
    width_khz: float


@dataclass(frozen=True)
class Bar:
    name: str
    y: float
    x: float
    width: float
    centre: float


@dataclass(frozen=True)
class ProductPicture:
    bars: list[Bar]
    axis: float
    channel: tuple[float, float]
    ticks: list[tuple[float, str]]
    height: float

    @property
    def below(self) -> float:
        return self.axis + 1.0

    @property
    def shade(self) -> float:
        return self.axis - 18.0

    @property
    def tick_y(self) -> float:
        return self.axis + 34.0

    @property
    def unit_y(self) -> float:
        return self.axis + 54.0


def product_picture(products: Sequence[Falls], channel_khz: float) -> ProductPicture:
    """Draw products above the line and the receiver's channel below it.

    >>> drawn = product_picture([Falls("1", 0.0, 50.0)], 25.0)
    >>> drawn.bars[0].centre == drawn.channel[0] + drawn.channel[1] / 2
    True
    """
    reach = max([channel_khz / 2, *(abs(p.offset_khz) + p.width_khz / 2 for p in products)]) * 1.06

    def x(khz: float) -> float:
        return LEFT + (khz + reach) / (2 * reach) * (RIGHT - LEFT)

    axis: Final = FIRST + LANE * len(products) + 6.0
    bars = [
        Bar(
            p.name,
            FIRST + LANE * n,
            round(x(p.offset_khz - p.width_khz / 2), 1),
            round(x(p.offset_khz + p.width_khz / 2) - x(p.offset_khz - p.width_khz / 2), 1),
            round(x(p.offset_khz), 1),
        )
        for n, p in enumerate(products)
    ]
    left = round(x(-channel_khz / 2), 1)
    return ProductPicture(
        bars=bars,
        axis=axis,
        channel=(left, round(x(channel_khz / 2) - left, 1)),
        ticks=[(round(x(t), 1), f"{t:+g}".replace("-", "−") if t else "0") for t in ticks(-reach, reach, 6)],
        height=axis + 62.0,
    )
