"""How an application stands, and which act leads where.

Pure: a state and an act in, a state out. The words are ours; that an application is drawn up, filed and then
decided once is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from sites.sentences import Sentence, sentence
from sites.words import gettext, gettext_noop


class State(StrEnum):
    """How an application stands."""

    DRAFTING = "drafting"
    FILED = "filed"
    GRANTED = "granted"
    REFUSED = "refused"
    WITHDRAWN = "withdrawn"

    @property
    def words(self) -> str:
        return gettext(_WORDS[self])

    @property
    def written(self) -> Sentence:
        """The words as they can be kept within a sentence."""
        return sentence(_WORDS[self])

    @property
    def is_decided(self) -> bool:
        """Nothing leads further from here."""
        return not possible_acts(self)


class Act(StrEnum):
    """What can be done with an application as a whole."""

    FILE = "file"
    GRANT = "grant"
    REFUSE = "refuse"
    WITHDRAW = "withdraw"


_WORDS: Final = {
    State.DRAFTING: gettext_noop("being drawn up"),
    State.FILED: gettext_noop("filed, not decided yet"),
    State.GRANTED: gettext_noop("granted"),
    State.REFUSED: gettext_noop("refused"),
    State.WITHDRAWN: gettext_noop("withdrawn"),
}
_PAST: Final = {
    Act.FILE: gettext_noop("filed"),
    Act.GRANT: gettext_noop("granted"),
    Act.REFUSE: gettext_noop("refused"),
    Act.WITHDRAW: gettext_noop("withdrawn"),
}
STEPS: Final[Mapping[tuple[State, Act], State]] = MappingProxyType(
    {
        (State.DRAFTING, Act.FILE): State.FILED,
        (State.FILED, Act.GRANT): State.GRANTED,
        (State.FILED, Act.REFUSE): State.REFUSED,
        (State.FILED, Act.WITHDRAW): State.WITHDRAWN,
    }
)


class StepError(ValueError):
    """An act that does not lead anywhere from a state; the message says what is possible instead."""


def possible_acts(state: State) -> tuple[Act, ...]:
    """What can be done with an application in this state; nothing once it is decided."""
    return tuple(act for (start, act) in STEPS if start is state)


def next_state(state: State, act: Act) -> State:
    """Where an act leads from a state.

    Raises
    ------
    StepError
        When it does not lead anywhere; the message names the state and what can be done.

    Examples
    --------
    >>> next_state(State.FILED, Act.GRANT).value
    'granted'
    >>> next_state(State.DRAFTING, Act.GRANT)
    Traceback (most recent call last):
    ...
    licences.applying.states.StepError: It is being drawn up and cannot be granted; it can be filed.
    """
    if (state, act) in STEPS:
        return STEPS[state, act]
    possible = [gettext(_PAST[each]) for each in possible_acts(state)]
    if not possible:
        refusal = gettext("It is {state} and cannot be {past}; nothing more can be done with it.")
    else:
        refusal = gettext("It is {state} and cannot be {past}; it can be {possible}.")
    either = f" {gettext('or')} ".join(possible)
    raise StepError(refusal.format(state=state.words, past=gettext(_PAST[act]), possible=either))
