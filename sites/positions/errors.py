"""What a person reads when a position cannot be taken as typed."""

from __future__ import annotations

from sites.words import gettext, gettext_noop

#: The fields in the words of a sentence.
_FIELDS = {
    "position": gettext_noop("position"),
    "latitude": gettext_noop("latitude"),
    "longitude": gettext_noop("longitude"),
    "easting": gettext_noop("easting"),
    "northing": gettext_noop("northing"),
    "epsg": gettext_noop("epsg"),
}


class PositionError(ValueError):
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
        pattern = gettext("{field} “{typed}”: {problem} Expected {expected}, for example {example}.")
        super().__init__(
            pattern.format(
                field=gettext(_FIELDS[field]),
                typed=self.typed,
                problem=problem,
                expected=expected,
                example=example,
            )
        )
