"""What is wrong with a file, said so that the person who has the file can mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sites.errors import RegisterError
from sites.words import gettext

SHOWN = 20
SHOWN_CHARACTERS = 60


@dataclass(frozen=True)
class Problem:
    """One thing that stops the import. ``row`` counts as a spreadsheet does: the header is row 1; 0 is the file."""

    row: int
    column: str
    found: str
    expected: str
    mend: str

    def __str__(self) -> str:
        where = ""
        if self.row and self.column:
            where = gettext("Row {row}, column {column}: ")
        elif self.row:
            where = gettext("Row {row}: ")
        elif self.column:
            where = gettext("Column {column}: ")
        start = where.format(row=self.row, column=self.column)
        return (
            gettext("{start}found {found}; expected {expected}. {mend}")
            .format(start=start, found=self.found, expected=self.expected, mend=self.mend)
            .rstrip()
        )


class ExtractError(RegisterError):
    """The file was not imported, and nothing of it was written; ``problems`` says why, one by one."""

    title = "The extract cannot be imported"

    def __init__(self, problems: Sequence[Problem], *, more: int = 0) -> None:
        self.problems = list(problems)
        self.count = len(self.problems) + more
        shown = [str(problem) for problem in self.problems[:SHOWN]]
        rest = self.count - len(shown)
        if rest:
            shown.append(gettext("And {rest} more; the report file lists them.").format(rest=rest))
        super().__init__("\n".join([*shown, gettext("Nothing was written.")]), field="file")


def file_error(found: str, expected: str, mend: str) -> ExtractError:
    """A problem of the file as a whole."""
    return ExtractError([Problem(0, "", found, expected, mend)])


def quoted(value: object) -> str:
    """A cell's text as an error shows it: quoted, cut where it is long, empty said in words."""
    text = str(value)
    if not text.strip():
        return gettext("an empty cell")
    return f"“{text[:SHOWN_CHARACTERS]}…”" if len(text) > SHOWN_CHARACTERS else f"“{text}”"
