"""Attaching documents, and tidying up the folder in which they are kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from django.apps import apps
from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from sites.documents import ChangedFileError, opened, stored
from sites.errors import NotAllowedError, RegisterError
from sites.models import ChangeRecord, Document, Registered
from sites.reading import written_day
from sites.sentences import sentence
from sites.services import record
from sites.services.record import Author
from sites.words import gettext_noop as _


def permission(act: str, label: str) -> str:
    """The permission for an act on objects of a model: ``permission("view", "places.site")``."""
    app, model = label.split(".")
    return f"{app}.{act}_{model}"


def may_see(person: Any, label: str) -> bool:
    """Whether somebody may see documents of objects of a model: whoever may see the object."""
    return person.has_perm("places.view_document") and person.has_perm(permission("view", label))


def to_keep(label: str) -> tuple[str, ...]:
    """The permissions of which any lets somebody keep documents of objects of a model: attach them, change what is said.

    Whoever may change the object may; a model can have a permission for its documents alone ("attach_link").
    """
    app, model = label.split(".")
    own = {codename for codename, _words in apps.get_model(label)._meta.permissions}
    alone = (f"{app}.attach_{model}",) if f"attach_{model}" in own else ()
    return (permission("change", label), *alone)


def may_keep(person: Any, label: str) -> bool:
    """Whether somebody's role reaches the documents of objects of a model."""
    return any(person.has_perm(name) for name in to_keep(label))


def may_attach(person: Any, label: str) -> bool:
    """Whether somebody may attach documents to objects of a model."""
    return person.has_perm("places.add_document") and may_keep(person, label)


def require_owner(person: Any, label: str) -> None:
    """NotAllowedError where a person's role does not reach the object that a document belongs to."""
    if not may_keep(person, label):
        raise NotAllowedError(
            gettext(
                "Your role does not include documents of this kind of object; it needs {permission}. An "
                "administrator gives roles."
            ).format(permission=permission("change", label))
        )


def attach(document: Document, parts: Iterable[bytes], name: str, *, by: Author) -> Document:
    """Store a file and enter its document; where either fails, neither is there.

    ``document`` says what it belongs to, its kind, title and date; an empty title becomes the file's name.
    RegisterError with the field ``file``: the file is none that is taken, or it is attached there already.
    """
    with stored(parts, name) as kept:
        document.title = document.title or PurePosixPath(kept.name).stem[:160]
        document.file_name, document.media_type = kept.name, kept.form.media_type
        document.size_bytes, document.sha256 = kept.size_bytes, kept.sha256
        document.stored_as, document.entered_by_name = kept.stored_as, by.name[:200]
        with transaction.atomic():
            owner = _held_owner(document)
            twin = Document.objects.filter(
                belongs_to_type=document.belongs_to_type,
                belongs_to_id=document.belongs_to_id,
                sha256=kept.sha256,
            ).first()
            if twin is not None:
                raise RegisterError(
                    gettext(
                        "This file is attached to {owner} already, as “{twin}” ({file_name}, entered on "
                        "{day} by {person})."
                    ).format(
                        owner=owner,
                        twin=twin,
                        file_name=twin.file_name,
                        day=written_day(twin.created_at),
                        person=twin.entered_by_name,
                    ),
                    field="file",
                )
            record.create(document, by=by)
    return document


def _held_owner(document: Document) -> Registered:
    """The object that a document belongs to, kept from being removed until the document is entered."""
    model: Any = document.belongs_to_type.model_class()
    owner: Registered | None = (
        model._default_manager.select_for_update().filter(pk=document.belongs_to_id).first()
    )
    if owner is None:
        raise RegisterError(
            gettext(
                "What the document should belong to is no longer in the register; somebody removed it in "
                "the meantime."
            )
        )
    return owner


def new_document(owner: Registered, **values: Any) -> Document:
    """A document of an object, not yet entered."""
    of = ContentType.objects.get_for_model(type(owner))
    return Document(belongs_to_type=of, belongs_to_id=owner.pk, **values)


@dataclass
class Kept:
    """What a look through the folder found: files by name, and sentences on what is wrong."""

    compared: int = 0
    wrong: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    waiting: int = 0


def compare(step: Callable[[int, int], None] = lambda done, total: None) -> Kept:
    """Compare every document with its file; ``step`` is told how many of how many were compared."""
    kept = Kept()
    total = Document.objects.count()
    for document in Document.objects.order_by("id").iterator():
        step(min(kept.compared, total), total)
        kept.compared += 1
        try:
            opened(document.stored_as, document.sha256, document.title).close()
        except ChangedFileError as error:
            kept.wrong.append(
                sentence(_("Document {number}: {why}"), number=str(document.pk), why=error.written)
            )
    step(total, total)
    return kept


def look_through(*, remove_after_days: int, now: dt.datetime | None = None) -> Kept:
    """Compare every document with its file, and remove files that no document has had for so many days.

    The day counts from the removal in the change record; for a file that never got a document, from its writing.
    """
    now = now or timezone.now()
    known = set(Document.objects.values_list("stored_as", flat=True))
    kept = compare()
    removals = _removals()
    for path in _files():
        if path.name in known and path.parent.name != "coming":
            continue
        written = dt.datetime.fromtimestamp(path.stat().st_mtime, tz=dt.UTC)
        since = removals.get(path.name, written)
        # A file that was stored a moment ago may get its document yet.
        if now - since < dt.timedelta(days=max(remove_after_days, 1)):
            kept.waiting += 1
        elif not Document.objects.filter(stored_as=path.name).exists():
            path.unlink()
            kept.removed.append(path.name)
    return kept


def _removals() -> dict[str, dt.datetime]:
    """When each removed document was removed, by the name of its file."""
    rows = ChangeRecord.objects.filter(
        object_type=Document._meta.label_lower, action=ChangeRecord.Action.REMOVE
    )
    return {
        changes["stored_as"][0]: at
        for at, changes in rows.values_list("at", "changes").iterator()
        if "stored_as" in changes
    }


def _files() -> Iterator[Path]:
    folder = Path(settings.DOCUMENTS_DIR)
    if folder.is_dir():
        yield from (path for path in sorted(folder.glob("*/*")) if path.is_file())
