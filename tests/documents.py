"""What the tests of documents share: small files of each form, a folder of their own, one attached."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Any

from sites.models import Document
from sites.services.documents import attach, new_document
from tests.made import TESTS, site

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


def own_folder(settings: Any, tmp_path: Path) -> Path:
    """Let documents be stored in a folder of the test's own."""
    settings.DOCUMENTS_DIR = tmp_path / "documents"
    folder: Path = settings.DOCUMENTS_DIR
    return folder


def files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def sent_by(answer: Any) -> bytes:
    return b"".join(answer.streaming_content)


def attached(content: bytes = PDF, name: str = "letter.pdf", **values: Any) -> Document:
    place = values.pop("place", None) or site(f"S{Document.objects.count()}")
    return attach(new_document(place, **values), [content], name, by=TESTS)
