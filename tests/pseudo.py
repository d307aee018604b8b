"""A language for tests: what goes through the catalogue comes back in brackets, so that what does not is seen.

A test asks for the fixture ``pseudo_language`` (tests/conftest.py). It gives the language's code, which can then be
activated, or stored as somebody's language.
"""

from __future__ import annotations

from gettext import NullTranslations

CODE = "xx"
_CONTEXT = "\x04"  # between the context and the message of pgettext


class PseudoTranslations(NullTranslations):
    """Every message in brackets; of a plural the form that English has for the number."""

    def gettext(self, message: str) -> str:
        text = message.rpartition(_CONTEXT)[2]
        return f"⟦{text}⟧" if text else text

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def language(self) -> str:
        return CODE

    to_language = language


def without_brackets(text: str) -> str:
    """The English of a text of this language."""
    return text.replace("⟦", "").replace("⟧", "")
