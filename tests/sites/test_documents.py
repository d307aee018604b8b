"""Documents as they are stored: what is taken, what is refused and why, and that nothing half-written is left."""

from __future__ import annotations

import hashlib
import os
import struct
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sites.documents import store
from sites.errors import RegisterError
from sites.models import ChangeRecord, Document, Site
from sites.services import record
from sites.services.documents import attach, new_document
from sites.services.record import Author
from sites.services.undo import undo
from tests.documents import JPEG, PDF, attached, files, own_folder, png
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    return own_folder(settings, tmp_path)


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
