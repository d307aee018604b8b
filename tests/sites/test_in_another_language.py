"""Nothing that a person reads from the Python of sites and licences stays English in another language."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from typing import Any, cast

import django_filters as filters
import pytest
from django import forms
from django.apps import apps
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import translation

import licences.forms
import licences.views
import sites.forms
import sites.views
from licences.areas import check_area
from licences.emissions import explain, parse
from licences.filing.rules import read_rules
from sites import documents, shapes
from sites.band_exceptions import band_exceptions
from sites.errors import StaleWriteError
from sites.forms import figures
from sites.models import ChangeRecord, Site
from sites.on_day import read_day
from sites.positions import parse_position
from sites.reading import as_read_by
from sites.services import jobs, record
from sites.services.record import Author
from sites.views.access import Page, require
from sites.views.listing import ListPage
from tests import made, pseudo
from tests.in_brackets import left_out
from tests.small_register import person_of_role


def modules(package: Any) -> Iterator[Any]:
    for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        yield importlib.import_module(found.name)


def classes_of(package: Any, base: type) -> list[type]:
    found = {
        each
        for module in modules(package)
        for each in vars(module).values()
        if isinstance(each, type) and issubclass(each, base) and each.__module__ == module.__name__
    }
    return sorted(found, key=lambda each: (each.__module__, each.__qualname__))


def said_by_model(model: type[models.Model]) -> Iterator[tuple[str, Any]]:
    yield "verbose_name", model._meta.verbose_name
    yield "verbose_name_plural", model._meta.verbose_name_plural
    for field in model._meta.fields + model._meta.many_to_many:
        if field.auto_created or (issubclass(model, AbstractUser) and field.name == "formats"):
            continue
        yield f"{field.name}: name", field.verbose_name
        yield f"{field.name}: help", field.help_text
        for value, label in field.flatchoices:
            yield f"{field.name}: {value}", label
    for constraint in model._meta.constraints:
        if constraint.violation_error_message != constraint.default_violation_error_message:
            yield f"{constraint.name}", constraint.violation_error_message


OURS = [model for label in ("places", "licences") for model in apps.get_app_config(label).get_models()]


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_names_help_and_choices_of_a_model_are_translated(
    model: type[models.Model], pseudo_language: str
) -> None:
    with translation.override(pseudo_language):
        english = {where: str(text) for where, text in said_by_model(model) if left_out(text)}
    if issubclass(model, AbstractUser):  # the names of languages are each in its own language
        english = {where: text for where, text in english.items() if not where.startswith("language: ")}
    assert english == {}


def listed(field: forms.ChoiceField) -> list[tuple[Any, Any]]:
    """The choices of a field; the names of languages are each in its own language."""
    return [each for each in cast(Any, field.choices) if each[0] not in ("en", pseudo.CODE)]


def said_by_form(form: type[forms.BaseForm]) -> Iterator[tuple[str, Any]]:
    for name, field in form.base_fields.items():  # type: ignore[attr-defined]
        if isinstance(field.widget, forms.HiddenInput):
            continue
        yield f"{name}: label", name if field.label is None else field.label
        yield f"{name}: help", field.help_text
        if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
            for value, label in listed(field):
                yield f"{name}: {value}", label
    for title, _names in getattr(form, "sections", ()):
        yield "section", title


FORMS = [*classes_of(sites.forms, forms.BaseForm), *classes_of(licences.forms, forms.BaseForm)]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.__name__)
def test_labels_help_and_sections_of_a_form_are_translated(
    form: type[forms.BaseForm], pseudo_language: str
) -> None:
    with translation.override(pseudo_language):
        english = {where: str(text) for where, text in said_by_form(form) if left_out(text)}
    assert english == {}


FILTERS = [*classes_of(sites.views, filters.FilterSet), *classes_of(licences.views, filters.FilterSet)]


@pytest.mark.django_db
@pytest.mark.parametrize("filterset", FILTERS, ids=lambda filterset: filterset.__name__)
def test_labels_of_a_filter_are_translated(filterset: type[filters.FilterSet], pseudo_language: str) -> None:
    english = {}
    with translation.override(pseudo_language):
        for name, field in filterset().form.fields.items():
            said = [name if field.label is None else field.label, field.help_text]
            if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
                said += [label for _value, label in listed(field)]
            if found := [str(text) for text in said if left_out(text or "")]:
                english[name] = found
    assert english == {}


PAGES = [*classes_of(sites.views, Page), *classes_of(licences.views, Page)]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_what_a_page_is_about_is_translated(page: Any, pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        said = [getattr(page, name, "") for name in ("act", "heading", "lead", "empty", "noun", "add_label")]
        said += [column.title for column in getattr(page, "columns", ())]
        assert [str(text) for text in said if left_out(text)] == []


def attempts() -> dict[str, Callable[[], object]]:
    """Something that cannot be read or done, of each module that refuses."""
    return {
        "position": lambda: parse_position("50 60 N 24 E"),
        "position in a grid": lambda: parse_position("1,234 5", epsg=32638),
        "position outside": lambda: parse_position("0 0", epsg=32638),
        "position in no grid": lambda: parse_position("0 0", epsg=1),
        "shape": lambda: shapes.shapes_of('{"type": "Circle"}'),
        "ring": lambda: shapes.shapes_of('{"type": "LineString", "coordinates": [[1, 2]]}'),
        "band exception": lambda: band_exceptions("410"),
        "number": lambda: figures.FigureField().clean("many"),
        "power": lambda: figures.PowerField().clean("-1 W"),
        "frequency": lambda: figures.MegahertzField().clean("1.0000001"),
        "days": lambda: figures.DaysField().clean("soon"),
        "pairs": lambda: figures.PairsField().clean("1 2 3"),
        "day": lambda: read_day("yesterday"),
        "area": lambda: check_area({"type": "Point", "coordinates": [1, 2]}),
        "emission": lambda: parse("16K0Y3E"),
        "bandwidth": lambda: parse("16003E"),
        "filing rule": lambda: read_rules(
            [{"quantity": "colour", "more_than": 1, "needs": "x", "source": ""}]
        ),
    }


@pytest.mark.parametrize("name", attempts())
def test_refusals_are_translated(name: str, pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        with pytest.raises((ValueError, ValidationError, shapes.ShapeError)) as caught:
            attempts()[name]()
        error = caught.value
        said = " ".join(error.messages) if isinstance(error, ValidationError) else str(error)
    assert left_out(said) == ""
    assert "⟦" in said


def test_an_emission_is_explained_in_the_language_of_the_reader(pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        assert left_out(explain("16K0F3E")) == ""
        assert "⟦frequency modulation⟧" in explain("16K0F3E")


def test_a_file_of_another_form_is_refused_in_the_language_of_the_reader(
    pseudo_language: str, tmp_path: Any
) -> None:
    from sites.documents.content import recognised

    sent = tmp_path / "letter.pdf"
    sent.write_bytes(b"\x89PNG\r\n\x1a\nnothing more")
    with translation.override(pseudo_language), sent.open("rb") as file, pytest.raises(Exception) as caught:
        recognised(file, "letter.pdf")
    assert "⟦a PNG picture⟧" in str(caught.value)
    assert left_out(caught.value) == ""
    assert left_out(documents.ACCEPTED) != ""  # a constant is English until it is said


@pytest.mark.django_db
class TestWhatTheServicesSay:
    def test_a_role_that_does_not_include_an_act(self, pseudo_language: str) -> None:
        viewer = person_of_role("viewer")
        with translation.override(pseudo_language), pytest.raises(Exception) as caught:
            require(viewer, "places.add_site", "⟦entering a site⟧")
        assert left_out(caught.value) == ""

    def test_who_was_first(self, pseudo_language: str) -> None:
        site = made.site("A01")
        stale = Site.objects.get(pk=site.pk)
        site.name = "Another name"
        record.change(site, by=Author.system("test"))
        stale.name = "A third"
        with pytest.raises(StaleWriteError) as caught:
            record.change(stale, by=Author.system("test"))
        with translation.override(pseudo_language):
            assert left_out(caught.value) == ""

    def test_a_job_that_has_ended(self, pseudo_language: str) -> None:
        planner = person_of_role("planner")
        job = jobs.submit("forget_ended_jobs", {}, by=planner)
        jobs.cancel(job, by=planner)
        with translation.override(pseudo_language), pytest.raises(Exception) as caught:
            jobs.cancel(job, by=planner)
        assert left_out(caught.value) == ""

    def test_what_is_recorded_does_not_depend_on_who_reads(self, pseudo_language: str) -> None:
        person = person_of_role("registrar")
        person.language = pseudo_language
        with as_read_by(person):
            made.site("A02")
        entry = ChangeRecord.objects.get(object_type="places.site", object_label__startswith="A02")
        assert "⟦" not in f"{entry.object_label} {entry.changes} {entry.reason}"


LISTS = [page for page in PAGES if issubclass(page, ListPage) and page is not ListPage]


@pytest.mark.django_db
@pytest.mark.parametrize("format", ["csv", "xlsx"])
@pytest.mark.parametrize("page", LISTS, ids=lambda page: page.__name__)
def test_a_list_as_a_file_is_the_same_in_every_language(page: Any, format: str, pseudo_language: str) -> None:
    from tests.small_register import small_register

    small_register()
    reader = person_of_role("administrator", language="en")
    address = {
        "SiteList": "site-list",
        "AntennaTypeList": "antenna-type-list",
        "JobList": "job-list",
        "ChangeList": "change-list",
        "DocumentList": "document-list",
        "LicenceList": "licence-list",
        "LicensedChannelList": "licensed-channel-list",
        "AuthorityList": "authority-list",
        "HolderList": "holder-list",
        "ReminderList": "reminder-list",
    }[page.__name__]
    files = []
    for language in ("en", pseudo_language):
        type(reader).objects.filter(pk=reader.pk).update(language=language)
        client = Client()
        client.force_login(reader)
        answer = client.get(reverse(address), {"format": format})
        assert answer.status_code == 200, answer.content
        files.append(b"".join(answer.streaming_content) if answer.streaming else answer.content)  # type: ignore[attr-defined]
        shown = client.get(reverse(address)).content.decode()
        assert ("⟦" in shown) == (language == pseudo_language)
    if format == "csv":
        assert files[0] == files[1]
        assert files[0].count(b"\r\n") >= 1
    else:
        from io import BytesIO

        from openpyxl import load_workbook

        english, other = (
            [[c.value for c in row] for row in load_workbook(BytesIO(f)).active.rows] for f in files
        )
        assert english == other
