"""The pieces of the report."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy as _

from sites.lazily import Words

MISSING, CONTRADICTING, UNUSED = _("missing"), _("contradicting"), _("licensed and built")


@dataclass(frozen=True)
class Gap:
    """One case: the object where it is mended, what is wrong with it, and the figures that go with it.

    ``step`` names the page of a step that ends the matter (a surrender) and its arguments.
    """

    obj: Any
    said: str
    apart_m: float | None = None
    fee: Decimal | None = None
    currency: str = ""
    step: tuple[str, tuple[Any, ...]] | None = None


@dataclass(frozen=True)
class Part:
    """One question to the register, and every case of it. ``code`` stands in addresses."""

    code: str
    group: Words
    title: str
    why: str
    gaps: list[Gap] = field(default_factory=list)

    @property
    def has_steps(self) -> bool:
        return any(gap.step for gap in self.gaps)


def yearly_cost(gaps: Iterable[Gap]) -> list[tuple[Decimal, str]]:
    """The yearly fees of some cases, summed by currency; fees in different currencies are not added."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for gap in gaps:
        if gap.fee is not None:
            sums[gap.currency] += gap.fee
    return sorted(((total, currency) for currency, total in sums.items()), key=lambda pair: pair[1])
