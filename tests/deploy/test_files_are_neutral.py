"""No file is ambiguous: what is no page means the same, and is the same, for whoever asks.

One person reads as usual; the other reads another language, German dates and decimals, watts, in Vienna.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import zipfile
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
import time_machine
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils.translation import trans_real
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from licences.services.reminders.calendar import renew_address
from licences.services.reminders.signed import calendar_address
from sites.models import Person
from sites.views.exporting import MAPS, TABLES
from tests import pseudo
from tests.deploy.page_routes import PAGE_ROWS, A
from tests.deploy.test_pages_lists import LISTS
from tests.small_register import SmallRegister, person_of_role, small_register

pytestmark = pytest.mark.django_db  # so that the database is made when these tests run alone
FILES = {
    "application-pdf", "application-csv", "application-xlsx", "link-commissioning-pdf", "site-pack-pdf", "register-file",
}  # fmt: skip

#: The sentence of the map's data, which goes into the page beside the picture.
OF_A_PAGE = {"map-data": "said"}


@pytest.fixture(scope="module", autouse=True)
def late() -> Iterator[None]:
    """An hour at which it is tomorrow in Vienna already."""
    with time_machine.travel(dt.datetime.combine(dt.datetime.now(dt.UTC).date(), dt.time(23, 30), dt.UTC)):
        yield


@pytest.fixture(scope="module")
def both(
    late: None, django_db_setup: None, django_db_blocker: Any
) -> Iterator[tuple[SmallRegister, Client, Client]]:
    """The small register, and two administrators who read differently, both signed in."""
    with django_db_blocker.unblock(), pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "LANGUAGES", [*settings.LANGUAGES, (pseudo.CODE, "Pseudo")])
        kept: dict[str, Any] = vars(trans_real)["_translations"]
        patch.setitem(kept, pseudo.CODE, pseudo.PseudoTranslations())
        block = transaction.atomic()
        block.__enter__()
        try:
            register = small_register()
            usual = person_of_role("administrator", username="usual")
            other = person_of_role("administrator", username="other")
            Person.objects.filter(pk=other.pk).update(
                language=pseudo.CODE, formats="de", power_unit="W", time_zone="Europe/Vienna"
            )
            clients = Client(raise_request_exception=True), Client(raise_request_exception=True)
            for client, person in zip(clients, (usual, other), strict=True):
                client.force_login(person)
            assert "⟦" in clients[1].get(reverse("site-list")).content.decode()
            yield register, *clients
        finally:
            transaction.set_rollback(True)
            block.__exit__(None, None, None)


def body(answer: Any) -> bytes:
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def held(answer: Any) -> Any:
    """What a file holds without the second in which it was made, which workbooks, sheets and features carry."""
    kind, content = answer["Content-Type"], body(answer)
    if kind == "application/pdf":
        return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]
    if "spreadsheetml" in kind:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}
    if kind == "application/zip":
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return {name: archive.read(name) for name in archive.namelist()}
    return re.sub(rb'"timeStamp": *"[^"]*"', b"", content)


def same(both: tuple[SmallRegister, Client, Client], address: str, of_a_page: str = "", **asked: str) -> Any:
    answers = [client.get(address, asked) for client in both[1:]]
    assert [answer.status_code for answer in answers] == [200, 200], address
    assert answers[0]["Content-Type"] == answers[1]["Content-Type"]
    assert answers[0].get("Content-Disposition") == answers[1].get("Content-Disposition")
    usual, other = (held(answer) for answer in answers)
    if of_a_page:
        usual, other = json.loads(usual), json.loads(other)
        assert "⟦" in other.pop(of_a_page)
        assert usual.pop(of_a_page)
    assert usual == other, address
    return usual


@pytest.mark.parametrize("as_of", ["", "2026-12-24"])
@pytest.mark.parametrize("name", LISTS)
def test_a_list_as_a_file_is_the_same_for_everybody(
    name: str, as_of: str, both: tuple[SmallRegister, Client, Client]
) -> None:
    view = both[1].get(reverse(name)).context["view"]
    for form in (*TABLES, *(MAPS if view.located else ())):
        asked = {"format": form} | ({"as_of": as_of} if as_of and view.dated else {})
        assert same(both, reverse(name), **asked)


def test_every_other_file_is_the_same_for_everybody(both: tuple[SmallRegister, Client, Client]) -> None:
    """Whatever in the table of addresses answers with something else than a page."""
    register, usual, _other = both
    compared = set()
    for name, may, arguments, _body in PAGE_ROWS:
        allowed = [status for method, (who, status) in may.items() if method == "GET" and A in who]
        if allowed != [200]:
            continue
        address = reverse(name, args=arguments(register))
        answer = usual.get(address)
        body(answer)  # an answer that is not read to its end keeps its file open
        if not answer["Content-Type"].startswith("text/html"):
            same(both, address, OF_A_PAGE.get(name, ""))
            compared.add(name)
    assert compared >= FILES, f"not compared: {FILES - compared}"


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_report_of_what_is_missing_is_the_same_for_everybody(
    form: str, both: tuple[SmallRegister, Client, Client]
) -> None:
    assert same(both, reverse("completeness"), format=form)


def test_a_calendar_is_the_same_whoever_fetches_it(both: tuple[SmallRegister, Client, Client]) -> None:
    address = calendar_address(renew_address(Person.objects.get(username="other")))
    assert b"BEGIN:VCALENDAR" in same(both, urlsplit(address).path)


def test_programs_are_answered_the_same_whoever_is_signed_in(
    both: tuple[SmallRegister, Client, Client],
) -> None:
    root = both[1].get("/api/v1/").json()
    lists = [urlsplit(address).path for address in root.values() if isinstance(address, str)]
    assert len(lists) > 15
    for address in lists:
        same(both, address)
    for address in ("/ogc/", "/ogc/collections/sites/items", "/ogc/collections/links/items"):
        same(both, address, f="json")
