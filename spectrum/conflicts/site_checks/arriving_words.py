"""The sentences on carriers and noise that arrive at a receiver from transmitters near it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sites.words import Plural, ngettext_lazy
from sites.words import gettext_noop as _


@dataclass(frozen=True)
class ArrivingWords:
    """The sentences on one kind of trouble: of one transmitter, of a sum, of one as far as filters are entered, of gaps."""

    pair: str
    of_sum: Plural
    of_sum_as_entered: Plural
    at_input: str
    no_figure: str
    not_judged: str


OF_CARRIERS: Final = ArrivingWords(
    pair=_(
        "The carrier of {sender} ({sent:.5f} MHz) arrives at {victim} ({heard:.5f} MHz) {over} the blocking level"
    ),
    of_sum=ngettext_lazy(
        "The carrier of {count} near transmitter arrives at {victim} {over} the blocking level",
        "The carriers of {count} near transmitters together arrive at {victim} {over} the blocking level",
    ),
    of_sum_as_entered=ngettext_lazy(
        "The carrier of {count} near transmitter arrives at {victim}, as far as filters are entered, {over} "
        "the blocking level",
        "The carriers of {count} near transmitters together arrive at {victim}, as far as filters are entered, "
        "{over} the blocking level",
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
    of_sum=ngettext_lazy(
        "The transmitter noise of {count} near transmitter arrives at {victim} {over} the permitted I/N",
        "The transmitter noise of {count} near transmitters together arrives at {victim} {over} the permitted I/N",
    ),
    of_sum_as_entered=ngettext_lazy(
        "The transmitter noise of {count} near transmitter arrives at {victim}, as far as filters are entered, "
        "{over} the permitted I/N",
        "The transmitter noise of {count} near transmitters together arrives at {victim}, as far as filters are "
        "entered, {over} the permitted I/N",
    ),
    at_input=_("Transmitter noise at the receiver's input"),
    no_figure=_("{transmitters} not judged: the radio type has no transmitter noise."),
    not_judged=_("The transmitter noise of {transmitters} at {victim} could not be judged"),
)
