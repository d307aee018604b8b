"""What an import left behind – troubles, quality, why it failed – in the words of whoever reads it afterwards."""

from __future__ import annotations

import ast
import io
import re
from collections.abc import Iterator, Mapping
from gettext import NullTranslations
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation
from django.utils.translation import trans_real
from rest_framework.test import APIClient

from sites.models import Job, Person
from sites.reading import neutral
from sites.sentences import MANY, SAY, WITH, sentence_of
from sites.services.jobs.running import run_job
from sites.services.jobs.submitting import cancel, submit
from sites.wording import error_of, result_of
from spectrum.services.extracts import described, save_mapping
from tests.made import TESTS
from tests.marked import ROOT, marked_texts
from tests.small_register import person_of_role
from tests.spectrum.extracts.made import csv_bytes, description, row
from tests.translatable import PageTexts, Values, words_besides

pytestmark = pytest.mark.django_db

SITES = "code,name,latitude_deg,longitude_deg,position_typed,structure,own,nonsense\n"
#: One row for every way in which a table is refused: by a cell, a rule of a field, of a model and of a table.
TABLES = {
    "column": f"{SITES}S-1,A,47.5,14.5,x,lattice,yes,1\n",
    "cells": "code,name,latitude_deg,longitude_deg,structure,own\n"
    "S-1,A,north,14.5,lattice,maybe\nS-2,B,\"47,5\",14.5,tree,yes\n,C,47.5,14.5,lattice,yes\nS-4,D,=A1,1,lattice,yes\n",
    "fields": "code,name,latitude_deg,longitude_deg,position_typed,structure,own,band_half_exceptions\n"
    f"S-1,A,95,14.5,x,lattice,yes,\nS-2,{'B' * 200},47.5,14.5,x,lattice,yes,\nS-3,C,47.5,14.5,x,lattice,yes,410\n",
    "twice": "code,name,latitude_deg,longitude_deg,position_typed,structure,own\n"
    "S-1,A,47.5,14.5,x,lattice,yes\nS-1,A,47.5,14.5,x,lattice,yes\n",
}  # fmt: skip
#: Rows of an extract that are read, each with something that the quality report counts.
DOUBTFUL = csv_bytes(
    row(),
    row(),
    row(Number="F-101", MHz="6020.5", Km="90"),
    row(Number="F-102", MHz="6010.5", **{"From ground": "520", "Holder no": "8"}),
    row(Number="F-103", MHz="6300.5", State="gone", Ended="2026-01-15"),
    row(Number="F-104", MHz="6310.5", State="gone", Ended=""),
    row(Number="F-105", MHz="6320.5", State="gone", Ended="2017-01-15"),
    row(Number="F-106", MHz="6330.5", Expires="2020-05-01", Holder="Valley  Rail Ltd"),
    row(Number="F-107", MHz="6500", Holder="Own Grid Company", **{"Holder no": ""}),
    row(Number="F-108", MHz="6340.5", **{"From lat": "47.00010", "To lat": "49.2"}),
)
WRONG = csv_bytes(
    row(MHz="fast", Granted="soon"),
    row(Number="F-101", **{"From lat": "47 N 14 E", "To lon": ""}),
    row(Number="F-102", State="asleep", Ended="1066-01-01"),
    row(Number="F-103", MHz="9000", Km="-1"),
)


class Desk:
    """A registrar who sends files and reads what came of them; jobs are done as they are asked for."""

    def __init__(self, commits: Any) -> None:
        self.person, self.commits, self.client = person_of_role("registrar"), commits, Client()
        self.client.force_login(self.person)

    def send(self, name: str, content: bytes, file_name: str, **more: str) -> Job:
        file = io.BytesIO(content)
        file.name = file_name
        with self.commits(execute=True):
            answer = self.client.post(reverse(name), {"file": file, **more})
        assert answer.status_code == 302
        return Job.objects.get(pk=answer["Location"].strip("/").rpartition("/")[2])

    def table(self, content: str) -> Job:
        return self.send("import-tables", content.encode(), "sites.csv", table="")

    def extract(self, content: bytes) -> Job:
        return self.send("extract-import", content, "valley.csv", mapping="valley_fixed", as_of="2026-06-01")

    def read(self, name: str, job: Job, language: str) -> str:
        Person.objects.filter(pk=self.person.pk).update(language=language)
        return str(self.client.get(reverse(name, args=[job.pk])).content.decode())


