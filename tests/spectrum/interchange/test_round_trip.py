"""Export, empty, import: the register is the same again, field by field.

What is not part of it stands in ``LEFT_OUT``, each with its reason; a model that is in neither fails here.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable
from typing import IO, Any

import pytest
from django.apps import apps

from licences.life import Step, Taken
from licences.models import Application
from licences.services import life
from sites.models import ChangeRecord, Person
from sites.models.registered import service_write
from sites.services import record
from sites.services.record import Author
from spectrum.demo.build import build
from spectrum.interchange import TABLES
from spectrum.interchange.files import names_of, write_archive, write_book
from spectrum.interchange.named import exchanged, numbered
from spectrum.interchange.tables import FIELDS_LEFT_OUT, LEFT_OUT, key_paths
from spectrum.models import Check, Difference, ExtractRun, Finding, Link, RegulatorRecord, Variant
from spectrum.services import applications
from spectrum.services.interchange import import_tables
from tests.small_register import SmallRegister, link, small_register
from tests.spectrum.applications.made import terms

pytestmark = pytest.mark.django_db
TESTS = Author.system("tests")
Register = dict[str, dict[tuple[Any, ...], dict[str, Any]]]


def stored() -> Register:
    """Every value of every field, references by the keys of what they refer to."""
    register: Register = {}
    for table in TABLES:
        rows = {}
        for obj in table.model._default_manager.all():
            values = {}
            for field in table.fields:
                value = getattr(obj, field.name)
                if which := numbered(field):
                    value = exchanged(value, which, _named)
                values[field.name] = _key(value) if field.related_model and value is not None else value
            rows[_key(obj)] = values
        register[table.name] = rows
    return register


def _key(obj: Any) -> tuple[Any, ...]:
    found = []
    for path in key_paths(type(obj)):
        value = obj
        for part in path.split("__"):
            value = getattr(value, part)
        found.append(value)
    return tuple(found)


def _named(model: Any, number: int) -> str:
    """An object that a structure names by its number: a number of before is not one of afterwards."""
    return str(_key(model._default_manager.get(pk=number)))


def full_register() -> SmallRegister:
    """One object of every table: also applications filed and granted, and the steps of a licence."""
    small = small_register()
    today = dt.date(2026, 11, 25)
    for code, what in (("K2", "granted"), ("K3", "filed"), ("K4", "drawn up")):
        planned = link(code, small.near, small.far, small.mode, small.antenna_type, small.own)
        application = Application(
            number=f"A-{code}", authority=small.authority, holder=small.own, contact="Radio office"
        )
        applications.draw_up(application, [planned], by=TESTS, today=today)
        if what != "drawn up":
            applications.file(application, by=TESTS, filed_on=today, today=today, despite="As agreed.")
        if what == "granted":
            given = terms(application, number="L-2", grant_granted_on=today, grant_in_force_from=today)
            applications.grant(application, given, by=TESTS, today=today)
    for taken in (
        Taken(step=Step.TRANSFER, on=dt.date(2026, 1, 1), holder_id=small.other.pk),
        Taken(step=Step.TRANSFER, on=dt.date(2026, 2, 1), holder_id=small.own.pk),
    ):
        life.take_step(small.licence, taken, by=Author.of(small.responsible), today=today)
        small.licence.refresh_from_db()
    return small


def empty_the_register() -> None:
    Finding.objects.all().delete()
    Check.objects.all().delete()
    Difference.objects.all().delete()
    RegulatorRecord.objects.all().delete()
    ExtractRun.objects.all().delete()
    with service_write():
        Variant.objects.all().delete()
        for table in reversed(TABLES):
            table.model._default_manager.all().delete()
    assert not any(rows for rows in stored().values())


@pytest.mark.parametrize(("write", "name"), [(write_book, "all.xlsx"), (write_archive, "all.zip")])
@pytest.mark.parametrize("fill", [full_register, lambda: build(dt.date(2026, 6, 1))], ids=["small", "demo"])
def test_export_empty_and_import_give_an_equal_register(
    write: Callable[[IO[bytes]], None], name: str, fill: Callable[[], Any]
) -> None:
    fill()
    site = Link.objects.order_by("pk")[0].stations.all()[0].site
    site.name, site.notes = "=cmd|' /C calc'!A0", "'quoted'\r\n@two, \"lines\"\n\t; −5 °"
    record.change(site, by=TESTS)
    before = stored()
    assert [name for name, rows in before.items() if not rows and fill is full_register] == []
    target = io.BytesIO()
    write(target)
    empty_the_register()

    outcome = import_tables(target.getvalue(), name, by=TESTS)

    assert [str(trouble) for trouble in outcome.drafted.troubles[:5]] == []
    assert outcome.written
    after = stored()
    for table in TABLES:
        assert after[table.name] == before[table.name], table.name
    assert sum(count["new"] for count in outcome.drafted.counts().values()) == sum(map(len, before.values()))
    again = ChangeRecord.objects.count()
    second = import_tables(target.getvalue(), name, by=TESTS)
    assert {(c["new"], c["changed"]) for c in second.drafted.counts().values()} == {(0, 0)}
    assert ChangeRecord.objects.count() == again, "the second import changes nothing"


def test_no_model_or_field_is_left_out_without_a_reason() -> None:
    ours = [apps.get_app_config(label) for label in ("places", "licences", "spectrum")]
    stored = {model for app in ours for model in app.get_models(include_auto_created=True)}
    carried = {table.model for table in TABLES}
    named = {apps.get_model(label) for label in LEFT_OUT}

    accounts = {model for model in stored if model._meta.auto_created is Person}
    assert stored - carried - named - accounts == set(), "a model is in no table: carry it, or say why not"
    assert carried & named == set()
    assert all(len(str(reason).split()) >= 3 for reason in LEFT_OUT.values())
    for table in TABLES:
        lacking = {field.name for field in table.model._meta.concrete_fields} - {f.name for f in table.fields}
        assert lacking <= FIELDS_LEFT_OUT.keys(), table.name
        assert "finding" not in lacking or table.name == "interference_entries"
        assert not table.model._meta.many_to_many, f"{table.name}: what it refers to many of is not carried"


def test_every_table_has_one_column_for_each_name() -> None:
    for table in TABLES:
        names = names_of(table)
        assert len(set(names)) == len(names), table.name
    stations = names_of(next(table for table in TABLES if table.name == "stations"))
    assert stations[:2] == ["link", "label"]
    assert {"tx_frequency_mhz", "mode_radio_type", "mode_label", "licensed_channel_licence_number"} < set(
        stations
    )
