"""Words that findings share, and the patterns and values of a finding's sentences kept beside its English texts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from sites.sentences import Sentence, sentence, with_words, words_of
from sites.words import gettext_noop as _

from .drafts import Draft
from .evidence import Row
from .network import StationRecord

ORDINALS: Final = {2: _("2nd"), 3: _("3rd"), 4: _("4th"), 5: _("5th"), 7: _("7th")}


def over(margin_db: float) -> Sentence:
    """A margin in words."""
    if margin_db < 0:
        return sentence(_("{excess:.1f} dB over"), excess=-margin_db)
    return sentence(_("only {margin:.1f} dB below"), margin=margin_db)


def share_of_sum(percent: float) -> Sentence:
    """Which part of a sum in watts one level is."""
    # xgettext:no-python-format
    return sentence(_("{share:.1f} % of the sum"), share=percent)


def ordinal(number: int) -> Sentence:
    """The number of an order or of a harmonic, as one says it."""
    return sentence(ORDINALS[number])


def bandwidth_term(width_khz: float) -> Sentence:
    """What stands behind a bandwidth in dB over 1 Hz."""
    return sentence("10 log {width:g} kHz", width=width_khz)


def assumed_of(station: StationRecord) -> Sentence:
    """What the register says is assumed about a station's link, in the words of whoever entered it."""
    return sentence("{link}: {assumed}", link=station.link.code, assumed=station.link.assumptions)


def kept_words(draft: Draft) -> dict[str, Any]:
    """Patterns and values of all sentences of a draft, as plain values; what is a constant needs none.

    Sentences on what was not judged and rows of evidence stand under their number.
    """
    words: dict[str, Any] = {}
    for name in ("headline", "cure"):
        if (kept := words_of(getattr(draft, name))) is not None:
            words[name] = kept
    if unjudged := _numbered(words_of(text) for text in draft.not_judged):
        words["not_judged"] = unjudged
    if rows := _numbered(_of_row(row) for row in draft.evidence):
        words["evidence"] = rows
    return words


def worded(draft: Draft, words: Mapping[str, Any]) -> Draft:
    """A draft made of texts alone, with the patterns and values that were kept of them."""
    if not words:
        return draft
    unjudged, rows = words.get("not_judged", {}), words.get("evidence", {})
    return replace(
        draft,
        headline=with_words(draft.headline, words.get("headline")),
        cure=with_words(draft.cure, words.get("cure")),
        not_judged=[with_words(text, unjudged.get(str(n))) for n, text in enumerate(draft.not_judged)],
        evidence=[_row(row, rows.get(str(n))) for n, row in enumerate(draft.evidence)],
    )


def _numbered(kept: Iterable[dict[str, Any] | None]) -> dict[str, dict[str, Any]]:
    return {str(number): words for number, words in enumerate(kept) if words}


def _of_row(row: Row) -> dict[str, Any]:
    words = {}
    for name in ("name", "value", "source"):
        text = getattr(row, name)
        if isinstance(text, Sentence):
            words[name] = text.as_json()
    return words


def _row(row: Row, words: Mapping[str, Any] | None) -> Row:
    if not words:
        return row
    return replace(row, **{name: with_words(getattr(row, name), kept) for name, kept in words.items()})
