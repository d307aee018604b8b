"""What is wrong with a file, said so that the person who has the file can mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sites.errors import RegisterError
from sites.saying import said
from sites.sentences import Sentence, joined, sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

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

    @property
    def sentence(self) -> Sentence:
        """All of it in one sentence."""
        trouble = sentence(_("found {found}; expected {expected}."), found=self.found, expected=self.expected)
        if self.mend:
            trouble = joined(" ", [trouble, self.mend])
        if self.row and self.column:
            return sentence(
                _("Row {row}, column {column}: {trouble}"), row=self.row, column=self.column, trouble=trouble
            )
        if self.row:
            return sentence(_("Row {row}: {trouble}"), row=self.row, trouble=trouble)
        return (
            sentence(_("Column {column}: {trouble}"), column=self.column, trouble=trouble)
            if self.column
            else trouble
        )

    def __str__(self) -> str:
        """The sentence as whoever reads now has it."""
        return said(self.sentence)


class ExtractError(RegisterError):
    """The file was not imported, and nothing of it was written; ``problems`` says why, one by one."""

    title = "The extract cannot be imported"

    def __init__(self, problems: Sequence[Problem], *, more: int = 0) -> None:
        self.problems = list(problems)
        self.count = len(self.problems) + more
        shown: list[str] = [problem.sentence for problem in self.problems[:SHOWN]]
        rest = self.count - len(shown)
        if rest:
            shown.append(
                sentence(
                    ngettext_lazy(
                        "And {count} more; the report file lists it.",
                        "And {count} more; the report file lists them.",
                    ),
                    count=rest,
                )
            )
        super().__init__(joined("\n", [*shown, sentence(_("Nothing was written."))]), field="file")


def file_error(found: str, expected: str, mend: str) -> ExtractError:
    """A problem of the file as a whole."""
    return ExtractError([Problem(0, "", found, expected, mend)])


def quoted(value: object) -> str:
    """A cell's text as an error shows it: quoted, cut where it is long, empty said in words."""
    text = str(value)
    if not text.strip():
        return sentence(_("an empty cell"))
    return f"“{text[:SHOWN_CHARACTERS]}…”" if len(text) > SHOWN_CHARACTERS else f"“{text}”"
