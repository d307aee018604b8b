"""Nothing that a person reads from the Python of spectrum stays English in another language."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any, cast

import django_filters as filters
import pytest
from django import forms
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import translation

import spectrum.forms
import spectrum.views
from licences.limits import Allowance
from licences.models import Application
from sites.errors import RegisterError
from sites.models import ChangeRecord, Person
from sites.reading import as_read_by
from sites.services import record
from sites.services.record import Author
from sites.views.access import Page
from spectrum import answers
from spectrum.commissioning import commissioning_sheet
from spectrum.commissioning.power import PowerSteps, power_setting
from spectrum.drawings import margin_mark
from spectrum.extracts.cells import CellError as CellOfExtractError
from spectrum.extracts.cells import date_of, number_of, polarisation_of
from spectrum.extracts.mapping import Mapping, MappingError, Reading
from spectrum.extracts.problems import Problem
from spectrum.filing import data_sheet
from spectrum.filing.answer import answer as answer_of
from spectrum.forms.pairs import PairTakeForm
from spectrum.interchange.columns import CellError, from_cell
from spectrum.models import Link, RadioMode, Station
from spectrum.occupancy import State
from spectrum.services import applications, comparison, findings, reservations, variants
from spectrum.services.completeness import report
from spectrum.services.links import save_link
from spectrum.site_pack import site_pack
from tests import made
from tests.in_brackets import left_out
from tests.sites.test_in_another_language import classes_of, said_by_form, said_by_model
from tests.small_register import SmallRegister, person_of_role, small_register

TODAY = dt.date(2026, 6, 1)
OURS = list(apps.get_app_config("spectrum").get_models())


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_names_help_and_choices_of_a_model_are_translated(
    model: type[models.Model], pseudo_language: str
) -> None:
    with translation.override(pseudo_language):
        english = {where: str(text) for where, text in said_by_model(model) if left_out(text)}
    assert english == {}


FORMS = [
    form
    for package in (spectrum.forms, spectrum.views)
    for form in classes_of(package, forms.BaseForm)
    if form is not PairTakeForm  # what a button sends; it is never shown
]


@pytest.mark.django_db
@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.__name__)
def test_labels_help_and_sections_of_a_form_are_translated(
    form: type[forms.BaseForm], pseudo_language: str
) -> None:
    with translation.override(pseudo_language):
        english = {where: str(text) for where, text in said_by_form(form) if left_out(text)}
    # The tables of a CSV file are chosen by the names that their files have.
    assert {where: text for where, text in english.items() if not where.startswith("table: ")} == {}


FILTERS = classes_of(spectrum.views, filters.FilterSet)


@pytest.mark.django_db
@pytest.mark.parametrize("filterset", FILTERS, ids=lambda filterset: filterset.__name__)
def test_labels_of_a_filter_are_translated(filterset: type[filters.FilterSet], pseudo_language: str) -> None:
    english = {}
    with translation.override(pseudo_language):
        for name, field in filterset().form.fields.items():
            said: list[Any] = [name if field.label is None else field.label, field.help_text]
            if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
                said += [label for _value, label in cast(Any, field.choices)]
            if found := [str(text) for text in said if left_out(text or "")]:
                english[name] = found
    assert english == {}


PAGES = classes_of(spectrum.views, Page)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_what_a_page_is_about_is_translated(page: Any, pseudo_language: str) -> None:
    names = ("act", "heading", "lead", "empty", "noun", "add_label", "caution", "said")
    with translation.override(pseudo_language):
        said = [text for name in names if not callable(text := getattr(page, name, ""))]
        said += [column.title for column in getattr(page, "columns", ())]
        assert [str(text) for text in said if left_out(text)] == []


def attempts() -> dict[str, Callable[[], object]]:
    """Something that cannot be read, of each module that refuses."""
    reading = Reading()
    channel_width = RadioMode._meta.get_field("channel_width_hz")
    return {
        "date of an extract": lambda: date_of("soon", reading),
        "year of an extract": lambda: date_of(dt.date(1066, 1, 1), reading),
        "number of an extract": lambda: number_of("1,5", reading, "a length in km", 0, 10),
        "polarisation of an extract": lambda: polarisation_of("round"),
        "mapping": lambda: Mapping.of(
            code="X Y",
            authority_code="",
            columns={},
            reading={},
            statuses={},
            key=[],
            own_registrants=[],
            stand_ins={},
        ),
        "whole number of a table": lambda: from_cell(channel_width, "wide"),
        "comma in a table": lambda: from_cell(channel_width, "12,5"),
        "choice of a table": lambda: from_cell(Link._meta.get_field("kind"), "star"),
        "day of a table": lambda: from_cell(Link._meta.get_field("starts_on"), "soon"),
    }


@pytest.mark.parametrize("name", attempts())
def test_what_cannot_be_read_is_said_in_the_language(name: str, pseudo_language: str) -> None:
    refusals = (CellOfExtractError, MappingError, CellError)
    with pytest.raises(refusals) as caught:
        attempts()[name]()
    with translation.override(pseudo_language):
        said = str(caught.value)
    assert "⟦" in said
    # A mapping's error begins with the name of the part of the file that it is about.
    assert left_out(said.partition(": ")[2] if isinstance(caught.value, MappingError) else said) == ""


def test_a_problem_of_a_file_says_its_place_in_the_language(pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        assert str(Problem(3, "power", "“x”", "“y”", "“z”")) == (
            "⟦Row 3, column power: ⟦⟦found “x”; expected “y”.⟧ “z”⟧⟧"
        )


def test_small_words_of_pictures_and_states(pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        assert [state.words for state in State if left_out(state.words)] == []
        assert margin_mark(-3.0).words == "⟦3.0 dB over the limit⟧"
        assert left_out(margin_mark(5.0, spread_db=(1.0, 9.0)).words) == ""


ALLOWED = Allowance(frequency_hz=410_000_000, channel_width_hz=25_000, power_limit_dbm=38.0, power_kind="erp")


@pytest.mark.parametrize("allowed", [None, replace(ALLOWED, power_limit_dbm=None), ALLOWED])
@pytest.mark.parametrize("lowest_dbm", [20.0, 41.0])
def test_why_a_power_is_set(allowed: Allowance | None, lowest_dbm: float, pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        setting = power_setting(
            37.0, allowed, line_losses_db=2.0, antenna_gain_dbi=6.0, steps=PowerSteps(lowest_dbm, 43.0, 1.0)
        )
    assert left_out(setting.sentence) == ""


@pytest.mark.django_db
class TestWithARegister:
    @pytest.fixture
    def here(self) -> SmallRegister:
        return small_register()

    @pytest.fixture
    def reader(self, pseudo_language: str) -> Person:
        person = person_of_role("planner")
        person.language = pseudo_language
        return record.change(person, by=made.TESTS)

    def test_the_commissioning_sheet(self, here: SmallRegister, reader: Person) -> None:
        stations = list(here.link.stations.order_by("label"))
        with as_read_by(reader):
            sheet = commissioning_sheet(here.link, stations, [here.finding], TODAY)
            for end in sheet.ends:
                lines = [*end.settings, *end.isolation, *end.expected]
                lines += end.recorded.lines if end.recorded else []
                lines += [line for line in end.exposure if line.name != "e.i.r.p."]
                assert [line.name for line in lines if "⟦" not in line.name] == []
            assert left_out(sheet.heading) == left_out(sheet.warning) == ""

    def test_the_licence_pack(self, here: SmallRegister, reader: Person) -> None:
        with as_read_by(reader):
            pack = site_pack(here.near, TODAY)
            assert left_out(pack.answer) == left_out(pack.as_of) == left_out(pack.heading) == ""
            lines = [*pack.site_lines, *pack.contacts]
            lines += [line for part in pack.stations for line in part.lines]
            lines += [line for part in pack.licences for line in part.lines]
            lines += [line for part in pack.licences for channel in part.channels for line in channel.lines]
            named = [line.name for line in lines if line.name not in ("e.r.p.", "e.i.r.p.")]
            assert [name for name in named if left_out(name)] == []

    def test_the_data_sheet_and_what_it_is_asked(self, here: SmallRegister, reader: Person) -> None:
        with as_read_by(reader):
            application = applications.all_applications().get(pk=here.application.pk)
            sheet = data_sheet(application, TODAY)
            assert left_out(answer_of(sheet).sentence) == ""
            assert [part.report.sentence for part in sheet.links if left_out(part.report.sentence)] == []
            assert [line.missing for line in sheet.missing if left_out(line.missing)] == []

    def test_what_a_link_is_asked_and_answers(self, here: SmallRegister, reader: Person) -> None:
        with as_read_by(reader):
            for status in Link.Status:
                link = Link.objects.get(pk=here.link.pk)
                link.status = status
                assert left_out(answers.question(link)) == ""
                for found, check in (([], None), ([], here.check), ([here.finding], here.check)):
                    assert left_out(answers.answer(link, found, check).sentence) == ""

    def test_the_report_on_what_is_missing(self, here: SmallRegister, reader: Person) -> None:
        with as_read_by(reader):
            parts = report(TODAY)
            assert [p.title for p in parts if left_out(p.title) or left_out(p.why) or left_out(p.group)] == []
            assert [gap.said for part in parts for gap in part.gaps if left_out(gap.said)] == []
            assert any(part.gaps for part in parts)

    def test_refusals(self, here: SmallRegister, reader: Person) -> None:
        by = Author.of(reader)
        foreign = Station(pk=999_999)
        refused: list[Callable[[], object]] = [
            lambda: applications.links_named(["no such link"]),
            lambda: applications.refuse(
                Application(pk=0), by=by, on=TODAY, today=TODAY, remarks="", expected_version=None
            ),
            lambda: findings.accept(here.finding, reason="", by=reader),
            lambda: reservations.extend(here.link, TODAY, by=by),
            lambda: comparison.decide(here.difference, "both", reason="", by=by, seen=""),
            lambda: variants.accept(here.variant, by=reader, reason=""),
            lambda: save_link(here.link, [], by=by),
            lambda: save_link(here.link, [foreign], by=by),
        ]
        for number, attempt in enumerate(refused):
            with as_read_by(reader), pytest.raises((RegisterError, ValidationError)) as caught:
                attempt()
            error = caught.value
            said = (
                error.message
                if isinstance(error, RegisterError)
                else " ".join(cast(ValidationError, error).messages)
            )
            assert left_out(said) == "", number
            assert "⟦" in said, number

    def test_a_decision_is_recorded_in_no_language(self, here: SmallRegister, reader: Person) -> None:
        seen = comparison.distinct(here.difference)
        with as_read_by(reader):
            comparison.decide(here.difference, "aside", reason="Later.", by=Author.of(reader), seen=seen)
        entry = ChangeRecord.objects.order_by("id").last()
        assert entry is not None
        assert "⟦" not in f"{entry.reason}{entry.changes}{entry.object_label}"
