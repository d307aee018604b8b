"""No text that a person reads stands in a template without being marked for translation."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.template.base import Lexer, TokenType

from deploy.bootstrap.running import ROOT
from tests.translatable import READ_ATTRIBUTES, words_besides

TEMPLATES = ROOT / "templates"
ALL = sorted(p for ending in ("html", "txt") for p in TEMPLATES.rglob(f"*.{ending}"))
#: Filters and assignments whose text is shown: ``|default:"none"``, ``with title="Contacts"``.
SHOWN_LITERAL = re.compile(
    r"""(?:\|(?:default|default_if_none|yesno|pluralize|join):|\w*(?:title|label)=)"([^"]*)\""""
)
#: A name that leads to its formula: the English name finds it, and what is shown is the translated one beside it.
LINKED_LITERAL = re.compile(r'"([^"]*)"\|method_link(?!:_)')
#: What a filter adds that is no text: the endings of an English plural would be.
NO_TEXT = {"", "–", ", ", " "}


class _Texts(HTMLParser):
    """The texts and the read attributes of a template from which Django's own tags were taken."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent += tag in {"script", "style"}
        self.found += [value for name, value in attrs if value and name in READ_ATTRIBUTES]

    def handle_endtag(self, tag: str) -> None:
        self._silent -= tag in {"script", "style"}

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.found.append(data)


def unmarked(source: str) -> Iterator[str]:
    """The texts of a template that no translation reaches."""
    left, inside = [], False
    for token in Lexer(source).tokenize():
        if token.token_type == TokenType.TEXT:
            left.append("" if inside else token.contents)
        elif token.token_type in {TokenType.BLOCK, TokenType.VAR}:
            name = token.contents.partition(" ")[0]
            inside = name == "blocktranslate" or (inside and name != "endblocktranslate")
            yield from (text for text in SHOWN_LITERAL.findall(token.contents) if text not in NO_TEXT)
            yield from (text for text in LINKED_LITERAL.findall(token.contents) if words_besides(text))
    page = _Texts()
    page.feed("".join(left))
    page.close()
    yield from (" ".join(text.split()) for text in page.found if words_besides(text))


@pytest.mark.parametrize("template", ALL, ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_every_text_of_the_template_is_marked(template: Path) -> None:
    assert list(unmarked(template.read_text(encoding="utf-8"))) == []


def test_what_is_not_marked_is_found() -> None:
    assert list(unmarked("<p>Not marked: {{ value }} MHz</p>")) == ["Not marked: MHz"]
    assert list(unmarked('<p aria-label="A map">{{ x|default:"none" }}</p>')) == ["none", "A map"]
    assert list(unmarked('{% include "x.html" with title="Contacts" %}')) == ["Contacts"]
    assert list(unmarked('{{ "bit rate"|method_link }}{{ "I/N"|method_link }}')) == ["bit rate"]
    assert list(unmarked('{% include "x.html" with title=_("Contacts") %}<b>12 dBm</b>')) == []
    assert list(unmarked('<p title="{% translate "A map" %}">{% translate "text" %} – 415 MHz</p>')) == []
    assert list(
        unmarked("{% blocktranslate trimmed %}All of <b>it</b>{% endblocktranslate %}<i>rest</i>")
    ) == ["rest"]
