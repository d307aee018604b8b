"""The one way to write: it validates, saves and records, and nothing goes round it."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from licences.models import Licence
from sites.errors import DirectWriteError, RegisterError, StaleWriteError
from sites.models import ChangeRecord, Site
from sites.services import record
from sites.services.record import Author
from spectrum.models import RadioMode
from tests.made import TESTS, TODAY, Register, person, site

pytestmark = pytest.mark.django_db


def test_a_new_object_is_recorded_with_its_author_and_values() -> None:
    ada = person("ada")
    made = record.create(
        Site(code="S1", name="Hill", latitude_deg=47.0, longitude_deg=14.0, position_typed="47, 14"),
        by=Author.of(ada),
    )
    entry = ChangeRecord.objects.get()
    assert (entry.by, entry.action, entry.object_type, entry.object_id) == (
        ada,
        "create",
        "places.site",
        made.pk,
    )
    assert entry.changes["latitude_deg"] == [None, 47.0]


def test_a_change_is_recorded_from_what_to_what() -> None:
    made = site("S1")
    made.structure_height_m = 45.0
    record.change(made, by=TESTS, reason="new mast")
    entry = ChangeRecord.objects.first()
    assert entry is not None
    assert (entry.changes, entry.reason) == ({"structure_height_m": [None, 45.0]}, "new mast")
    assert made.version == 2


def test_a_save_that_changes_nothing_records_nothing() -> None:
    made = site("S1")
    record.change(made, by=TESTS)
    assert ChangeRecord.objects.count() == 1
    assert made.version == 1


def test_invalid_values_write_neither_object_nor_entry() -> None:
    made = site("S1")
    made.latitude_deg = 91.0
    with pytest.raises(ValidationError, match="Latitude must lie between"):
        record.change(made, by=TESTS)
    assert Site.objects.get().latitude_deg == 47.0
    assert ChangeRecord.objects.count() == 1


def test_the_second_of_two_people_is_told_who_was_first() -> None:
    site("S1")
    hers, his = Site.objects.get(), Site.objects.get()
    hers.name = "Hers"
    record.change(hers, by=Author.of(person("ada")))
    his.name = "His"
    with pytest.raises(StaleWriteError, match="changed by ada"):
        record.change(his, by=TESTS)
    assert Site.objects.get().name == "Hers"


def test_an_object_that_is_in_use_is_not_removed_and_its_users_are_named() -> None:
    register = Register()
    a, b = site("S1"), site("S2", 47.2)
    register.link("L-1", a, b)
    with pytest.raises(RegisterError, match="still used by L-1/A"):
        record.remove(a, by=TESTS)
    assert Site.objects.filter(pk=a.pk).exists()


def test_removing_a_link_records_its_stations_too() -> None:
    register = Register()
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    record.remove(link, by=TESTS)
    removed = ChangeRecord.objects.filter(action="remove").values_list("object_label", flat=True)
    assert sorted(removed) == ["L-1", "L-1/A", "L-1/B"]


@pytest.mark.parametrize(
    "write",
    [
        lambda s: s.save(),
        lambda s: s.delete(),
        lambda s: Site.objects.update(name="x"),
        lambda s: Site.objects.all().delete(),
        lambda s: Site.objects.bulk_create([Site(code="x")]),
        lambda s: Site.objects.bulk_update([s], ["name"]),
        lambda s: Site.objects.create(code="x"),
    ],
)
def test_no_write_goes_past_the_service(write: object) -> None:
    made = site("S1")
    with pytest.raises(DirectWriteError, match=r"sites\.services\.record"):
        write(made)  # type: ignore[operator]


@pytest.mark.parametrize(
    "tamper",
    [
        lambda: ChangeRecord.objects.update(by_name="nobody"),
        lambda: ChangeRecord.objects.all().delete(),
        lambda: ChangeRecord.objects.filter(action="create")._raw_delete("default"),
        lambda: ChangeRecord.objects.bulk_update([_renamed()], ["by_name"]),
    ],
)
def test_the_change_record_can_be_neither_edited_nor_deleted_in_bulk(tamper: object) -> None:
    site("S1")
    with pytest.raises(DatabaseError, match="neither edited nor deleted"), transaction.atomic():
        tamper()  # type: ignore[operator]
    assert ChangeRecord.objects.get().by_name == "tests"


def _renamed() -> ChangeRecord:
    entry = ChangeRecord.objects.get()
    entry.by_name = "nobody"
    return entry


def test_an_entry_of_the_change_record_refuses_edit_and_delete() -> None:
    site("S1")
    entry = ChangeRecord.objects.get()
    with pytest.raises(RegisterError, match="cannot be edited"):
        entry.save()
    with pytest.raises(RegisterError, match="cannot be deleted"):
        entry.delete()


def test_many_new_objects_are_recorded_one_by_one() -> None:
    rows = [
        Site(code=f"S{n}", name="x", latitude_deg=47.0, longitude_deg=14.0, position_typed="47, 14")
        for n in range(3)
    ]
    record.create_many(rows, by=TESTS)
    assert ChangeRecord.objects.filter(object_type="places.site").count() == 3


def test_one_bad_row_of_many_writes_none() -> None:
    rows = [
        Site(code=f"S{n}", name="x", latitude_deg=47.0 + 60 * n, longitude_deg=14.0, position_typed="47, 14")
        for n in range(2)
    ]
    with pytest.raises((DatabaseError, ValidationError)), transaction.atomic():
        record.create_many(rows, by=TESTS)
    assert Site.objects.count() == 0


def test_many_new_objects_ask_nothing_about_what_they_were_given() -> None:
    """Twice as many rows cost no more queries; a number that names nothing is still refused, and so is nothing."""
    made = Register()

    def queries(numbers: range) -> int:
        modes = [
            RadioMode(
                radio_type=made.radio, label=f"mode {n}", channel_width_hz=25_000, emission_designator="16K0F1D",
                occupied_bandwidth_hz=16_000, modulation="4-FSK", bit_rate_kbps=19.2, receiver_threshold_dbm=-108,
                required_ci_db=18,
            )
            for n in numbers
        ]  # fmt: skip
        with CaptureQueriesContext(connection) as seen:
            record.create_many(modes, by=TESTS)
        return len(seen)

    assert queries(range(10)) == queries(range(10, 30))
    for values in (
        {"authority": made.authority, "holder_id": 999_999},
        {"authority": None, "holder": made.own},
    ):
        with pytest.raises(ValidationError):
            record.create_many(
                [Licence(number="1", granted_on=TODAY, in_force_from=TODAY, **values)], by=TESTS
            )
