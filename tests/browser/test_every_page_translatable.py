"""Every page of the demo in a language of brackets: what stands outside them would stay English in any other language."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any
from zoneinfo import available_timezones

import pytest
from django.conf import settings as register_settings
from django.test import Client
from django.urls import reverse

from sites.models import Person
from spectrum.interchange.tables import TABLES
from spectrum.methods import topics
from spectrum.templatetags.methods import plain
from tests.translatable import PageTexts, Values, words_besides

from .every_page import FILES, FORMS, DemoObjects, addresses, further_addresses
from .register_values import register_values, stored_structures

pytestmark = pytest.mark.django_db(transaction=True)

#: A word of a value that was shortened, and the entry at which a structure was: the order of entries is the database's.
SHORTENED = re.compile(r"(?<=[;:])[^;:]*…|\S*…")
#: Pages that show structures of data as they were stored: what was filed, and the change record.
WITH_STRUCTURES = ("application-list", "change-list")


def names_that_stay() -> set[str]:
    """Texts that are the same in every language: names of their own, and those of files."""
    formulas = {
        plain(method.title) for topic in topics() for method in topic.methods
    }  # documentation, in English
    languages = {name for _, name in register_settings.LANGUAGES}  # each in itself
    tables = {table.name.replace("_", " ") for table in TABLES}  # as they are called in the files
    authorities = {"FCC, Federal Communications Commission"}  # of an extract that the register can read
    return formulas | languages | tables | authorities | available_timezones()


def english_on(page: str, values: Values, names: set[str]) -> list[str]:
    """What of a page did not come out of the catalogue, and is no entry of a person, name or unit."""
    return [
        f"{where}: {text}"
        for where, text in PageTexts(page).found
        if text not in names and words_besides(SHORTENED.sub("", values.taken_out(text)))
    ]


def test_what_did_not_go_through_the_catalogue_is_found() -> None:
    values = Values(["U41-011", "Mill Lane 3"])
    page = """<p title="Bare">⟦All of <b>this ⟦and⟧ that⟧</b> U41-011: 12.5 kHz</p><td>⟦cut off</td><td>Not this</td>
        <p lang="en">A docstring</p><td translate="no">latitude_deg</td><p>Mill Lane 3, Hethby</p>"""
    assert english_on(page, values, set()) == ["p[title]: Bare", "td: Not this", "p: Mill Lane 3, Hethby"]
    assert english_on("<p>Hethby</p>", values, {"Hethby"}) == []
    assert english_on("<td>U41-011; rx freq…; Mill Lane 3</td><td>Not this…</td>", values, set()) == [
        "td: Not this…"
    ]


@pytest.mark.parametrize("name", ["anselm", "petra"])
def test_every_text_of_every_page_goes_through_the_catalogue(
    name: str, demo: dt.date, pseudo_language: str
) -> None:
    person = Person.objects.get(username=name)
    objects = DemoObjects(Person.objects.get(username="anselm"), demo)
    Person.objects.update(language=pseudo_language)
    client = Client()
    client.force_login(person)
    values, names = Values(register_values()), names_that_stay()
    stored = Values([*register_values(), *stored_structures()])
    with_structures = tuple(reverse(name) for name in WITH_STRUCTURES)
    pages: list[tuple[Any, str]] = [
        (client.get, address) for name, address in addresses(objects) if name not in FILES
    ]
    pages += [(client.get, address) for address in further_addresses()]
    pages += [(client.post, address) for name, address in addresses(objects) if name in FORMS]
    left: dict[str, list[str]] = {}
    seen = 0

    for ask, address in pages:
        answer = ask(address)
        if answer.headers["Content-Type"].startswith("text/html"):
            seen += 1
            known = stored if address.startswith(with_structures) else values
            for text in english_on(answer.content.decode(), known, names):
                left.setdefault(text, []).append(address)

    assert not left, f"{len(left)} texts:\n" + "\n".join(
        f"{text[:200]}  ({len(on)} pages, first {on[0]})" for text, on in left.items()
    )
    assert seen > 100
    Person.objects.update(language="en")
    kept = [address for ask, address in pages if "⟦" in ask(address).content.decode(errors="replace")]
    assert kept == [], "kept for somebody who reads another language"
