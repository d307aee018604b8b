"""Links from a quantity to its formula, and docstrings as page text."""

from __future__ import annotations

import re
from typing import Any

from django import template
from django.urls import reverse
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from spectrum.methods import Asked, Docstring, Item, Method, method_of, topics
from spectrum.methods.docstrings import paragraphs

register = template.Library()
# :func:`name`, :func:`~a.b.name`, ``code``
_MARKED = re.compile(r":\w+:`~?\.?(?P<name>[^`]+)`|``(?P<code>[^`]+)``")


@register.filter
def method_link(quantity: str, words: str = "") -> str:
    """A quantity's name, leading to its formula where it has one; ``words`` is the name in the reader's language."""
    return _linked(words or quantity, method_of(quantity))


@register.simple_tag
def source_link(row: dict[str, Any], kind: str = "") -> str:
    """The source of a row of evidence, leading to the formula behind the row where it has one."""
    asked = row.get("asked", row)  # by the words that are stored, not by those that are shown
    name, source, role = (str(asked.get(key, "")) for key in ("name", "source", "role"))
    return _linked(str(row.get("source", "")), method_of(Asked(name, source, role, kind)))


@register.filter
def said(text: str) -> SafeString:
    """A text of a docstring as paragraphs: names of other functions become links, code is set as code."""
    return format_html_join("", "<p>{}</p>", ((marked(one),) for one in paragraphs(text)))


@register.filter
def marked(text: str) -> SafeString:
    """One line of a docstring, its marks turned into links and code."""
    parts, at = list[str](), 0
    for found in _MARKED.finditer(text):
        parts.append(conditional_escape(text[at : found.start()]))
        name = found["name"]
        parts.append(_reference(name) if name else format_html("<code>{}</code>", found["code"]))
        at = found.end()
    parts.append(conditional_escape(text[at:]))
    return mark_safe("".join(parts))  # noqa: S308 – every part is escaped above


@register.filter
def plain(text: str) -> str:
    """One line of a docstring without its marks, for a title or inside a link."""
    return _MARKED.sub(lambda found: (found["name"] or found["code"]).rsplit(".", 1)[-1], text)


@register.filter
def entries(text: Docstring, heading: str) -> list[Item]:
    """The entries of a section: Parameters, Returns or Raises."""
    return text.items(heading)


@register.filter
def section(text: Docstring, heading: str) -> str:
    """The text of a section; empty where there is none."""
    return text.section(heading)


def _linked(words: str, found: Method | None) -> str:
    if found is None:
        return conditional_escape(words)
    address = reverse("method", args=[found.slug])
    return format_html('<a class="how" href="{}" title="{}">{}</a>', address, found.title, words)


def _reference(name: str) -> SafeString:
    short = name.rsplit(".", 1)[-1]
    for topic in topics():
        for one in topic.methods:
            if one.name == short:
                return format_html(
                    '<a href="{}"><code>{}</code></a>', reverse("method", args=[one.slug]), short
                )
    return format_html("<code>{}</code>", name)
