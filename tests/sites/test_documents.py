"""Documents: what is taken, what is refused and why, that nothing half-written is left, and who gets a file."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import struct
import zlib
from collections.abc import Iterator
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
from sites.errors import RegisterError
from sites.models import ChangeRecord, Document, Site
from sites.services import record
from sites.services.documents import attach, look_through, new_document
from sites.services.record import Author
from sites.services.undo import undo
from tests.made import TESTS, Register, person, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.4\n1 0 obj << >> endobj\ntrailer << >>\n%%EOF\n"
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + b"\x11" * 40 + b"\xff\xd9" + b"what a camera adds after the end"


def png(width: int = 1, height: int = 1, data: bytes = b"\x00\x00") -> bytes:
    """A PNG (third edition, 5.3): signature, IHDR, IDAT, IEND."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(data, 9))
        + chunk(b"IEND", b"")
    )


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Iterator[Path]:
    settings.DOCUMENTS_DIR = tmp_path / "documents"
    return settings.DOCUMENTS_DIR


def files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def sent_by(answer: Any) -> bytes:
    return b"".join(answer.streaming_content)


def attached(content: bytes = PDF, name: str = "letter.pdf", **values: Any) -> Document:
    place = values.pop("place", None) or site(f"S{Document.objects.count()}")
    return attach(new_document(place, **values), [content], name, by=TESTS)


@pytest.mark.parametrize(
    ("content", "name", "media_type"),
    [
        (PDF, "letter.pdf", "application/pdf"),
        (png(), "mast.png", "image/png"),
        (JPEG, "IMG_0042.JPG", "image/jpeg"),
        ("Gemessen: −81 dBm\r\n".encode(), "levels.txt", "text/plain"),
        (b"f_MHz;level\n410.0;-81\n", "levels.csv", "text/plain"),
        (PDF, "no ending", "application/pdf"),
    ],
)
def test_a_file_is_known_by_what_it_holds(content: bytes, name: str, media_type: str, folder: Path) -> None:
    document = attached(content, name)

    assert document.media_type == media_type
    assert document.size_bytes == len(content)
    assert document.sha256 == hashlib.sha256(content).hexdigest()
    assert [path.read_bytes() for path in files(folder)] == [content]
    assert files(folder)[0].stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"", "empty.pdf", "“empty.pdf” is empty"),
        (b"MZ\x90\x00" + b"\x00" * 100, "letter.pdf", "none of the forms that are taken"),
        (b"PK\x03\x04" + b"\x00" * 100, "letter.docx", "none of the forms that are taken"),
        ("Müller".encode("latin-1"), "note.txt", "none of the forms that are taken"),
        (PDF[:-7], "letter.pdf", "begins as a PDF, but its end is missing"),
        (png()[:-6], "mast.png", "begins as a PNG picture, but its end is missing"),
        (JPEG[:30], "mast.jpg", "begins as a JPEG picture, but its end is missing"),
        (png(), "letter.pdf", "“letter.pdf” ends in .pdf, but it holds a PNG picture"),
        (b"<script>alert(1)</script>", "page.html", "ends in .html, but it holds plain text"),
    ],
)
def test_what_is_not_taken_is_refused_in_a_sentence(
    content: bytes, name: str, sentence: str, folder: Path
) -> None:
    with pytest.raises(RegisterError, match=sentence) as refused:
        attached(content, name)

    assert refused.value.field == "file"
    assert files(folder) == []
    assert not Document.objects.exists()


def test_a_file_that_is_too_large_is_refused_and_not_read_to_its_end(settings: Any, folder: Path) -> None:
    settings.DOCUMENT_MOST_MB = 1
    given = []

    def parts() -> Iterator[bytes]:
        for number in range(1000):
            given.append(number)
            yield b"x" * 100_000

    with pytest.raises(RegisterError, match="larger than 1 MB"):
        attach(new_document(site("S1")), parts(), "long.txt", by=TESTS)

    assert len(given) == 11
    assert files(folder) == []


def test_a_picture_that_would_fill_the_memory_is_kept_without_being_unpacked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bomb = png(60_000, 60_000, b"\x00" * 5_000_000)  # as declared, 3.6 GB of grey
    assert len(bomb) < 10_000

    def never(*_: Any, **__: Any) -> bytes:
        raise AssertionError("something was unpacked")

    monkeypatch.setattr(zlib, "decompress", never)
    monkeypatch.setattr(zlib, "decompressobj", never)
    document = attached(bomb, "wall.png")

    with documents_opened(document) as file:
        assert file.read() == bomb


def documents_opened(document: Document) -> Any:
    return store.opened(document.stored_as, document.sha256, document.title)


