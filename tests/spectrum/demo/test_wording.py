"""Every finding of the demo, of all kinds, in another language and in another way of writing figures and days."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from gettext import NullTranslations
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import trans_real

from licences.models import Licence, LicensedChannel
from sites.reading import as_read_by
from sites.sentences import MANY, SAY, WITH, sentence_of
from spectrum.conflicts.kinds import KINDS
from spectrum.forms.interference import InterferenceForm
from spectrum.models import ChannelPlan, Finding, InterferenceEntry, Link, RadioMode, Station
from spectrum.services.completeness.contradictions import contradictions
from spectrum.templatetags.drawings import kind_explanation, kind_title
from spectrum.wording import cure_of, evidence_of, headline_of, unjudged_of
from tests.marked import marked_texts
from tests.spectrum.demo.conftest import Demo

pytestmark = pytest.mark.django_db

#: A formula of a product, such as “2 × U41-011/B − U41-018/B”; its signals are names of stations.
PRODUCT = re.compile(r"(?:[+−] )?(?:\d × )?\S+/\S+(?: [+−] (?:\d × )?\S+/\S+)*")
#: A document with its clause says no word that could be translated.
_ONE = r"(?:ITU-R \w+\.[\d-]+(?: §[\d.]+)?|RR (?:[\d.]+|Appendix \d+)|47 CFR [\d.]+|[\d.]+)"
DOCUMENT = re.compile(f"{_ONE}(?:[,;] {_ONE})*")


def all_findings() -> list[Finding]:
    rows = list(Finding.objects.filter(gone_at=None))
    assert {row.kind for row in rows} == set(KINDS)
    return rows


def texts_of(finding: Finding) -> Iterator[tuple[str, Mapping[str, Any] | None]]:
    """Every text of a finding with what was kept of it."""
    words = finding.words
    yield finding.headline, words.get("headline")
    yield finding.cure, words.get("cure")
    for number, text in enumerate(finding.not_judged):
        yield text, words.get("not_judged", {}).get(str(number))
    for number, row in enumerate(finding.evidence):
        for part in ("name", "value", "source"):
            if isinstance(row[part], str):
                yield row[part], words.get("evidence", {}).get(str(number), {}).get(part)


def parts_of(kept: Mapping[str, Any]) -> Iterator[tuple[str, bool]]:
    """The patterns (True) and the plain texts among the values (False) of a kept sentence."""
    yield kept[SAY], True
    if MANY in kept:
        yield kept[MANY], True
    for value in kept.get(WITH, {}).values():
        if isinstance(value, str):
            yield value, False
        elif isinstance(value, Mapping) and SAY in value:
            yield from parts_of(value)


def names_of_the_register() -> set[str]:
    return {
        *(f"{link}/{label}" for link, label in Station.objects.values_list("link__code", "label")),
        *Link.objects.values_list("code", flat=True),
        *ChannelPlan.objects.values_list("code", flat=True),
        *(f"{mode.radio_type.name} {mode.label}" for mode in RadioMode.objects.select_related("radio_type")),
        *(str(licence) for licence in Licence.objects.select_related("authority")),
        *(str(channel) for channel in LicensedChannel.objects.select_related("licence__authority")),
    }


def test_patterns_and_values_give_the_stored_english(demo: Demo) -> None:
    others = [
        (text, str(sentence_of(kept)))
        for finding in all_findings()
        for text, kept in texts_of(finding)
        if kept and sentence_of(kept)[:300] != text
    ]
    assert others == []


def test_whoever_reads_english_in_the_usual_way_reads_what_is_stored(demo: Demo) -> None:
    for finding in all_findings():
        assert headline_of(finding) == finding.headline
        assert cure_of(finding) == finding.cure
        assert unjudged_of(finding) == finding.not_judged
        shown = [{name: row[name] for name in row if name != "asked"} for row in evidence_of(finding)]
        assert shown == finding.evidence


def test_everything_said_is_translated(demo: Demo, pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        for finding in all_findings():
            said = [headline_of(finding), cure_of(finding), *unjudged_of(finding)]
            for row in evidence_of(finding):
                said += [row["name"], row["source"]]
            said += [kind_title(finding.kind), kind_explanation(finding.kind)]
            assert [text for text in said if text and not (text[0] == "⟦" and text[-1] == "⟧")] == []


def test_what_is_said_is_marked_where_extraction_finds_it_and_what_is_not_is_data(demo: Demo) -> None:
    marked = marked_texts("spectrum/conflicts", "spectrum/radio", "licences")
    engine = marked_texts("spectrum/conflicts", "licences/limits", "licences/emissions")
    register = names_of_the_register()
    unmarked = set()
    for finding in all_findings():
        for text, kept in texts_of(finding):
            parts = parts_of(kept) if kept else [(text, True)]
            for part, is_pattern in parts:
                if not is_pattern:
                    # A constant among the values would stay English inside a translated sentence.
                    assert part not in engine, (part, text)
                elif re.sub(r"{[^}]*}|\b(?:kHz|MHz|GHz|Hz|dBm|dB|m|log|k|K|C/I)\b|[\W\d]", "", part):
                    unmarked.add(part)
    unmarked -= marked | register
    assert {
        text for text in unmarked if not PRODUCT.fullmatch(text) and not DOCUMENT.fullmatch(text)
    } == set()


def test_the_words_of_the_kinds_are_marked_too() -> None:
    marked = marked_texts("spectrum/conflicts")
    for kind in KINDS.values():
        assert {kind.title, kind.explanation, kind.group} <= marked


class _ReadsGerman:
    is_authenticated = True
    language, formats, power_unit, time_zone = "de", "de", "dBm", "Europe/Vienna"


class _German(NullTranslations):
    TEXTS = {
        "{arrives}, {over} I/N {limit:g} dB": "{over} dem Grenzwert I/N {limit:g} dB: {arrives}",
        "{sender} ({sent:.5f} MHz) arrives at {victim} ({heard:.5f} MHz)": (
            "bei {victim} ({heard:.5f} MHz) kommt {sender} ({sent:.5f} MHz) an"
        ),
        "{excess:.1f} dB over": "{excess:.1f} dB über",
        "Path length": "Weglänge",
        "{licence}: file the renewal by {day}": "Bis {day} ist {licence} zu verlängern",
    }

    def gettext(self, message: str) -> str:
        return self.TEXTS.get(message, message)

    def language(self) -> str:
        return "de"

    to_language = language


@pytest.fixture
def german(settings: Any, monkeypatch: pytest.MonkeyPatch) -> type[_ReadsGerman]:
    settings.LANGUAGES = [*settings.LANGUAGES, ("de", "Deutsch")]
    kept: dict[str, Any] = vars(trans_real)["_translations"]
    monkeypatch.setitem(kept, "de", _German())
    return _ReadsGerman


def test_a_catalogue_may_turn_a_headline_round_and_commas_and_days_follow_the_reader(
    demo: Demo, german: type[_ReadsGerman]
) -> None:
    worst = Finding.objects.filter(gone_at=None, kind="co_channel").order_by("margin")[0]
    says = re.fullmatch(
        r"(?P<sender>\S+) \((?P<sent>\S+) MHz\) arrives at (?P<victim>\S+) \((?P<heard>\S+) MHz\), "
        r"(?P<excess>\S+) dB over I/N −6 dB",
        worst.headline,
    )
    assert says is not None
    written = {name: text.replace(".", ",") for name, text in says.groupdict().items()}
    due = Finding.objects.filter(gone_at=None, kind="renewal_due", headline__contains=": file the renewal")[0]
    licence, day = due.headline.split(": file the renewal by ")
    year, month, of_month = day.split("-")
    with as_read_by(german()):
        assert headline_of(worst) == (
            "{excess} dB über dem Grenzwert I/N −6 dB: bei {victim} ({heard} MHz) kommt {sender} ({sent} MHz) an"
        ).format(**written)
        assert headline_of(due) == f"Bis {of_month}.{month}.{year} ist {licence} zu verlängern"
        page = render_to_string("_finding.html", {"finding": worst, "open": True})
        # The formula behind a row is found by what is stored, whatever the row is called on the page.
        assert "Weglänge" in page
        assert page.count('class="how"') == render_in_english(worst).count('class="how"') > 3


def render_in_english(finding: Finding) -> str:
    with as_read_by(None):
        return render_to_string("_finding.html", {"finding": finding, "open": True})


def test_a_finding_of_before_shows_its_english(demo: Demo, german: type[_ReadsGerman]) -> None:
    finding = Finding.objects.filter(gone_at=None, kind="co_channel")[0]
    finding.words = {}
    with as_read_by(german()):
        assert headline_of(finding) == finding.headline
        assert unjudged_of(finding) == finding.not_judged
        assert [row["value"] for row in evidence_of(finding)] == [row["value"] for row in finding.evidence]


def test_the_files_and_the_interface_for_programs_say_what_is_stored(
    demo: Demo, german: type[_ReadsGerman]
) -> None:
    from spectrum.api.serializers import FindingSerializer

    finding = Finding.objects.filter(gone_at=None, kind="co_channel")[0]
    with as_read_by(german()):
        answer = FindingSerializer(finding, context={"request": None}).data
    assert answer["headline"] == finding.headline
    assert "words" not in answer
    assert [row["name"] for row in answer["evidence"]] == [row["name"] for row in finding.evidence]


def test_a_finding_is_chosen_and_counted_in_the_readers_words(demo: Demo, pseudo_language: str) -> None:
    worst = (
        Finding.objects.filter(gone_at=None, kind="co_channel").select_related("link").order_by("margin")[0]
    )
    with translation.override(pseudo_language):
        form = InterferenceForm(instance=InterferenceEntry(link=worst.link))
        assert headline_of(worst) in dict(form.fields["finding"].choices).values()  # type: ignore[attr-defined]
        limits = next(part for part in contradictions() if part.code == "limits")
        assert limits.gaps
        assert {gap.said for gap in limits.gaps} <= {f"⟦{kind.title}⟧" for kind in KINDS.values()}