@pytest.fixture
def desk(django_capture_on_commit_callbacks: Any) -> Desk:
    save_mapping(described(description()), by=TESTS)
    return Desk(django_capture_on_commit_callbacks)


@pytest.fixture
def jobs(desk: Desk) -> list[tuple[str, Job]]:
    """A job of every kind of refusal, each with the page that shows it."""
    found = [("table-import", desk.table(content)) for content in TABLES.values()]
    return [*found, *(("extract-trial", desk.extract(content)) for content in (DOUBTFUL, WRONG))]


def parts_of(kept: Mapping[str, Any]) -> Iterator[str]:
    """Every pattern of a kept sentence."""
    yield kept[SAY]
    if MANY in kept:
        yield kept[MANY]
    for value in kept.get(WITH, {}).values():
        if isinstance(value, Mapping) and SAY in value:
            yield from parts_of(value)


def kept_of(job: Job) -> list[Mapping[str, Any]]:
    return [*job.words.get("result", {}).values(), *job.words.get("error", {}).values()]


#: What of these files somebody wrote, and stands on the page outside of a sentence.
VALUES = Values(
    [
        "sites.csv",
        "valley.csv",
        "valley_fixed",
        *TABLES["fields"].partition("\n")[0].split(","),
        *("From lat", "To lon", "MHz", "Granted", "State", "Ended", "Km"),
        *("Valley Rail", "Valley Rail Ltd", "Own Grid Company"),
        *("soon", "fast", "asleep", "47 N 14 E"),
    ]
)


def english_on(page: str) -> list[str]:
    main = page[page.index("<main") : page.index("</main>")]
    return [text for _where, text in PageTexts(main).found if words_besides(VALUES.taken_out(text))]


def test_every_sentence_of_a_trial_is_read_in_the_language(
    desk: Desk, jobs: list[tuple[str, Job]], pseudo_language: str
) -> None:
    for name, job in jobs:
        assert english_on(desk.read(name, job, pseudo_language)) == [], (name, job.result)
    said = [
        trouble["message"]
        for name, job in jobs
        if name == "table-import"
        for trouble in job.result["troubles"]
    ]
    assert len(said) >= 10 and len(set(said)) >= 9, said
    quality = jobs[-2][1].result["report"]["quality"]
    assert len([kind for kind, found in quality.items() if found["cases"]]) >= 12
    assert len(jobs[-1][1].result["problems"]) >= 7


def test_what_is_kept_gives_the_stored_english_again(jobs: list[tuple[str, Job]]) -> None:
    for _name, job in jobs:
        assert job.words["result"]
        with neutral():
            assert result_of(job) == job.result
        assert all(isinstance(sentence_of(kept), str) for kept in kept_of(job))


def test_every_pattern_is_marked_where_extraction_finds_it(jobs: list[tuple[str, Job]]) -> None:
    marked = marked_texts("sites", "licences", "spectrum")
    ours = {part for _name, job in jobs for kept in kept_of(job) for part in parts_of(kept)}
    framework = {part for part in ours if "%(" in part or part.startswith("This field")}
    bare = {
        part
        for part in ours - marked - framework
        if re.sub(r"{[^}]*}|\b(?:kHz|MHz|km|m)\b|[\W\d]", "", part)  # only values, signs and units
    }
    assert bare == set()
    assert framework, "the rules of fields are Django's sentences"
    with translation.override("de"):  # Django's own catalogue has them
        assert [part for part in framework if translation.gettext(part) == part and "%(" not in part] == []


