"""How a person reads: figures, days, times and powers as they write them; neutral where nobody reads."""

from __future__ import annotations

import datetime as dt
import threading
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext, ngettext, pgettext

from deploy.settings.environment import languages
from sites import reading
from sites.models import Person
from sites.on_day import day_or_today
from sites.reading import as_read_by, current_reader, day_here, neutral, neutral_figures, neutral_parts
from sites.templatetags.figures import (
    as_written,
    day,
    fixed,
    khz,
    mhz,
    moment,
    power,
    power_both,
    power_figure,
    power_unit,
    watts,
    whole,
)
from sites.views import access
from tests.small_register import person_of_role

SUMMER = dt.datetime(2026, 7, 31, 22, 5, 9, tzinfo=dt.UTC)
WINTER = dt.datetime(2026, 12, 31, 23, 5, tzinfo=dt.UTC)


def somebody(**how: str) -> Person:
    return Person(username="somebody", **how)


def in_vienna(**how: str) -> Person:
    return somebody(**{"formats": "de", "power_unit": "W", "time_zone": "Europe/Vienna", **how})


@pytest.mark.parametrize(
    ("zone", "expected"),
    [
        ("UTC", "2026-07-31"),
        ("Europe/Vienna", "2026-08-01"),
        ("America/Denver", "2026-07-31"),
        ("no zone", "2026-07-31"),
    ],
)
def test_today_is_the_day_where_the_reader_is_and_the_registers_in_files(zone: str, expected: str) -> None:
    """22:05 UTC on 31 July is 00:05 on 1 August in Vienna (UTC+2 in summer) and 16:05 on 31 July in Denver (UTC-6)."""
    with time_machine.travel(SUMMER, tick=False):
        assert str(day_here()) == "2026-07-31"
        with as_read_by(somebody(time_zone=zone)):
            assert str(day_here()) == str(day_or_today()) == expected
            with neutral():
                assert str(day_here()) == "2026-07-31"
            with neutral_figures():
                assert str(day_here()) == "2026-07-31"
    after = time_machine.travel(dt.datetime(2026, 8, 1, 3, 0, tzinfo=dt.UTC), tick=False)
    with after, as_read_by(somebody(time_zone="America/Denver")):
        assert str(day_here()) == "2026-07-31"


def test_where_nobody_reads_everything_is_neutral() -> None:
    assert current_reader() is reading.NEUTRAL
    assert fixed(-1234.5, 1) == "−1234.5"
    assert mhz(457_012_500) == "457.01250"
    assert day(dt.date(2026, 3, 1)) == "2026-03-01"
    assert moment(SUMMER) == "2026-07-31 22:05 UTC"
    assert moment(SUMMER, "seconds") == "2026-07-31 22:05:09 UTC"
    assert (power(37.0), power_both(37.0), power_figure(37.0), power_unit()) == (
        "37.0 dBm",
        "37.0 dBm (5.01 W)",
        "37.0",
        "dBm",
    )


def test_figures_days_and_powers_are_written_as_the_reader_writes_them() -> None:
    with as_read_by(in_vienna()):
        assert fixed(-1234.5, 1) == "−1234,5"
        assert (mhz(457_012_500), khz(12_500), whole(8500.4)) == ("457,01250", "12,50", "8500")
        assert day(dt.date(2026, 3, 1)) == "01.03.2026"
        assert as_written(dt.date(2026, 3, 1)) == "01.03.2026"
        assert (power(37.0), power_both(37.0), power_figure(37.0), power_unit()) == (
            "5,01 W",
            "5,01 W (37,0 dBm)",
            "5,01",
            "W",
        )
        assert watts(24.0) == "251 mW"
    assert fixed(0.5, 1) == "0.5"


def test_a_time_is_that_of_the_reader_s_zone_and_says_how_far_from_utc_it_is() -> None:
    with as_read_by(in_vienna()):
        assert moment(SUMMER) == "01.08.2026 00:05 UTC+2"
        assert moment(WINTER) == "01.01.2027 00:05 UTC+1"
        assert day(WINTER) == "01.01.2027"
        assert as_written(WINTER) == "01.01.2027 00:05 UTC+1"
    with as_read_by(somebody(time_zone="America/St_Johns")):
        assert moment(WINTER) == "2026-12-31 19:35 UTC−3:30"
    with as_read_by(somebody(time_zone="Nowhere/Atall")):
        assert moment(WINTER) == "2026-12-31 23:05 UTC"


def test_what_is_not_known_stays_so() -> None:
    with as_read_by(in_vienna()):
        assert (fixed(None, 1), power(None), power_both(None), power_figure(None)) == ("–",) * 4
        assert (day(None), moment(None), as_written(None), as_written("C-12.5")) == ("", "", "–", "C-12.5")


@pytest.mark.parametrize(
    ("dbm", "figure"), [(0.0, "0.00100"), (24.0, "0.251"), (37.0, "5.01"), (40.0, "10.0"), (60.0, "1000")]
)
def test_watts_in_a_column_have_three_figures_and_no_prefix(dbm: float, figure: str) -> None:
    # 10^(dBm/10) mW, ITU-R V.574; the figures are added by hand: 24 dBm is 251.19 mW, 37 dBm is 5.0119 W.
    with as_read_by(somebody(power_unit="W")):
        assert power_figure(dbm) == figure


