"""Export, empty, import: the register is the same again, field by field.

Not part of it, and so not compared: the change record and versions (an import is a change),
checks and findings with their acceptances (the next check finds them again), variants, people, jobs.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable
from typing import IO, Any

import pytest

from licences.models import Application, Licence
from sites.models import ChangeRecord
from sites.models.registered import service_write
from sites.services import record
from sites.services.record import Author
from spectrum.demo.build import build
from spectrum.interchange import TABLES
from spectrum.interchange.files import names_of, write_archive, write_book
from spectrum.interchange.tables import key_paths
from spectrum.models import (
    ApplicationLink,
    Check,
    Difference,
    ExtractRun,
    FiledStation,
    Finding,
    Link,
    RegulatorRecord,
    Variant,
)
from spectrum.services.interchange import import_tables
from tests.small_register import small_register

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


def empty_the_register() -> None:
    Finding.objects.all().delete()
    Check.objects.all().delete()
    Difference.objects.all().delete()
    RegulatorRecord.objects.all().delete()
    ExtractRun.objects.all().delete()
    with service_write():
        Variant.objects.all().delete()
        FiledStation.objects.all().delete()
        ApplicationLink.objects.all().delete()
        Licence.objects.update(application=None)
        Application.objects.all().delete()
        for table in reversed(TABLES):
            table.model._default_manager.all().delete()
    assert not any(rows for rows in stored().values())


@pytest.mark.parametrize(("write", "name"), [(write_book, "all.xlsx"), (write_archive, "all.zip")])
@pytest.mark.parametrize("fill", [small_register, lambda: build(dt.date(2026, 6, 1))], ids=["small", "demo"])
def test_export_empty_and_import_give_an_equal_register(
    write: Callable[[IO[bytes]], None], name: str, fill: Callable[[], Any]
) -> None:
    fill()
    site = Link.objects.order_by("pk")[0].stations.all()[0].site
    site.name, site.notes = "=cmd|' /C calc'!A0", "'quoted'\r\n@two, \"lines\"\n\t; −5 °"
    record.change(site, by=TESTS)
    before = stored()
    assert all(before[table.name] for table in TABLES if fill is small_register)
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


def test_every_table_has_one_column_for_each_name() -> None:
    for table in TABLES:
        names = names_of(table)
        assert len(set(names)) == len(names), table.name
    stations = names_of(next(table for table in TABLES if table.name == "stations"))
    assert stations[:2] == ["link", "label"]
    assert {"tx_frequency_mhz", "mode_radio_type", "mode_label", "licensed_channel_licence_number"} < set(
        stations
    )