def test_programs_read_english_and_no_patterns(
    desk: Desk, jobs: list[tuple[str, Job]], pseudo_language: str
) -> None:
    Person.objects.filter(pk=desk.person.pk).update(language=pseudo_language)
    api = APIClient()
    api.force_authenticate(Person.objects.get(pk=desk.person.pk))
    for _name, job in jobs:
        answer = api.get(f"/api/v1/jobs/{job.pk}/")
        assert answer.status_code == 200, answer.content
        assert answer.json()["result"] == job.result
        assert "words" not in answer.json() and "⟦" not in answer.content.decode()


def test_what_was_left_behind_before_is_shown_as_it_is(
    desk: Desk, jobs: list[tuple[str, Job]], pseudo_language: str
) -> None:
    name, job = jobs[1]
    Job.objects.update(words={})
    page = desk.read(name, job, pseudo_language)
    assert "found “maybe”; expected yes or no." in page
    assert "⟦found" not in page


class _German(NullTranslations):
    TEXTS = {
        "found {cell}. {refused}": "{refused} Gefunden: {cell}.",
        "Ensure this value has at most %(limit_value)d characters (it has %(show_value)d).": (
            "Höchstens %(limit_value)d Zeichen, nicht %(show_value)d."
        ),
        "{one} and {other} lie {metres:.1f} m apart": "{metres:.1f} m liegen zwischen {one} und {other}",
    }

    def gettext(self, message: str) -> str:
        return self.TEXTS.get(message, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def language(self) -> str:
        return "de"

    to_language = language


def test_a_catalogue_may_turn_a_trouble_round_and_the_decimal_sign_is_the_readers(
    desk: Desk, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.LANGUAGES = [*settings.LANGUAGES, ("de", "Deutsch")]
    monkeypatch.setitem(vars(trans_real)["_translations"], "de", _German())
    table, extract = desk.table(TABLES["fields"]), desk.extract(DOUBTFUL)
    Person.objects.filter(pk=desk.person.pk).update(formats="de")
    assert "Höchstens 120 Zeichen, nicht 200. Gefunden: “BBBB" in desk.read("table-import", table, "de")
    near = re.compile(r"11,1 m liegen zwischen \S+ \S+ und \S+ \S+")
    assert near.search(desk.read("extract-trial", extract, "de"))


def test_why_a_job_failed_or_was_called_off_is_read_in_the_language(
    desk: Desk, pseudo_language: str, django_capture_on_commit_callbacks: Any
) -> None:
    gone = submit("import_tables", {"file": 0, "apply": False}, by=desk.person)
    run_job(gone.pk)
    stopped = cancel(submit("forget_ended_jobs", {}, by=desk.person), by=desk.person)
    for job, english in (
        (gone, "This file was imported already, or is no longer kept. Send it again."),
        (stopped, f"Cancelled by {desk.person}."),
    ):
        job.refresh_from_db()
        assert job.error == english
        assert error_of(job) == english
        assert f"⟦{english}⟧" in desk.read("job", job, pseudo_language)
        Person.objects.filter(pk=desk.person.pk).update(language=pseudo_language)
        assert f"⟦{english}⟧"[:100] in desk.client.get(reverse("job-list")).content.decode()


#: Where jobs work: what is refused or noted here is read later, by somebody else.
READ_LATER = (
    "spectrum/extracts",
    "spectrum/interchange",
    "spectrum/services/extracts.py",
    "spectrum/services/extract_uploads.py",
    "spectrum/services/interchange.py",
    "spectrum/services/network_run",
    "spectrum/tasks.py",
    "sites/positions",
    "sites/services/record.py",
)


@pytest.mark.parametrize("place", READ_LATER)
def test_nothing_is_worded_for_the_moment_where_jobs_work(place: str) -> None:
    """A text that is worded there would be kept as English; a sentence keeps its pattern."""
    path = ROOT / place
    worded = [
        f"{file.relative_to(ROOT)}:{node.lineno}"
        for file in (sorted(path.rglob("*.py")) if path.is_dir() else [path])
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in ("gettext", "ngettext")
    ]
    assert worded == []
