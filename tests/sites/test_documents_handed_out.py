"""Documents on pages and through the API: who gets a file, how, and that it is the one that was entered."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from sites.documents import store
from sites.models import Document, Job
from sites.services import jobs, record
from sites.services.documents import look_through
from tests.documents import JPEG, PDF, attached, files, own_folder, png, sent_by
from tests.made import TESTS, person, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    return own_folder(settings, tmp_path)


def test_a_changed_or_missing_file_is_not_handed_out(folder: Path) -> None:
    document = attached(title="Grant")
    path = store.path_of(document.stored_as)
    client = Client()
    client.force_login(person_of_role("viewer"))
    address = reverse("document-file", args=[document.pk])
    assert sent_by(client.get(address)) == PDF

    path.write_bytes(PDF.replace(b"1.4", b"1.5"))
    answer = client.get(address)
    assert answer.status_code == 409
    assert "is not the one that was entered" in answer.content.decode()
    answer = client.get(f"/api/v1/documents/{document.pk}/file/")
    assert answer.status_code == 409
    assert answer.json()["type"].endswith("/problems/file-changed/")

    path.unlink()
    assert "not where it was stored" in client.get(address).content.decode()


def test_a_file_is_handed_out_to_be_saved_and_never_run() -> None:
    document = attached(JPEG, "IMG.jpg", title='Mast "A"\r\nSet-Cookie: x / ../küste')
    client = Client()
    client.force_login(person_of_role("viewer"))
    answer = client.get(reverse("document-file", args=[document.pk]))
    assert sent_by(answer) == JPEG

    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"].startswith("sandbox; default-src 'none'")
    assert answer["Content-Disposition"].startswith("attachment; filename")
    assert "Set-Cookie" not in answer
    assert "/" not in answer["Content-Disposition"]


def test_a_file_is_for_those_who_may_see_what_it_belongs_to() -> None:
    document = attached(title="Quarry lease")
    address = reverse("document-file", args=[document.pk])
    client = Client()
    assert client.get(address).status_code == 302  # to the sign-in page

    client.force_login(person("papers-only", "places.view_document"))
    assert client.get(address).status_code == 403
    assert client.get(reverse("document", args=[document.pk])).status_code == 403
    assert document.title not in client.get(reverse("document-list")).content.decode()
    assert client.get(f"/api/v1/documents/{document.pk}/file/").status_code == 404

    client.force_login(person("sites-only", "places.view_site"))
    assert client.get(address).status_code == 403
    assert "Documents" not in client.get(reverse("site", args=[document.belongs_to_id])).content.decode()


def test_a_document_is_attached_on_a_page_and_read_on_that_of_its_object(folder: Path) -> None:
    place = site("S1")
    client = Client()
    client.force_login(person_of_role("registrar", username="remi"))
    address = reverse("document-add", args=["site", place.pk])
    assert 'enctype="multipart/form-data"' in client.get(address).content.decode()

    def sent(content: bytes, name: str) -> dict[str, Any]:
        return {
            "file": SimpleUploadedFile(name, content),
            "kind": "agreement",
            "title": "",
            "dated": "2026-03-04",
        }

    refused = client.post(address, sent(b"MZ\x00", "lease.pdf"))
    assert refused.status_code == 400
    assert "none of the forms that are taken" in refused.content.decode()
    assert "2026-03-04" in refused.content.decode()
    assert "Choose a file of at most 20 MB" in client.post(address, {"kind": "other"}).content.decode()

    answer = client.post(address, sent(PDF, "lease of the hill.pdf"))
    assert answer["Location"] == reverse("site", args=[place.pk])
    page = client.get(answer["Location"]).content.decode()
    assert "lease of the hill" in page
    assert "2026-03-04, remi" not in page
    document = Document.objects.get()
    assert (document.title, document.entered_by_name) == ("lease of the hill", "remi")
    assert client.get(reverse("document-add", args=["person", 1])).status_code == 404


def test_a_file_beyond_every_bound_is_passed_over_while_it_comes_in(settings: Any, folder: Path) -> None:
    settings.DOCUMENT_MOST_MB = settings.UPLOAD_MOST_MB = 1
    client = Client()
    client.force_login(person_of_role("registrar"))
    sent = {"file": SimpleUploadedFile("long.txt", b"x" * 3_000_000), "kind": "other"}
    answer = client.post(reverse("document-add", args=["site", site("S1").pk]), sent)

    assert answer.status_code == 422
    assert "Choose a file of at most 1 MB; a larger one is not taken." in answer.content.decode()
    assert files(folder) == []


def test_a_document_is_entered_read_changed_and_removed_through_the_api() -> None:
    place = site("S1")
    client = APIClient()
    client.force_authenticate(person_of_role("administrator"))
    body = {"of": "site", "of_id": place.pk, "kind": "photo", "file": SimpleUploadedFile("mast.png", png())}
    made = client.post("/api/v1/documents/", body, format="multipart")
    assert made.status_code == 201, made.json()
    assert made.json()["sha256"] == hashlib.sha256(png()).hexdigest()
    assert made.json()["title"] == "mast"
    one = f"/api/v1/documents/{made.json()['id']}/"
    got = client.get(f"{one}file/", headers={"Accept": "image/png"})
    assert sent_by(got) == png()
    assert client.get("/api/v1/documents/", {"of": "site", "of_id": str(place.pk)}).json()["count"] == 1
    assert client.get("/api/v1/documents/", {"of": "link"}).json()["count"] == 0
    assert client.patch(one, {"title": "Mast from the east", "version": 1}, format="json").status_code == 200
    assert client.patch(one, {"of_id": 7, "version": 2}, format="json").status_code == 400
    assert client.delete(one).status_code == 204


def test_the_api_says_what_is_wrong_with_a_file() -> None:
    place = site("S1")
    client = APIClient()
    client.force_authenticate(person_of_role("administrator"))

    def sent(**changes: Any) -> Any:
        body = {"of": "site", "of_id": place.pk, "kind": "photo", **changes}
        return client.post("/api/v1/documents/", body, format="multipart")

    wrong = sent(file=SimpleUploadedFile("mast.png", b"GIF89a\x00"))
    assert (wrong.status_code, wrong.json()["errors"][0]["field"]) == (400, "file")
    assert sent().json()["errors"] == [{"field": "file", "detail": "Send a file of at most 20 MB."}]
    gone = sent(of_id=99, file=SimpleUploadedFile("mast.png", png()))
    assert gone.json()["errors"][0]["field"] == "of_id"
    client.force_authenticate(person_of_role("field engineer"))
    assert sent(file=SimpleUploadedFile("mast.png", png())).status_code == 403
    assert not Document.objects.exists()


def test_the_command_compares_every_file_and_removes_only_what_was_removed_long_ago(folder: Path) -> None:
    kept, changed, removed = attached(title="Kept"), attached(title="Changed"), attached(title="Removed")
    record.remove(removed, by=TESTS)
    (folder / "coming").mkdir(exist_ok=True)
    broken_off = folder / "coming" / ("a" * 32)
    broken_off.write_bytes(b"%PDF-")
    os.utime(broken_off, (0, 0))
    store.path_of(changed.stored_as).write_bytes(b"%PDF-other")

    out, err = StringIO(), StringIO()
    with pytest.raises(CommandError, match="Bring these files back"):
        call_command("check_documents", stdout=out, stderr=err)
    assert (
        out.getvalue()
        == "2 documents compared, 1 wrong. 1 files without a document removed, 1 kept for now.\n"
    )
    assert f"Document {changed.pk}: The file of “Changed” is not the one that was entered" in err.getvalue()
    assert not broken_off.exists()
    assert store.path_of(removed.stored_as).exists()

    later = timezone.now() + dt.timedelta(days=401)
    look = look_through(remove_after_days=400, now=later)
    assert look.removed == [removed.stored_as]
    assert store.path_of(kept.stored_as).exists()


def test_every_night_what_is_gone_or_changed_is_named_in_the_list_of_jobs(folder: Path) -> None:
    attached(title="Kept")
    changed, gone = attached(title="Changed"), attached(title="Gone")
    night = dt.datetime(2026, 6, 2, 4, 11, tzinfo=dt.UTC)
    jobs.submit_due(now=night - dt.timedelta(minutes=2))
    assert not Job.objects.filter(kind="check_documents").exists()
    for _again in range(2):
        jobs.submit_due(now=night)
    job = Job.objects.get(kind="check_documents")
    assert jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.result, job.steps_done) == (Job.State.DONE, {"compared": 3}, 3)

    store.path_of(changed.stored_as).write_bytes(b"%PDF-other")
    store.path_of(gone.stored_as).unlink()
    again = jobs.submit("check_documents", {})
    assert jobs.run_job(again.pk)
    again.refresh_from_db()
    assert again.state == Job.State.FAILED
    assert "The file of “Changed” is not the one that was entered" in again.error
    assert f"Document {gone.pk}" in again.error
    assert "Kept" not in again.error
    client = Client()
    client.force_login(person_of_role("administrator"))
    listed = client.get(reverse("job-list")).content.decode()
    assert "comparison of documents with their files" in listed
    assert "2 documents are not as they were entered. Bring their files back from the backup" in listed


def test_a_list_of_documents_reads_the_owners_of_a_kind_together() -> None:
    client = Client()
    client.force_login(person_of_role("viewer"))
    attached()
    client.get(reverse("document-list"))  # what the process keeps once it is known is read before counting
    counts = []
    for _ in range(2):
        attached()
        with CaptureQueriesContext(connection) as queries:
            assert client.get(reverse("document-list")).status_code == 200
        counts.append(len(queries))
        for _ in range(5):
            attached()

    assert counts[0] == counts[1]
