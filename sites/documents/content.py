"""What a file holds, told by its first bytes and its frame. Nothing is decoded or unpacked. Pure."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import BinaryIO, Final

from sites.errors import RegisterError
from sites.words import gettext, gettext_noop

_PNG = b"\x89PNG\r\n\x1a\n"
_JPEG = b"\xff\xd8\xff"
_TAIL = 4096  # bytes at the end of a file in which its closing mark is sought
_PORTION = 65_536
_LONGEST_NAME = 120
#: Control characters that a text file has no use for.
_NOT_TEXT = re.compile("[\x00-\x08\x0e-\x1f\x7f]")


@dataclass(frozen=True)
class Form:
    """One form of file that is taken: its media type, its name in a sentence, and the endings that fit it."""

    media_type: str
    words: str
    endings: tuple[str, ...]


PDF: Final = Form("application/pdf", gettext_noop("a PDF"), ("pdf",))
PNG: Final = Form("image/png", gettext_noop("a PNG picture"), ("png",))
JPEG: Final = Form("image/jpeg", gettext_noop("a JPEG picture"), ("jpg", "jpeg", "jpe", "jfif"))
TEXT: Final = Form("text/plain", gettext_noop("plain text"), ("txt", "text", "csv", "log", "md"))
FORMS: Final = {form.media_type: form for form in (PDF, PNG, JPEG, TEXT)}
#: In words, for sentences; to be translated where it is said.
ACCEPTED: Final = gettext_noop("PDF, PNG, JPEG and plain text (UTF-8)")


def plain_name(name: str) -> str:
    r"""The last part of a file's name, without what could steer a terminal, a header or a path.

    >>> plain_name("../../etc/passwd"), plain_name("C:\\letters\\grant.pdf"), plain_name("..")
    ('passwd', 'grant.pdf', 'file')
    """
    last = re.split(r"[/\\]", name)[-1]
    kept = "".join(letter for letter in last if letter.isprintable()).strip(" .")
    if len(kept) > _LONGEST_NAME:
        ending = PurePosixPath(kept).suffix[:8]
        kept = kept[: _LONGEST_NAME - len(ending)] + ending
    return kept or "file"


def name_for(title: str, form: Form) -> str:
    """The name under which a file is handed out: letters and figures of its title, the ending of what it holds."""
    kept = "".join(letter if letter.isalnum() or letter in " -_" else " " for letter in title)
    return f"{' '.join(kept.split())[:80] or 'document'}.{form.endings[0]}"


def recognised(file: BinaryIO, name: str) -> Form:
    """The form of a file. RegisterError says what was found where it is none that is taken, or is cut off."""
    file.seek(0)
    head = file.read(16)
    if not head:
        raise _refused(gettext("“{name}” is empty. Choose a file with something in it.").format(name=name))
    if head.startswith(b"%PDF-"):
        form, whole = PDF, b"%%EOF" in _tail(file)
    elif head.startswith(_PNG):
        form, whole = PNG, _png_is_whole(file)
    elif head.startswith(_JPEG):
        form, whole = JPEG, _holds(file, b"\xff\xd9")
    else:
        _must_be_text(file, name)
        form, whole = TEXT, True
    if not whole:
        raise _refused(
            gettext(
                "“{name}” begins as {form}, but its end is missing. Copy it once more from where it came "
                "from."
            ).format(name=name, form=gettext(form.words))
        )
    ending = PurePosixPath(name).suffix.removeprefix(".").lower()
    if ending and ending not in form.endings:
        raise _refused(
            gettext(
                "“{name}” ends in .{ending}, but it holds {form}. Give it the ending .{endings}, if that "
                "is what it should be."
            ).format(name=name, ending=ending[:12], form=gettext(form.words), endings=form.endings[0])
        )
    return form


def _refused(sentence: str) -> RegisterError:
    return RegisterError(sentence, field="file")


def _tail(file: BinaryIO) -> bytes:
    size = file.seek(0, 2)
    file.seek(max(0, size - _TAIL))
    return file.read()


def _png_is_whole(file: BinaryIO) -> bool:
    """Whether the chunks follow each other from IHDR to IEND (PNG, third edition, 5.3); their data are passed over."""
    size = file.seek(0, 2)
    at, first = len(_PNG), True
    while at + 12 <= size:
        file.seek(at)
        length, kind = int.from_bytes(file.read(4), "big"), file.read(4)
        if first and (kind, length) != (b"IHDR", 13):
            return False
        at, first = at + 12 + length, False
        if kind == b"IEND":
            return at <= size
    return False


def _holds(file: BinaryIO, mark: bytes) -> bool:
    """Whether a mark stands anywhere in a file. Cameras write after the end of a picture, so its end is no guide."""
    file.seek(0)
    before = b""
    while portion := file.read(_PORTION):
        if mark in before + portion:
            return True
        before = portion[-len(mark) + 1 :]
    return False


def _must_be_text(file: BinaryIO, name: str) -> None:
    refusal = _refused(
        gettext(
            "“{name}” is none of the forms that are taken: {accepted}. "
            "What it holds counts, not how its name ends. Save or print it as PDF."
        ).format(name=name, accepted=gettext(ACCEPTED))
    )
    decoder = codecs.getincrementaldecoder("utf-8")()
    file.seek(0)
    try:
        while portion := file.read(_PORTION):
            if _NOT_TEXT.search(decoder.decode(portion)):
                raise refusal
        decoder.decode(b"", final=True)
    except UnicodeDecodeError as error:
        raise refusal from error
