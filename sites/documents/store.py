"""The folder of the files. A file is there whole or not at all; its name is a random number."""

from __future__ import annotations

import hashlib
import logging
import os
import re
import uuid
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

from django.conf import settings
from django.utils.translation import gettext

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.words import gettext_noop as _

from .content import Form, plain_name, recognised

PORTION: Final = 1_048_576
_STORED_AS: Final = re.compile("[0-9a-f]{32}")
_log = logging.getLogger(__name__)


class ChangedFileError(RegisterError):
    """A stored file is gone or is not what was stored; it is not handed out."""

    status = 409
    title = "The stored file is not the one that was entered"
    problem = "file-changed"


@dataclass(frozen=True)
class Stored:
    """A file that was just stored. ``name`` is what it was called, ``stored_as`` what it is called in the folder."""

    stored_as: str
    name: str
    form: Form
    size_bytes: int
    sha256: str


def path_of(stored_as: str) -> Path:
    """Where a file is. Only names that this module made lead anywhere."""
    if not _STORED_AS.fullmatch(stored_as):
        raise ValueError(f"{stored_as!r} names no stored file.")
    return Path(settings.DOCUMENTS_DIR) / stored_as[:2] / stored_as


@contextmanager
def stored(parts: Iterable[bytes], name: str) -> Iterator[Stored]:
    """Store a file for as long as the block ends well; where it raises, nothing of the file is left.

    The parts go to a temporary file, which is synced to the disk and then renamed: whoever is interrupted
    before leaves a temporary file behind, which check_documents removes. RegisterError (field ``file``)
    says what is wrong with the file.
    """
    name = plain_name(name)
    coming = Path(settings.DOCUMENTS_DIR) / "coming" / uuid.uuid4().hex
    try:
        target = path_of(coming.name)
        try:
            coming.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            size, digest = _write(coming, parts, name)
            with coming.open("rb") as file:
                form = recognised(file, name)
            coming.replace(target)
            _sync_folder(target.parent)
        except OSError as error:
            _log.exception("a document could not be stored")
            raise RegisterError(
                gettext(
                    "“{name}” could not be stored ({reason}); nothing of it was kept. Tell the administrator."
                ).format(name=name, reason=error.strerror),
                field="file",
            ) from error
        yield Stored(coming.name, name, form, size, digest)
    except BaseException:
        for path in (coming, target):
            with suppress(OSError):
                path.unlink(missing_ok=True)
        raise


def _write(path: Path, parts: Iterable[bytes], name: str) -> tuple[int, str]:
    most = settings.DOCUMENT_MOST_MB * 2**20
    digest, size = hashlib.sha256(), 0
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        for part in parts:
            size += len(part)
            if size > most:
                raise RegisterError(
                    gettext(
                        "“{name}” is larger than {most} MB, the most that is taken. Scan it in fewer "
                        "dots per inch, or attach it in parts."
                    ).format(name=name, most=settings.DOCUMENT_MOST_MB),
                    field="file",
                )
            digest.update(part)
            file.write(part)
        file.flush()
        os.fsync(file.fileno())
    return size, digest.hexdigest()


def _sync_folder(folder: Path) -> None:
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def opened(stored_as: str, sha256: str, called: str) -> BinaryIO:
    """A stored file, open at its beginning, after its content was compared with what was recorded.

    ChangedFileError: it is gone or was changed. What is read afterwards is the very file that was compared.
    """
    try:
        file = path_of(stored_as).open("rb")
    except FileNotFoundError as error:
        raise ChangedFileError(
            sentence(
                _(
                    "The file of “{called}” is not where it was stored, so it cannot be had. Tell the "
                    "administrator: it has to come back from the backup."
                ),
                called=called,
            )
        ) from error
    try:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        if digest != sha256:
            raise ChangedFileError(
                sentence(
                    _(
                        "The file of “{called}” is not the one that was entered: its SHA-256 is {digest}…, "
                        "recorded was {sha256}…. It is not handed out. Tell the administrator: it has to come "
                        "back from the backup."
                    ),
                    called=called,
                    digest=digest[:12],
                    sha256=sha256[:12],
                )
            )
        file.seek(0)
    except BaseException:
        file.close()
        raise
    return file
