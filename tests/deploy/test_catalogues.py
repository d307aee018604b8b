"""A language is added as DEVELOPERS.md says: its texts are collected, one is translated, and a page shows it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import translation
from django.utils.translation import trans_real

from deploy.bootstrap.running import ROOT
from sites.models import Person
from sites.saying import said
from sites.sentences import sentence, sentence_of
from sites.words import ngettext_lazy
from tests.small_register import person_of_role

#: Esperanto: Django has its plural rule, and nothing else here is likely to be written in it.
CODE = "eo"
COPIED = ("deploy", "sites", "licences", "spectrum", "templates", "manage.py")


@pytest.fixture(scope="module")
def catalogue(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The catalogue of the language, collected from a copy of the code as the commands there say."""
    if shutil.which("msgfmt") is None:
        pytest.skip("needs GNU gettext: run `make test`, or install the package gettext")
    copy = tmp_path_factory.mktemp("code")
    for name in COPIED:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, copy)
    (copy / "locale").mkdir()
    _manage(
        copy, "makemessages", "--locale", CODE, "--ignore", ".venv", "--ignore", "var", "--ignore", "tests"
    )
    return copy / "locale" / CODE / "LC_MESSAGES" / "django.po"


def _manage(where: Path, *arguments: str) -> None:
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=where,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "deploy.settings.test", "PYTHONPATH": str(where)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_texts_are_collected_from_pages_mails_scripts_and_calculations(catalogue: Path) -> None:
    collected = catalogue.read_text(encoding="utf-8")
    for text in (
        "What needs attention?",  # a page
        "What needs attention",  # its title
        "(limit less the sum)",  # a fragment
        "How often and when",  # a mail
        "From {code}: choose the site of the other end, or leave with Escape.",  # what a script says
        "Antenna type %(antenna)s",  # a name within a text
        "This needs a role that you do not have.",  # an argument of a filter
    ):
        assert f'msgid "{text}"' in collected, text
    assert 'msgid_plural "%(count)s open findings on these links."' in collected
    assert 'msgid_plural "{count} further interferers"' in collected  # a finding
    assert 'msgid_plural "at most {count} characters"' in collected  # what an import found
    assert (
        'msgid "This file was imported already, or is no longer kept. Send it again."' in collected
    )  # a job


@pytest.fixture
def translated(catalogue: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The language with one text and one plural translated, compiled and offered to people."""
    collected = lines = catalogue.read_text(encoding="utf-8")
    for text, other in (
        (
            'msgid "What needs attention?"\nmsgstr ""',
            'msgid "What needs attention?"\nmsgstr "Kio bezonas atenton?"',
        ),
        (
            'msgid_plural "%(count)s notes"\nmsgstr[0] ""\nmsgstr[1] ""',
            'msgid_plural "%(count)s notes"\nmsgstr[0] "%(count)s noto"\nmsgstr[1] "%(count)s notoj"',
        ),
        (
            'msgid_plural "{count} further interferers"\nmsgstr[0] ""\nmsgstr[1] ""',
            'msgid_plural "{count} further interferers"\nmsgstr[0] "ankoraŭ unu"\nmsgstr[1] "ankoraŭ {count}"',
        ),
    ):
        assert lines.count(text) == 1, text
        lines = lines.replace(text, other)
    catalogue.write_text(lines, encoding="utf-8")
    _manage(catalogue.parents[3], "compilemessages", "--locale", CODE)
    settings.LOCALE_PATHS = [str(catalogue.parents[2])]
    settings.LANGUAGES = [*settings.LANGUAGES, (CODE, "Esperanto")]
    monkeypatch.delitem(vars(trans_real)["_translations"], CODE, raising=False)
    yield CODE
    vars(trans_real)["_translations"].pop(CODE, None)
    catalogue.write_text(collected, encoding="utf-8")


@pytest.mark.django_db
def test_a_page_is_shown_in_the_language_and_what_is_not_translated_stays_english(translated: str) -> None:
    person = person_of_role("planner")
    Person.objects.filter(pk=person.pk).update(language=translated)
    client = Client()
    client.force_login(person)

    page = client.get("/").content.decode()
    assert '<html lang="eo">' in page
    assert "<h1>Kio bezonas atenton?</h1>" in page
    assert "0 notoj" in page
    assert "Worst first" in page

    Person.objects.filter(pk=person.pk).update(language="en")
    page = client.get("/").content.decode()
    assert '<html lang="en">' in page
    assert "<h1>What needs attention?</h1>" in page


def test_a_kept_sentence_is_said_with_the_form_that_the_catalogue_has_for_its_count(translated: str) -> None:
    kept = [
        sentence(
            ngettext_lazy("{count} further interferer", "{count} further interferers"), count=n
        ).as_json()
        for n in (1, 7)
    ]
    assert [str(sentence_of(one)) for one in kept] == ["1 further interferer", "7 further interferers"]
    with translation.override(translated):
        assert [said(sentence_of(one)) for one in kept] == ["ankoraŭ unu", "ankoraŭ 7"]
