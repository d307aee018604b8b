"""The chain over the change record: whatever was edited, taken out or moved after it was sealed is found."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, connections, transaction

from sites import guards
from sites.chain import START, entry_digest, link_digest
from sites.models import ChangeRecord, ChangeSeal, Site
from sites.services import jobs, record, sealing
from tests.made import TESTS, site

pytestmark = pytest.mark.django_db


@contextmanager
def by_somebody_with_the_database(table: str = guards.TABLE) -> Iterator[None]:
    """What nobody may do and an administrator of the database can: the triggers off, then on again."""
    guards.remove(connection, table)
    try:
        yield
    finally:
        guards.install(connection, table)


def sealed_sites(number: int = 5) -> list[ChangeRecord]:
    for n in range(number):
        site(f"S{n}")
    assert sealing.seal() == number
    return list(ChangeRecord.objects.order_by("id"))


def kind_of_break() -> str:
    broken = sealing.verify().broken
    assert broken is not None
    return f"{broken.position} {broken.kind}"


def test_the_digest_is_that_of_the_standard() -> None:
    # FIPS 180-4, SHA-256; the digest of the two bytes "{}" by another program: printf '{}' | sha256sum
    assert entry_digest({}) == "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"
    assert entry_digest({"added_later": None, "reason": ""}) == entry_digest({})
    assert link_digest(START, "a" * 64) != link_digest("a" * 64, START)


def test_what_was_written_is_sealed_in_order_and_verified() -> None:
    entries = sealed_sites()
    assert list(ChangeSeal.objects.values_list("position", "entry_id")) == [
        (n, entry.pk) for n, entry in enumerate(entries, 1)
    ]
    found = sealing.verify()
    end = sealing.head()
    assert end is not None
    assert (found.entries, found.broken, found.head_digest) == (5, None, end.digest)
    assert sealing.seal() == 0


def test_the_scheduler_seals() -> None:
    site("S1")
    jobs.tick()
    assert ChangeSeal.objects.count() == 1


def test_seals_can_be_neither_edited_nor_deleted() -> None:
    sealed_sites()
    for tamper in (
        lambda: ChangeSeal.objects.update(digest=START),
        lambda: ChangeSeal.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError, match="neither edited nor deleted"), transaction.atomic():
            tamper()


@pytest.mark.parametrize(
    "column", ["by_name", "reason", "object_label", "object_id", "changes", "at", "action", "object_type"]
)
def test_an_edited_entry_is_found(column: str) -> None:
    third = sealed_sites()[2]
    other = {
        "object_id": 77,
        "changes": {"name": [None, "another"]},
        "at": third.at + dt.timedelta(microseconds=1),
        "action": "remove",
    }.get(column, "x")
    with by_somebody_with_the_database():
        ChangeRecord.objects.filter(pk=third.pk).update(**{column: other})
    assert kind_of_break() == "3 edited"


def test_a_missing_entry_is_found_with_and_without_its_seal() -> None:
    third = sealed_sites()[2]
    with by_somebody_with_the_database():
        ChangeRecord.objects.filter(pk=third.pk)._raw_delete("default")
    assert kind_of_break() == "3 missing"
    with by_somebody_with_the_database(guards.SEALS):
        ChangeSeal.objects.filter(entry_id=third.pk)._raw_delete("default")
    assert kind_of_break() == "3 missing"


def test_moved_entries_are_found() -> None:
    sealed_sites()
    second, third = ChangeSeal.objects.filter(position__in=(2, 3)).order_by("position")
    with by_somebody_with_the_database(guards.SEALS):
        for seal, entry_id, digest in (
            (second, -1, second.entry_digest),
            (third, second.entry_id, second.entry_digest),
            (second, third.entry_id, third.entry_digest),
        ):
            ChangeSeal.objects.filter(position=seal.position).update(entry_id=entry_id, entry_digest=digest)
    assert kind_of_break() == "2 out of order"


def test_an_entry_put_in_behind_the_chain_is_found() -> None:
    sealed_sites()
    with by_somebody_with_the_database():
        forged = record._entry("create", Site(pk=9, code="X"), {}, TESTS, "")
        forged.save()
        ChangeRecord.objects.filter(pk=forged.pk).update(at=forged.at - dt.timedelta(days=30))
    assert sealing.seal() == 0
    assert kind_of_break() == "6 out of order"


def test_the_command_prints_the_digest_and_finds_a_cut_end_by_it() -> None:
    entries = sealed_sites()
    said = StringIO()
    call_command("verify_change_record", digest_only=True, stdout=said)
    noted = said.getvalue().strip()
    site("S9")
    call_command("verify_change_record", noted=noted, stdout=said)
    assert "6 entries, none edited" in said.getvalue()
    with by_somebody_with_the_database(), by_somebody_with_the_database(guards.SEALS):
        ChangeRecord.objects.filter(pk__gte=entries[4].pk)._raw_delete("default")
        ChangeSeal.objects.filter(entry_id__gte=entries[4].pk)._raw_delete("default")
    assert sealing.verify().broken is None  # nothing inside the record shows it
    wrong = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("verify_change_record", noted=noted, stderr=wrong)
    assert ended.value.code == 1
    assert "its end was cut off" in wrong.getvalue()


def test_the_command_names_the_first_broken_entry_and_refuses_what_is_no_digest() -> None:
    second = sealed_sites()[1]
    with by_somebody_with_the_database():
        ChangeRecord.objects.filter(pk=second.pk).update(by_name="nobody")
    wrong = StringIO()
    with pytest.raises(SystemExit):
        call_command("verify_change_record", stderr=wrong)
    assert f"Broken at position 2 (edited): entry {second.pk}" in wrong.getvalue()
    with pytest.raises(CommandError, match="64 hexadecimal figures"):
        call_command("verify_change_record", noted="abc")


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_long_write_keeps_nobody_waiting_and_is_sealed_when_it_commits() -> None:
    """Two real sessions: the first holds lower ids open while the second commits and is sealed."""
    written, may_commit = threading.Event(), threading.Event()

    def long_import() -> None:
        try:
            with transaction.atomic():
                for n in range(3):
                    site(f"L{n}")
                written.set()
                assert may_commit.wait(30)
        finally:
            connections.close_all()

    thread = threading.Thread(target=long_import)
    thread.start()
    assert written.wait(30)
    site("SHORT")
    assert sealing.seal() == 1
    may_commit.set()
    thread.join(30)
    assert sealing.seal() == 3
    labels = {entry.pk: entry.object_label.split()[0] for entry in ChangeRecord.objects.all()}
    order = [labels[entry_id] for entry_id in ChangeSeal.objects.values_list("entry_id", flat=True)]
    assert order == ["SHORT", "L0", "L1", "L2"]
    assert sealing.verify().broken is None


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_many_writers_and_many_sealers_at_once_make_one_chain() -> None:
    gate = threading.Barrier(10)
    errors: list[Exception] = []

    def act(number: int) -> None:
        try:
            gate.wait(30)
            for n in range(15):
                if number < 6:
                    site(f"W{number}-{n}")
                else:
                    sealing.seal()
        except Exception as error:
            errors.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=act, args=(n,)) for n in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    sealing.seal()
    assert errors == []
    found = sealing.verify()
    assert (found.entries, found.broken) == (90, None)
    assert list(ChangeSeal.objects.values_list("position", flat=True)) == list(range(1, 91))
