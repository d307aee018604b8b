"""The sentences on carriers and noise that arrive at a receiver from transmitters near it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sites.words import gettext_noop as _


@dataclass(frozen=True)
class ArrivingWords:
    """The sentences on one kind of trouble: of one transmitter, of a sum of one or of many, and of what is missing."""

    pair: str
    alone: str
    together: str
    alone_as_entered: str
    together_as_entered: str
    at_input: str
    no_figure: str
    not_judged: str

    def of_sum(self, *, alone: bool, judged: bool) -> str:
        """The pattern for a sum: of how many transmitters, and whether all filters are known."""
        if judged:
            return self.alone if alone else self.together
        return self.alone_as_entered if alone else self.together_as_entered


OF_CARRIERS: Final = ArrivingWords(
    pair=_(
        "The carrier of {sender} ({sent:.5f} MHz) arrives at {victim} ({heard:.5f} MHz) {over} the blocking level"
    ),
    alone=_("The carrier of {number} near transmitter arrives at {victim} {over} the blocking level"),
    together=_(
        "The carriers of {number} near transmitters together arrive at {victim} {over} the blocking level"
    ),
    alone_as_entered=_(
        "The carrier of {number} near transmitter arrives at {victim}, as far as filters are entered, {over} "
        "the blocking level"
    ),
    together_as_entered=_(
        "The carriers of {number} near transmitters together arrive at {victim}, as far as filters are entered, "
        "{over} the blocking level"
    ),
    at_input=_("Carrier at the receiver's input"),
    no_figure=_("{transmitters} not judged: its radio type has no blocking level."),
    not_judged=_("The carrier of {transmitters} at {victim} could not be judged"),
)
OF_NOISE: Final = ArrivingWords(
    pair=_(
        "The transmitter noise of {sender} ({sent:.5f} MHz) arrives at {victim} ({heard:.5f} MHz) {over} "
        "the permitted I/N"
    ),
    alone=_(
        "The transmitter noise of {number} near transmitter arrives at {victim} {over} the permitted I/N"
    ),
    together=_(
        "The transmitter noise of {number} near transmitters together arrives at {victim} {over} the permitted I/N"
    ),
    alone_as_entered=_(
        "The transmitter noise of {number} near transmitter arrives at {victim}, as far as filters are entered, "
        "{over} the permitted I/N"
    ),
    together_as_entered=_(
        "The transmitter noise of {number} near transmitters together arrives at {victim}, as far as filters are "
        "entered, {over} the permitted I/N"
    ),
    at_input=_("Transmitter noise at the receiver's input"),
    no_figure=_("{transmitters} not judged: the radio type has no transmitter noise."),
    not_judged=_("The transmitter noise of {transmitters} at {victim} could not be judged"),
)
