"""Sentences that keep their pattern and values, and how their reader has them."""

from __future__ import annotations

import datetime as dt
import json
import logging
import pickle
from collections.abc import Iterator
from gettext import NullTranslations

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.utils import translation
from django.utils.translation import gettext_lazy, trans_real
from django.utils.translation import ngettext_lazy as ngettext_lazy_of_django

from sites import saying
from sites.reading import as_read_by
from sites.saying import said, said_again, said_within, sentences_of, when_read
from sites.sentences import Sentence, joined, sentence, sentence_of, sentences_in
from sites.words import ngettext_lazy
from tests.pseudo import CODE

OVER = sentence("{excess:.1f} dB over", excess=49.25)
ARRIVES = sentence(
    "{sender} ({sent:.5f} MHz) arrives, {over}; look again on {day}",
    sender="O-021/A",
    sent=415.00625,
    over=OVER,
    day=dt.date(2026, 12, 31),
)
ENGLISH = "O-021/A (415.00625 MHz) arrives, 49.2 dB over; look again on 2026-12-31"


class Catalogue(NullTranslations):
    """A few translations in memory."""

    def __init__(self, texts: dict[str, str]) -> None:
        super().__init__()
        self.texts = texts

    def gettext(self, message: str) -> str:
        return self.texts.get(message, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def language(self) -> str:
        return "yy"

    to_language = language


@pytest.fixture
def translating(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, str]]:
    """A language that is active, and whose texts a test puts in."""
    texts: dict[str, str] = {}
    monkeypatch.setitem(trans_real.__dict__["_translations"], "yy", Catalogue(texts))
    saying._warn.cache_clear()
    with translation.override("yy"):
        yield texts


class _German:
    is_authenticated = True
    language, formats, power_unit, time_zone = "en", "de", "dBm", "Europe/Vienna"


def test_a_sentence_is_its_english_text() -> None:
    assert ARRIVES == ENGLISH
    assert hash(ARRIVES) == hash(ENGLISH)
    assert json.dumps([ARRIVES]) == json.dumps([ENGLISH])


@pytest.mark.parametrize("way", [lambda s: pickle.loads(pickle.dumps(s)), lambda s: sentence_of(s.as_json())])
def test_a_sentence_comes_back_from_bytes_and_from_json_with_its_values(way: object) -> None:
    assert callable(way)
    again = way(ARRIVES)
    assert again == ENGLISH
    assert isinstance(again, Sentence)
    assert isinstance(again.values["over"], Sentence)
    assert (again.values["sent"], again.values["day"]) == (415.00625, dt.date(2026, 12, 31))


def test_what_is_kept_is_plain_json_whatever_the_values_are() -> None:
    made = sentence(
        "{a:.3f} {b:g} {c} {d:.1f} {e:.1f}", a=np.float64(0.1), b=np.float32(0.5), c=np.int64(7),
        d=float("inf"), e=float("nan"),
    )  # fmt: skip
    kept = json.loads(json.dumps(made.as_json(), allow_nan=False))
    assert sentence_of(kept) == made == "0.100 0.5 7 inf nan"


def test_sentences_are_joined_and_stay_sentences() -> None:
    both = joined("; ", [OVER, sentence("less power"), "T-1"])
    assert both == "49.2 dB over; less power; T-1"
    assert sentence_of(both.as_json()) == both


def test_whoever_reads_english_in_the_usual_way_reads_the_stored_text() -> None:
    assert said(ARRIVES) == ENGLISH


def test_numbers_and_days_are_written_as_the_reader_writes_them_also_where_nothing_is_translated() -> None:
    with as_read_by(_German()):
        assert said(ARRIVES) == "O-021/A (415,00625 MHz) arrives, 49,2 dB over; look again on 31.12.2026"


def test_a_translation_may_put_the_values_in_another_order(translating: dict[str, str]) -> None:
    translating["{excess:.1f} dB over"] = "um {excess:.1f} dB über der Grenze"
    translating[ARRIVES.pattern] = "{over} kommt {sender} an ({sent:.5f} MHz); am {day} nachsehen"
    assert said(ARRIVES) == (
        "um 49.2 dB über der Grenze kommt O-021/A an (415.00625 MHz); am 2026-12-31 nachsehen"
    )
    assert said_again(ENGLISH, ARRIVES.as_json()) == said(ARRIVES)


