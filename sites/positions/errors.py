"""What a person reads when a position cannot be taken as typed."""

from __future__ import annotations

from sites.refusals import RefusalError
from sites.sentences import sentence
from sites.words import gettext_noop as _

#: The fields in the words of a sentence.
_FIELDS = {
    "position": _("position"),
    "latitude": _("latitude"),
    "longitude": _("longitude"),
    "easting": _("easting"),
    "northing": _("northing"),
    "epsg": _("epsg"),
}


class PositionError(RefusalError):
    """A position that cannot be read, or cannot be meant.

    Attributes
    ----------
    field : ``position``, ``latitude``, ``longitude``, ``easting``, ``northing`` or ``epsg``
    typed : the text as it was typed
    problem : one sentence: what is wrong with it
    expected : what would have been right
    example : one text that would be accepted
    """

    def __init__(self, problem: str, *, field: str, typed: object, expected: str, example: str) -> None:
        self.field = field
        self.typed = str(typed)
        self.problem = problem
        self.expected = expected
        self.example = example
        super().__init__(
            sentence(
                _("{field} “{typed}”: {problem} Expected {expected}, for example {example}."),
                field=sentence(_FIELDS[field]),
                typed=self.typed,
                problem=problem,
                expected=expected,
                example=example,
            )
        )
