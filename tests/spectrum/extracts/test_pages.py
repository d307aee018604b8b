"""An extract brought in on a page: tried, written as it was shown or not at all, and then compared."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from sites.models import ChangeRecord, Job, Person
from sites.services import record
from sites.services.jobs.running import ClaimedJob
from spectrum.models import ExtractMapping, ExtractRun, ImportFile, Link
from spectrum.services import extract_uploads
from spectrum.services.extracts import described, save_mapping
from tests.made import TESTS
from tests.small_register import person_of_role
from tests.spectrum.extracts.made import csv_bytes, description, row

pytestmark = pytest.mark.django_db
GOOD = csv_bytes(row(), row(Number="F-101", MHz="6020.5", Km="90"))


class Desk:
    """A registrar at the pages; jobs are done as they are asked for."""

    def __init__(self, commits: Any) -> None:
        self.client, self.commits = Client(), commits
        self.client.force_login(person_of_role("registrar"))

    def post(self, name: str, sent: dict[str, Any], *arguments: Any) -> Any:
        with self.commits(execute=True):
            answer = self.client.post(reverse(name, args=arguments), sent)
        return self.client.get(answer["Location"]) if answer.status_code == 302 else answer

    def send(self, content: bytes, name: str = "valley.csv", **changes: Any) -> Any:
        file = io.BytesIO(content)
        file.name = name
        return self.post("extract-import", {"file": file, "mapping": "valley_fixed", **changes})

    def apply(self, trial: Any) -> Any:
        return self.post("extract-apply", {}, trial.context["job"].pk)


@pytest.fixture
def mapping() -> ExtractMapping:
    return save_mapping(described(description()), by=TESTS)


@pytest.fixture
def desk(mapping: ExtractMapping, django_capture_on_commit_callbacks: Any) -> Desk:
    return Desk(django_capture_on_commit_callbacks)


def test_the_pages_lead_from_the_file_through_the_trial_to_the_comparison(desk: Desk) -> None:
    before = ChangeRecord.objects.count()
    trial = desk.send(GOOD, as_of="2026-06-01")
    shown = trial.content.decode()
    assert "would be new, 0 would change; nothing is written yet." in shown
    assert "the stated length differs from the geodesic" in shown and ">3</span>" in shown, "class and row"
    assert "as of 2026-06-01" in shown
    assert not Link.objects.exists() and ChangeRecord.objects.count() == before

    done = desk.apply(trial)
    assert "are new, 0 changed. The whole network is checked next." in done.content.decode()
    assert f"{reverse('difference-list')}?extract=valley_fixed" in done.content.decode()
    assert Link.objects.count() == 2
    run = ExtractRun.objects.get()
    assert (run.by_name, str(run.as_of)) == (str(Person.objects.get(username="registrar")), "2026-06-01")
    assert Job.objects.filter(kind="check_network").exists()
    assert list(ImportFile.objects.values_list("name", flat=True)) == ["valley-cases.csv"] * 2


def test_the_same_file_once_more_brings_nothing_new(desk: Desk) -> None:
    desk.apply(desk.send(GOOD))
    before = ChangeRecord.objects.count()
    trial = desk.send(GOOD)
    assert "0 would be new, 0 would change" in trial.content.decode()
    done = desk.apply(trial)
    assert "0 are new, 0 changed." in done.content.decode()
    assert ChangeRecord.objects.count() == before
    assert ExtractRun.objects.count() == 2


def test_a_value_that_a_person_entered_is_shown_and_stays(desk: Desk) -> None:
    desk.apply(desk.send(GOOD))
    licence = Link.objects.all()[0].stations.all()[0].licensed_channel
    stored = licence.licence if licence else None
    assert stored is not None
    stored.service = "as we know it"
    record.change(stored, by=TESTS)

    trial = desk.send(GOOD).content.decode()
    assert "Stays as a person entered it: 1" in trial and "as we know it stays" in trial


def test_what_an_earlier_extract_wrote_is_shown_before_it_changes(desk: Desk) -> None:
    desk.apply(desk.send(GOOD))
    trial = desk.send(csv_bytes(row(Service="mobile"), row(Number="F-101", MHz="6020.5", Km="90")))
    assert "0 objects would be new, 1 would change" in trial.content.decode()
    assert ": fixed → mobile" in trial.content.decode()
    assert "0 objects are new, 1 changed" in desk.apply(trial).content.decode()


def test_a_register_that_moved_after_the_trial_is_not_overwritten(desk: Desk) -> None:
    trial = desk.send(GOOD)
    desk.apply(desk.send(csv_bytes(row())))
    before = ChangeRecord.objects.count()
    done = desk.apply(trial).content.decode()
    assert "other things would be written than you were shown. Nothing was written." in done
    assert ChangeRecord.objects.count() == before


def test_refused_cells_are_named_by_row_and_column_and_nothing_is_written(desk: Desk) -> None:
    answer = desk.send(csv_bytes(row(), row(Number="F-101", Granted="31.12.2018", MHz="six")))
    shown = answer.content.decode()
    assert "No: 2 things must be corrected first. Nothing was written." in shown
    assert "“six”" in shown and "Granted" in shown and "Write precisely" not in shown
    assert desk.client.post(reverse("extract-apply", args=[answer.context["job"].pk])).status_code == 404
    cases = desk.client.get(reverse("extract-cases", args=[answer.context["job"].pk]))
    assert cases["Content-Disposition"] == 'attachment; filename="valley-cases.csv"'
    assert "“six”" in cases.content.decode()


@pytest.mark.parametrize(
    ("content", "changes", "sentence"),
    [
        (b" ", {}, "found an empty file"),
        (b"%PDF-1.7", {}, "a PDF document"),
        (b"a,b\n1,2\n", {}, "no column of that heading"),
        (b"PK\x03\x04 and then nothing", {}, "a zip archive, not a table"),
        (GOOD, {"mapping": "nobody"}, "nobody is not one of the available choices"),
        (GOOD, {"mapping": ""}, "This field is required"),
        (GOOD, {"as_of": "2099-01-01"}, "was expected"),
        (GOOD, {"as_of": "tomorrow"}, "Enter a valid date"),
    ],
)
def test_a_file_or_form_that_cannot_be_used_is_refused_with_a_sentence(
    desk: Desk, content: bytes, changes: dict[str, Any], sentence: str
) -> None:
    answer = desk.send(content, **changes)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not ImportFile.objects.exists() and not Job.objects.exists()


def test_a_file_too_large_for_the_page_is_refused_unread(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("spectrum.views.extract_import.LARGEST_FILE", 100)
    monkeypatch.setattr(extract_uploads, "LARGEST_FILE", 100)
    answer = desk.send(GOOD)
    assert answer.status_code == 422 and "manage.py import_extract" in answer.content.decode()


def test_a_mapping_that_comes_with_the_program_is_offered_with_its_authority(desk: Desk) -> None:
    shown = desk.client.get(reverse("extract-import")).content.decode()
    assert '<optgroup label="VRA, Valley Radio Authority">' in shown
    assert "(comes with the program)" in shown


def test_a_job_that_writes_keeps_its_lease_until_it_is_done(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    held: list[float] = []
    monkeypatch.setattr(ClaimedJob, "hold", lambda _job, seconds: held.append(seconds))
    trial = desk.send(GOOD)
    assert held == []
    desk.apply(trial)
    assert held == [len(GOOD) / extract_uploads.WRITTEN_BYTES_PER_S]


def test_a_file_that_is_no_longer_kept_is_asked_for_again(desk: Desk) -> None:
    trial = desk.send(GOOD)
    ImportFile.objects.all().delete()
    shown = desk.client.get(reverse("extract-trial", args=[trial.context["job"].pk])).content.decode()
    assert "Write precisely this" not in shown
    answer = desk.client.post(reverse("extract-apply", args=[trial.context["job"].pk]))
    assert answer.status_code == 404
