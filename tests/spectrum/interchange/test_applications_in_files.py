"""Applications, their links, what was filed, and the steps of a licence in files: they come in whole, and stay as they were."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from typing import Any

import pytest

from licences.models import Application, Licence, LicenceEvent
from sites.errors import NotAllowedError
from sites.models import ChangeRecord
from sites.services import record
from sites.services.record import Author
from sites.tables.delimited import csv_lines
from spectrum.extracts.reading.delimited import rows_of
from spectrum.interchange.files import write_archive
from spectrum.interchange.kept import _fits
from spectrum.models import ApplicationLink, FiledStation
from spectrum.services.interchange import Outcome, import_tables
from tests.made import TESTS
from tests.small_register import SmallRegister, person_of_role

from .test_round_trip import full_register

pytestmark = pytest.mark.django_db
Rows = list[dict[str, str]]


@pytest.fixture
def small() -> SmallRegister:
    return full_register()


def tables(**wanted: Callable[[Rows], Any]) -> bytes:
    """The register as an archive; the named tables only, each after a function has altered its rows."""
    target, made = io.BytesIO(), io.BytesIO()
    write_archive(target)
    whole = zipfile.ZipFile(target)
    with zipfile.ZipFile(made, "w") as archive:
        for name, alter in wanted.items():
            head, *rows = rows_of(whole.read(f"{name}.csv").decode().lstrip("\ufeff"), ",")
            cells = [dict(zip(head, row, strict=True)) for row in rows]
            kept = alter(cells)
            cells = cells if kept is None else kept
            archive.writestr(f"{name}.csv", "".join(csv_lines(head, ([r[n] for n in head] for r in cells))))
    return made.getvalue()


def brought(content: bytes, **more: Any) -> Outcome:
    return import_tables(content, "part.zip", by=TESTS, **more)


def said(content: bytes) -> list[str]:
    before = ChangeRecord.objects.count()
    outcome = brought(content)
    assert not outcome.written and ChangeRecord.objects.count() == before, "nothing was written"
    return [str(trouble) for trouble in outcome.drafted.troubles]


def put(column: str, value: str, **which: str) -> Callable[[Rows], Any]:
    """Set a cell of the rows that have these values."""

    def alter(rows: Rows) -> None:
        chosen = [row for row in rows if all(row[name] == value for name, value in which.items())]
        assert chosen, which
        for row in chosen:
            row[column] = value

    return alter


def test_what_was_filed_and_decided_is_not_changed_by_a_file(small: SmallRegister) -> None:
    decided = tables(applications=put("state", "refused", number="A-K2"))
    assert said(decided) == [
        "applications, row 3: application A-K2 is granted; only one that is being drawn up can be changed by a file."
    ]
    filed = tables(applications=put("filed_on", "2026-11-01", number="A-K3"))
    assert "application A-K3 is filed, not decided yet; only one" in said(filed)[0]
    (sentence, *_) = said(tables(applications=put("state", "filed", number="A-K4")))
    assert "column state: this is set by what is done on the page of A-K4" in sentence
    figures = tables(
        filed_stations=lambda rows: rows[0].update(label=rows[0]["label"], licensed_channel_label="")
    )
    assert "licensed_channel" in said(figures)[0]
    other = tables(licences=put("application", "A-K2", number="L-1"))
    assert (
        "licences, row 2, column application: this is set by what is done on the page of RA L-1"
        in said(other)[0]
    )
    step = tables(licence_steps=put("proof", "another letter", number="2"))
    assert "what was entered then is not changed by a file" in said(step)[0]


def test_one_that_is_being_drawn_up_takes_new_remarks_and_the_same_again_changes_nothing(
    small: SmallRegister,
) -> None:
    content = tables(applications=put("remarks", "By spring.", number="A-K4"))
    assert brought(content, dry_run=True).drafted.counts()["applications"] == {
        "new": 0, "changed": 1, "same": 3,
    }  # fmt: skip
    assert Application.objects.get(number="A-K4").remarks == ""
    assert brought(content).written
    assert Application.objects.get(number="A-K4").remarks == "By spring."
    assert brought(content).drafted.counts()["applications"]["same"] == 4


def test_a_new_row_is_not_slipped_into_what_stands(small: SmallRegister) -> None:
    def another(rows: Rows) -> Rows:
        return [{**rows[0], "application": "A-K2", "link": "K1"}]

    assert (
        "column application: A-K2 is in the register already; add to it on its page"
        in said(tables(application_links=another))[0]
    )
    steps = tables(licence_steps=lambda rows: [{**rows[0], "number": "9"}])
    assert "column licence_authority: RA L-1 is in the register already" in said(steps)[0]


def _new_application(rows: Rows, **values: str) -> Rows:
    drawn_up = next(row for row in rows if row["number"] == "A-K4")
    return [{**drawn_up, "number": "A-9", **values}]


def test_a_link_comes_into_one_open_application_of_its_own_holder(small: SmallRegister) -> None:
    def linked(*codes: str) -> Callable[[Rows], Rows]:
        return lambda rows: [{**rows[0], "application": "A-9", "link": code, "report": ""} for code in codes]

    twice = tables(applications=_new_application, application_links=linked("K3"))
    assert said(twice) == [
        "application_links, row 2, column link: K3 is in application A-K3 already, which is not decided."
    ]
    others = tables(
        applications=lambda rows: _new_application(rows, holder="Another party"),
        application_links=linked("K1"),
    )
    assert "K1 is a link of Our utility, the application is one of Another party." in said(others)[0]
    assert brought(tables(applications=_new_application, application_links=linked("K1"))).written
    assert ApplicationLink.objects.get(application__number="A-9").link == small.link


def test_a_licence_comes_from_an_application_that_was_granted(small: SmallRegister) -> None:
    content = tables(licences=lambda rows: [{**rows[1], "number": "L-9", "application": "A-K3"}])
    assert "column application: application A-K3 is filed, not decided yet" in said(content)[0]


@pytest.mark.parametrize(
    ("table", "column", "value", "sentence"),
    [
        ("filed_stations", "figures", {"site_id": "NOWHERE"}, "it names “NOWHERE”; there is no such site"),
        ("filed_stations", "figures", {"gain_dbi": "ten"}, "gain_dbi has the value 'ten', which cannot stand there."),
        ("filed_stations", "figures", {"more": 1}, "'more' is not known"),
        ("filed_stations", "figures", {"receivers": [{}]}, "each of the receivers has code, "),
        ("application_links", "report", {"rows": [{"weight": 1}]}, "'headline' is missing"),
        ("application_links", "report", {"must_fix": True}, "must_fix has the value 'True'"),
        ("applications", "filed_as", {"asked": ["horoscope"]}, "'horoscope' is no field of the data sheet"),
        ("applications", "filed_as", {"general": {"tx_site": "x"}}, "general holds texts under purpose"),
        ("licence_steps", "changes", {"colour": ["", "red"]}, "expected what the step set"),
        ("licence_steps", "changes", {"holder_id": ["", "Nobody"]}, "it names “Nobody”; there is no such holder"),
    ],
)  # fmt: skip
def test_a_structure_that_pages_rely_on_is_looked_at(
    small: SmallRegister, table: str, column: str, value: dict[str, Any], sentence: str
) -> None:
    def alter(rows: Rows) -> Rows:
        row = next(row for row in rows if row[column])
        return [{**row, column: json.dumps({**json.loads(row[column]), **value})}]

    assert any(f"{table}, row 2" in s and sentence in s for s in said(tables(**{table: alter})))


def test_what_was_removed_since_is_left_empty_in_what_was_filed(small: SmallRegister) -> None:
    kept = FiledStation.objects.first()
    assert kept is not None
    kept.figures = {**kept.figures, "site_id": 999_999}
    record.change(kept, by=TESTS)
    found: list[dict[str, Any]] = []
    tables(filed_stations=lambda rows: found.extend(json.loads(row["figures"]) for row in rows))
    assert [(each["site_id"], each["radio_type_id"]) for each in found if each["site_id"] is None] == [
        (None, "Radio")
    ]


def test_whoever_may_not_file_brings_in_no_applications(small: SmallRegister) -> None:
    content = tables(applications=lambda rows: None)
    planner = person_of_role("planner")
    with pytest.raises(NotAllowedError, match="applications"):
        import_tables(content, "part.zip", by=Author.of(planner))
    assert not import_tables(content, "part.zip", by=Author.of(person_of_role("registrar"))).drafted.troubles


def test_steps_are_numbered_in_the_order_in_which_they_were_taken(small: SmallRegister) -> None:
    steps = LicenceEvent.objects.filter(licence=small.licence).order_by("pk")
    assert [step.number for step in steps] == [1, 2]
    assert Licence.objects.get(number="L-2").events.count() == 0
    assert _fits(True, int) is False and _fits(1, float) and not _fits(None, str)