def test_the_chunks_of_a_picture_may_not_lead_in_a_circle_or_out_of_it() -> None:
    long = (
        b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR" + b"\x00" * 17 + struct.pack(">I", 2**32 - 1)
    )
    with pytest.raises(RegisterError, match="its end is missing"):
        attached(long + b"IDAT" + b"\x00" * 20, "mast.png")


@pytest.mark.parametrize(
    "name",
    [
        "../../../etc/passwd.pdf",
        "..\\..\\boot.pdf",
        "/etc/x.pdf",
        "a\x00b\r\nX: y.pdf",
        "\u202efdp.pdf",
        ".." * 200,
    ],
)
def test_a_name_is_never_a_path(name: str, folder: Path) -> None:
    document = attached(PDF, name)

    assert files(folder) == [folder / document.stored_as[:2] / document.stored_as]
    assert not set(document.file_name) & set("/\\\x00\r\n\u202e")
    assert len(document.file_name) <= 120


def test_a_stored_name_that_is_none_leads_nowhere() -> None:
    for name in ("../../x", "", "A" * 32, "0" * 31, "0" * 32 + "\n"):
        with pytest.raises(ValueError, match="names no stored file"):
            store.path_of(name)


def test_the_same_file_twice_on_one_object_is_said_and_on_another_is_taken(folder: Path) -> None:
    hill = site("HILL")
    attached(place=hill, title="Lease")
    with pytest.raises(RegisterError, match=r"attached to HILL .* already, as “Lease” \(letter.pdf"):
        attached(place=hill, title="Lease again")
    attached(title="Lease")

    assert len(files(folder)) == Document.objects.count() == 2


def test_an_upload_that_breaks_off_leaves_nothing(folder: Path) -> None:
    def broken() -> Iterator[bytes]:
        yield PDF[:20]
        raise ConnectionResetError

    with pytest.raises(RegisterError, match="could not be stored"):
        attach(new_document(site("S1")), broken(), "letter.pdf", by=TESTS)

    assert files(folder) == []
    assert not Document.objects.exists()


def test_a_full_disk_is_said_and_leaves_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RegisterError, match=r"No space left on device.*nothing of it was kept"):
        attached()

    assert files(folder) == []


def test_a_row_that_cannot_be_written_takes_the_file_along(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: Any, **__: Any) -> None:
        raise RuntimeError("the database went away")

    place = site("S1")
    monkeypatch.setattr(record, "create", fails)
    with pytest.raises(RuntimeError):
        attach(new_document(place), [PDF], "letter.pdf", by=TESTS)

    assert files(folder) == []


def test_what_was_removed_meanwhile_gets_no_document(folder: Path) -> None:
    place = site("S1")
    document = new_document(place)
    record.remove(place, by=TESTS)
    with pytest.raises(RegisterError, match="somebody removed it in the meantime"):
        attach(document, [PDF], "letter.pdf", by=TESTS)

    assert files(folder) == []


def test_a_removed_object_takes_its_documents_along_and_the_record_names_them() -> None:
    made = Register()
    link = made.link("L1", site("A1"), site("B1", 47.1))
    attach(new_document(link, title="Path survey"), [PDF], "survey.pdf", by=TESTS)
    record.remove(link, by=TESTS)

    assert not Document.objects.exists()
    assert (
        ChangeRecord.objects.get(object_type="places.document", action="remove").object_label == "Path survey"
    )


def test_undoing_a_site_that_got_a_document_since_is_refused() -> None:
    planner = person_of_role("planner")
    place = Site(code="U1", name="Hill", latitude_deg=47.0, longitude_deg=14.0, position_typed="47, 14")
    record.create(place, by=Author.of(planner))
    made = ChangeRecord.objects.get(object_type="places.site")
    attach(new_document(place, title="Lease"), [PDF], "lease.pdf", by=TESTS)
    assert made.act is not None
    with pytest.raises(RegisterError, match="Lease now belongs to U1 Hill"):
        undo(made.act, by=planner)


def test_undoing_a_removal_brings_the_document_back_with_its_file() -> None:
    registrar = person_of_role("registrar")
    document = attached(title="Lease")
    record.remove(document, by=Author.of(registrar))
    removal = ChangeRecord.objects.get(object_type="places.document", action="remove")
    assert removal.act is not None
    undo(removal.act, by=registrar)

    with documents_opened(Document.objects.get(title="Lease")) as file:
        assert file.read() == PDF


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


def test_a_list_of_documents_reads_the_owners_of_a_kind_together() -> None:
    client = Client()
    client.force_login(person_of_role("viewer"))
    counts = []
    for _ in range(2):
        attached()
        with CaptureQueriesContext(connection) as queries:
            assert client.get(reverse("document-list")).status_code == 200
        counts.append(len(queries))
        for _ in range(5):
            attached()

    assert counts[0] == counts[1]
