"""A numpydoc docstring taken apart: its first line, the text under it, and its sections."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass

_HEADING = re.compile(r"^(?P<heading>[A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)
_MATHS = re.compile(r" = |\blog(10)?[ (]|10\^|\b\d+(\.\d+)?[A-Z]\b|[·×√∫Σ] ?[\wα-ω(]")
# Sections in which the formula stands where neither the head nor the results hold it.
_ELSE = ("Source", "Notes")


@dataclass(frozen=True)
class Item:
    """One argument or one result: its name, what it is (shape, unit), and more about it."""

    name: str
    kind: str
    text: str


@dataclass(frozen=True)
class Docstring:
    """What a docstring says. ``sections`` maps each heading to its text, in order."""

    title: str
    extended: str
    sections: dict[str, str]

    def section(self, heading: str) -> str:
        """The text of a section; empty where there is none."""
        return self.sections.get(heading, "")

    def items(self, heading: str) -> list[Item]:
        """The entries of Parameters, Returns or Raises."""
        return list(_items(self.section(heading)))

    def formulas(self) -> list[str]:
        """The formulas: the end of the first line, paragraphs under it, results; else what the source quotes."""
        tail = self.title.rsplit(", ", 1)[-1]
        found = [tail] if _MATHS.search(tail) else []
        texts = [*paragraphs(self.extended), *(item.text or item.name for item in self.items("Returns"))]
        found += [text for text in texts if _MATHS.search(text)]
        if not found:
            said = [one for heading in _ELSE for one in paragraphs(self.section(heading))]
            found = [text for text in said if _MATHS.search(text)]
        return list(dict.fromkeys(found))

    def prose(self) -> list[str]:
        """The paragraphs under the first line that hold no formula."""
        return [one for one in paragraphs(self.extended) if not _MATHS.search(one)]


def read(documented: object) -> Docstring:
    """Take the docstring of a function or a class apart.

    >>> def power_w(level):
    ...     '''Power, 10^(L / 10).
    ...
    ...     Source
    ...     ------
    ...     Definition.
    ...     '''
    >>> read(power_w).title, read(power_w).section("Source")
    ('Power, 10^(L / 10)', 'Definition.')
    """
    text = inspect.getdoc(documented) or ""
    head, *rest = _HEADING.split(text)
    title, _, extended = head.strip().partition("\n\n")
    sections = dict(zip(rest[::2], (part.strip("\n").rstrip() for part in rest[1::2]), strict=True))
    return Docstring(one_line(title).removesuffix("."), extended.strip(), sections)


def paragraphs(text: str) -> list[str]:
    """The paragraphs of a text, each on one line."""
    return [one_line(part) for part in re.split(r"\n\s*\n", text) if part.strip()]


def one_line(text: str) -> str:
    """A text with its line breaks and indents turned into single spaces."""
    return " ".join(text.split())


def _items(section: str) -> Iterator[Item]:
    if not re.search(r"^\s| : ", section, re.MULTILINE):  # a sentence, not a list
        if section:
            yield Item(one_line(section), "", "")
        return
    head, body = "", list[str]()
    for line in [*section.splitlines(), ""]:
        indented = line.startswith((" ", "\t"))
        if indented or (not line and not head):
            body.append(line)
            continue
        if head:
            name, _, kind = head.partition(" :")
            yield Item(one_line(name).removesuffix(":"), one_line(kind), one_line("\n".join(body)))
        head, body = line, []
