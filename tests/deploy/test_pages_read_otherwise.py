"""Every page for somebody who reads another language, a decimal comma, watts and another time zone.

What people read follows them; what a machine reads – coordinates of drawings, addresses, values of inputs, attributes
for scripts – is the same for everybody. The language is German: Django brings its catalogue, so that figures which
nobody wrote through a filter would get a comma.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import reverse

from sites.models import Person
from tests.deploy.page_routes import PAGE_ROWS, A
from tests.small_register import SmallRegister, person_of_role, small_register

pytestmark = pytest.mark.django_db  # so that the database is made when these tests run alone
HOW = {"language": "de", "formats": "de", "power_unit": "W", "time_zone": "Europe/Vienna"}
DRAWN = {
    "d", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "dx", "dy", "r", "rx", "ry", "points", "viewbox", "transform",
    "width", "height", "stroke-width", "stroke-dasharray",
}  # fmt: skip
ADDRESSES = {"href", "src", "action", "for", "id", "name", "formaction", "list"}
INPUTS = {"min", "max", "step", "maxlength", "size", "colspan", "rows", "datetime"}
SENT = {"hidden", "date", "number", "checkbox", "radio", "submit"}
#: Says how the person reads, so that it has to differ.
PERSONAL = {"csrfmiddlewaretoken", "seen"}
VOID = {"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "wbr"}


class Read(HTMLParser):
    """A page as two lists: what a machine reads, and the text of cells with figures and days."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.machine: list[tuple[str, str, str]] = []
        self.cells: list[str] = []
        self._open: list[tuple[str, str]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag not in VOID:
            self._open.append((tag, given.get("class", "")))
        for name, value in given.items():
            sent = name == "value" and (tag == "option" or given.get("type", "") in SENT)
            for_scripts = name.startswith(("data-", "hx-")) and name != "data-label"
            read = name in DRAWN | ADDRESSES | INPUTS or for_scripts or sent
            if read and given.get("name") not in PERSONAL:
                self.machine.append((tag, name, value))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        tags = [tag for tag, _class in self._open]
        if "script" in tags:
            self.machine.append(("script", "", data))
        classes = " ".join(
            kind for tag, kind in self._open if tag in ("td", "span", "dd", "a", "strong")
        ).split()
        if data.strip() and {"figure", "date"} & set(classes) and "code" not in classes:
            self.cells.append(data.strip())


def test_a_page_is_read_as_the_parser_of_these_tests_says() -> None:
    read = Read(
        '<svg viewBox="0 0 1.5 2"/><td class="figure">1.5</td><td class="code">2.5</td><input name="n" value="3">'
    )
    assert read.machine == [("svg", "viewbox", "0 0 1.5 2"), ("input", "name", "n")]
    assert read.cells == ["1.5"]


@pytest.fixture(scope="module", autouse=True)
def noon() -> Iterator[None]:
    """An hour at which it is one day for both: what the reader's own day changes is another test's matter."""
    with time_machine.travel(dt.datetime.combine(dt.datetime.now(dt.UTC).date(), dt.time(12), dt.UTC)):
        yield


@pytest.fixture(scope="module")
def world(
    noon: None, django_db_setup: None, django_db_blocker: Any
) -> Iterator[tuple[SmallRegister, Client, Person]]:
    with django_db_blocker.unblock(), pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "LANGUAGES", [*settings.LANGUAGES, ("de", "Deutsch")])
        block = transaction.atomic()
        block.__enter__()
        try:
            register = small_register()
            client = Client(raise_request_exception=True)
            person = person_of_role("administrator")
            client.force_login(person)
            yield register, client, person
        finally:
            transaction.set_rollback(True)
            block.__exit__(None, None, None)


PAGES = [
    (name, arguments)
    for name, may, arguments, _body in PAGE_ROWS
    if any(method == "GET" and A in who and status == 200 for method, (who, status) in may.items())
]


@pytest.mark.parametrize(("name", "arguments"), PAGES, ids=[name for name, _arguments in PAGES])
def test_machines_read_the_same_and_cells_have_the_reader_s_figures(
    name: str, arguments: Any, world: tuple[SmallRegister, Client, Person]
) -> None:
    register, client, person = world
    address = reverse(name, args=arguments(register))

    def read(**how: str) -> Read | None:
        Person.objects.filter(pk=person.pk).update(**how)
        answer: Any = client.get(address)
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        assert answer.status_code == 200
        return Read(content.decode()) if answer["Content-Type"].startswith("text/html") else None

    usual = read(language="en", formats="iso", power_unit="dBm", time_zone="UTC")
    if usual is None:
        return  # no page: tests/deploy/test_files_are_neutral.py
    german = read(**HOW)
    assert german is not None
    assert german.machine == usual.machine
    left = [cell for cell in german.cells if _is_not_german(cell)]
    assert not left, f"not as somebody reads who has the comma: {left[:10]}"


def _is_not_german(cell: str) -> bool:
    without_days = re.sub(r"\b\d{1,2}\.\d{1,2}\.\d{4}\b", "", cell)
    return bool(re.search(r"(?<![\w.])\d+\.\d+(?![\w.])|\d{4}-\d\d-\d\d", without_days))


def test_the_page_of_a_link_as_it_is_read_in_vienna(world: tuple[SmallRegister, Client, Person]) -> None:
    register, client, person = world
    Person.objects.filter(pk=person.pk).update(**HOW)
    page = client.get(reverse("link", args=[register.link.pk])).content.decode()
    station = register.link.stations.order_by("pk")[0]
    assert f"{(station.tx_frequency_hz or 0) / 1e6:.5f}".replace(".", ",") in page
    assert f"{station.tx_power_dbm:.1f} dBm)".replace(".", ",") in page
    assert " W (" in page
    assert 'lang="de"' in page
