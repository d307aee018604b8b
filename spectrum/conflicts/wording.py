"""Words that findings share, and the patterns and values of a finding's sentences kept beside its English texts."""

from __future__ import annotations

from typing import Any, Final

from sites.sentences import Sentence, repeated, sentence
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
    return repeated(ORDINALS[number])


def bandwidth_term(width_khz: float) -> Sentence:
    """What stands behind a bandwidth in dB over 1 Hz."""
    return repeated("10 log {width:g} kHz", width=width_khz)


def assumed_of(station: StationRecord) -> Sentence:
    """What the register says is assumed about a station's link, in the words of whoever entered it."""
    return repeated("{link}: {assumed}", link=station.link.code, assumed=station.link.assumptions)


def kept_words(draft: Draft) -> dict[str, Any]:
    """Patterns and values of all sentences of a draft, as plain values; what is a constant needs none.

    Sentences on what was not judged and rows of evidence stand under their number.
    """
    if draft.words is not None:
        return draft.words
    words: dict[str, Any] = {}
    for name, text in (("headline", draft.headline), ("cure", draft.cure)):
        if type(text) is Sentence:
            words[name] = text.as_json()
    if unjudged := {
        str(number): text.as_json() for number, text in enumerate(draft.not_judged) if type(text) is Sentence
    }:
        words["not_judged"] = unjudged
    if rows := {str(number): kept for number, row in enumerate(draft.evidence) if (kept := _of_row(row))}:
        words["evidence"] = rows
    return words


def _of_row(row: Row) -> dict[str, Any]:
    words = {}
    if type(row.name) is Sentence:
        words["name"] = row.name.as_json()
    if type(row.value) is Sentence:
        words["value"] = row.value.as_json()
    if type(row.source) is Sentence:
        words["source"] = row.source.as_json()
    return words