def test_what_no_catalogue_has_is_english(translating: dict[str, str]) -> None:
    assert said(ARRIVES) == ENGLISH
    assert said("Path length") == "Path length"
    translating["Path length"] = "Weglänge"
    assert said("Path length") == "Weglänge"


@pytest.mark.parametrize(
    "broken",
    [
        "{over} kommt {sender} an am {day}",  # a value is left out
        "{over} {sender} {sent} {day} {what}",  # one that nobody gives
        "{over} {sender} {sent} {day",  # a brace is open
        "{over} {sender} {sent:s} {day}",  # a number written as a text
        "{over} {sender.__class__} {sent} {day}",  # a value's inside
        "{} {} {} {}",
    ],
)
def test_a_translation_that_cannot_be_filled_in_gives_english_and_a_line_in_the_log(
    broken: str, translating: dict[str, str], caplog: pytest.LogCaptureFixture
) -> None:
    translating[ARRIVES.pattern] = broken
    with caplog.at_level(logging.WARNING, logger="sites.saying"):
        assert said(ARRIVES) == ENGLISH
        assert said(ARRIVES) == ENGLISH
    (line,) = caplog.messages  # once, not with every page
    assert repr(broken) in line
    assert "'yy'" in line or " yy " in line


def test_an_empty_text_is_not_the_head_of_the_catalogue(translating: dict[str, str]) -> None:
    translating[""] = "Project-Id-Version: …"
    assert said("") == ""


def test_a_sentence_inside_another_is_translated_too(pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        assert said(ARRIVES) == "⟦O-021/A (415.00625 MHz) arrives, ⟦49.2 dB over⟧; look again on 2026-12-31⟧"
    assert pseudo_language == CODE


def one_or_more(count: int) -> Sentence:
    return sentence(ngettext_lazy("{link} and one more", "{link} and {count} more"), link="L-1", count=count)


def test_a_number_decides_the_words_and_the_translation_has_forms_of_its_own(
    translating: dict[str, str],
) -> None:
    assert [one_or_more(1), one_or_more(2)] == ["L-1 and one more", "L-1 and 2 more"]
    for made in (one_or_more(1), one_or_more(2)):
        assert sentence_of(json.loads(json.dumps(made.as_json()))) == made
        assert pickle.loads(pickle.dumps(made)).many == made.many
        assert said(made) == made  # no catalogue has it
    translating["{link} and one more"] = "{link} und eine weitere"
    translating["{link} and {count} more"] = "{link} und {count} weitere"
    assert [said(one_or_more(1)), said(one_or_more(2))] == ["L-1 und eine weitere", "L-1 und 2 weitere"]
    translating["{link} and {count} more"] = "{count} weitere"  # the link is left out
    assert said(one_or_more(2)) == "L-1 and 2 more"


def test_sentences_within_a_structure_are_kept_by_where_they_stand(pseudo_language: str) -> None:
    found = {
        "a/b": [OVER, "as typed", {"c~d": sentence("less power")}],
        sentence("outside"): 3,
        "none": None,
    }
    kept = json.loads(json.dumps(sentences_in(found)))
    assert list(kept) == ["/a~1b/0", "/a~1b/2/c~0d", "/outside#"]
    stored = json.loads(json.dumps(found))
    with translation.override(pseudo_language):
        assert said_within(stored, kept) == {
            "a/b": ["⟦49.2 dB over⟧", "as typed", {"c~d": "⟦less power⟧"}],
            "⟦outside⟧": 3,
            "none": None,
        }
        assert said_within(stored, {}) == stored


def test_the_sentence_behind_an_error_of_a_model_is_found(pseudo_language: str) -> None:
    own = ValidationError({"a": [when_read(OVER)], "b": [gettext_lazy("Give a name.")]})
    long = ValidationError(ngettext_lazy_of_django("%(n)d sign", "%(n)d signs", "n"), params={"n": 3})
    assert [*sentences_of(own), *sentences_of(long)] == ["49.2 dB over", "Give a name.", "3 signs"]
    with translation.override(pseudo_language):
        assert [said(text) for text in sentences_of(own)] == ["⟦49.2 dB over⟧", "⟦Give a name.⟧"]
        assert [said(text) for text in sentences_of(long)] == ["⟦3 signs⟧"]
        assert own.message_dict["a"] == ["⟦49.2 dB over⟧"]
