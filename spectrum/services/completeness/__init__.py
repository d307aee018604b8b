"""What the register of our own stations lacks, contradicts itself in, pays for and does not use.

Read as it stands on a day; nothing is stored. ``parts`` has the pieces, ``missing``, ``contradictions`` and
``licensed_and_built`` find them, each in a fixed number of queries.
"""

from __future__ import annotations

import datetime as dt

from .contradictions import contradictions
from .licensed_and_built import licensed_and_built
from .missing import missing
from .parts import Gap, Part, yearly_cost

__all__ = ["Gap", "Part", "report", "yearly_cost"]


def report(day: dt.date) -> list[Part]:
    """Every part of the report, those without a case too: that nothing was found is an answer."""
    return [*missing(day), *contradictions(), *licensed_and_built(day)]