@pytest.mark.parametrize(
    ("formats", "written"),
    [
        ("iso", "2026-03-01 1.50"),
        ("de", "01.03.2026 1,50"),
        ("de-ch", "01.03.2026 1,50"),
        ("en-gb", "01/03/2026 1.50"),
        ("fr", "01/03/2026 1,50"),
        ("nl", "1-3-2026 1,50"),
        ("pl", "01-03-2026 1,50"),
        ("sv", "2026-03-01 1,50"),
    ],
)
def test_dates_and_decimals_of_a_country(formats: str, written: str) -> None:
    """As Django keeps them (django/conf/locale/*/formats.py)."""
    with as_read_by(somebody(formats=formats)):
        assert f"{day(dt.date(2026, 3, 1))} {fixed(1.5, 2)}" == written


def test_every_way_of_writing_that_is_offered_shows_a_sample_of_figures_only() -> None:
    shown = dict(reading.ways_of_writing())
    assert shown["iso"] == "international (ISO 8601): 2026-12-31, 457.01250"
    assert shown["de"] == "German: 31.12.2026, 457,01250"
    for sample in shown.values():
        assert not set(sample.rpartition(": ")[2]) - set("0123456789.,-/ "), sample


def test_inside_a_page_a_file_is_neutral_and_a_printed_sheet_keeps_the_language(pseudo_language: str) -> None:
    with as_read_by(in_vienna(language=pseudo_language)):
        assert gettext("expires") == "⟦expires⟧"
        with neutral():
            assert (fixed(1.5, 1), power(37.0), gettext("expires")) == ("1.5", "37.0 dBm", "expires")
        with neutral_figures():
            assert (fixed(1.5, 1), power(37.0), gettext("expires")) == ("1.5", "37.0 dBm", "⟦expires⟧")
        assert fixed(1.5, 1) == "1,5"


def test_a_file_made_while_it_is_sent_is_neutral_and_the_page_around_it_is_not() -> None:
    with as_read_by(in_vienna()):
        parts = neutral_parts(fixed(value, 1) for value in (1.5, 2.5))
        assert next(parts) == "1.5"
        assert fixed(1.5, 1) == "1,5"
        assert list(parts) == ["2.5"]


def test_the_reader_before_comes_back_after_an_error_too() -> None:
    before = translation.get_language()
    with pytest.raises(RuntimeError), as_read_by(in_vienna()):
        raise RuntimeError
    assert current_reader() is reading.NEUTRAL
    assert translation.get_language() == before


def test_two_threads_have_a_reader_each() -> None:
    seen: list[Any] = []
    with as_read_by(in_vienna()):
        other = threading.Thread(target=lambda: seen.append(current_reader()))
        other.start()
        other.join()
    assert seen == [reading.NEUTRAL]


def test_the_day_of_the_register_is_the_same_for_everybody() -> None:
    """A licence does not expire earlier for somebody who reads further east."""
    with as_read_by(somebody(time_zone="Pacific/Kiritimati")):
        assert timezone.localtime(WINTER).utcoffset() == dt.timedelta(0)


def test_the_language_of_tests_puts_every_text_in_brackets(pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        assert gettext("a link") == "⟦a link⟧"
        assert ngettext("%d link", "%d links", 2) % 2 == "⟦2 links⟧"
        assert pgettext("radio", "link") == "⟦link⟧"
        assert translation.get_language() == "xx"


@pytest.mark.django_db
def test_a_language_time_zone_or_unit_that_is_not_offered_is_refused() -> None:
    person = somebody(language="tlh", formats="klingon", power_unit="hp", time_zone="Vienna", password="x")
    with pytest.raises(ValidationError) as refused:
        person.full_clean()
    assert set(refused.value.message_dict) == {"language", "formats", "power_unit", "time_zone"}
    assert "such as Europe/Vienna" in refused.value.message_dict["time_zone"][0]


@pytest.mark.django_db
def test_a_language_that_is_offered_no_more_is_read_in_english() -> None:
    with as_read_by(somebody(language="de", formats="gone", power_unit="")) as reader:
        assert (reader.language, reader.formats, reader.power_unit) == ("en", "iso", "dBm")


def test_an_administrator_adds_languages_by_their_codes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LANGUAGES", " de, pt-BR ,rm=Rumantsch, en")
    assert languages("LANGUAGES") == [
        ("en", "English"),
        ("de", "Deutsch"),
        ("pt-br", "Português Brasileiro"),
        ("rm", "Rumantsch"),
    ]


@pytest.mark.parametrize("given", ["german", "de;fr", "rm", "../etc=x"])
def test_a_language_that_cannot_be_read_is_said_at_the_start(
    given: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LANGUAGES", given)
    with pytest.raises(ImproperlyConfigured, match="codes of languages"):
        languages("LANGUAGES")


@pytest.mark.django_db
def test_pages_are_written_for_who_is_signed_in_and_the_next_request_starts_anew(
    pseudo_language: str,
) -> None:
    person = person_of_role("viewer")
    Person.objects.filter(pk=person.pk).update(language=pseudo_language, formats="de")
    seen: list[Any] = []

    client = Client()
    client.force_login(person)
    inner = access.Page.answer

    def noted(*args: Any, **kwargs: Any) -> Any:
        seen.append((current_reader().formats, translation.get_language()))
        return inner(*args, **kwargs)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(access.Page, "answer", noted)
        client.get(reverse("site-list"))
        assert seen == [("de", pseudo_language)]
    assert current_reader() is reading.NEUTRAL
    assert translation.get_language() == "en"
