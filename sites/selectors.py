"""What is in the register of places: reads, each with the rows it needs fetched at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.apps import apps
from django.contrib.contenttypes.models import ContentType
from django.db.models import Model, Q, QuerySet
from django.utils.translation import gettext

from sites.models import AntennaType, ChangeRecord, Document, Job, MapLayer, Person, Registered, Site


def all_sites() -> QuerySet[Site]:
    """Every site, by code."""
    return Site.objects.order_by("code", "id")


def regions() -> list[str]:
    """The regions that sites are in, by name."""
    named = Site.objects.exclude(region="").order_by("region")
    return list(named.values_list("region", flat=True).distinct())


def shown_map_layers() -> QuerySet[MapLayer]:
    """The administrator's layers that are to be seen on the map, the undermost first."""
    return MapLayer.objects.filter(shown=True).order_by("place", "name", "id")


def all_antenna_types() -> QuerySet[AntennaType]:
    """Every antenna type, by name."""
    return AntennaType.objects.order_by("name", "id")


def all_people() -> QuerySet[Person]:
    """Everybody who can or could sign in, with their roles."""
    return Person.objects.prefetch_related("groups").order_by("username")


def all_changes() -> QuerySet[ChangeRecord]:
    """The whole change record, latest first."""
    return ChangeRecord.objects.select_related("by").order_by("-id")


def changes_of(obj: Model) -> QuerySet[ChangeRecord]:
    """What was changed on one object, latest first."""
    return all_changes().filter(object_type=obj._meta.label_lower, object_id=obj.pk)


def all_jobs() -> QuerySet[Job]:
    """Every job, latest first."""
    return Job.objects.select_related("asked_by").order_by("-asked_at", "id")


def may_cancel(person: Person, job: Job) -> bool:
    """Whoever asked for a job may call it off, and whoever looks after the people."""
    return job.asked_by_id == person.pk or person.has_perm("places.change_person")


def all_documents() -> QuerySet[Document]:
    """Every document, the newest date first."""
    return Document.objects.select_related("belongs_to_type").order_by("-dated", "-id")


def documents_of(owner: Registered) -> QuerySet[Document]:
    """The documents of one object, the newest date first."""
    return all_documents().filter(of_model(owner._meta.label_lower), belongs_to_id=owner.pk)


def label_of_owner(document: int) -> str | None:
    """The label of the model that a document belongs or belonged to, be it removed; None for one never known."""
    entries = ChangeRecord.objects.filter(object_type=Document._meta.label_lower, object_id=document)
    entered = entries.order_by("id").first()
    if entered is None:
        return None
    number = next(value for value in entered.changes["belongs_to_type_id"] if value is not None)
    return ".".join(ContentType.objects.get_for_id(number).natural_key())


def said_of_document(document: Document, _day: dt.date) -> list[tuple[str, str]]:
    """What a document belonged to, for the page of a day."""
    owner = document.belongs_to
    kind = document.belongs_to_type.name
    if owner is None:
        return [(gettext("belongs to"), gettext("{kind} that is gone").format(kind=kind))]
    return [(gettext("belongs to"), f"{kind} {owner}")]


def of_model(*labels: str) -> Q:
    """The condition on documents that they belong to objects of one of some models."""
    of = [ContentType.objects.get_for_model(apps.get_model(label)).pk for label in labels]
    return Q(belongs_to_type__in=of)


def owners_of(documents: Iterable[Document]) -> dict[tuple[int, int], Registered]:
    """What some documents belong to, by the number of the model and of the object; one query a model."""
    wanted: dict[ContentType, set[int]] = {}
    for document in documents:
        wanted.setdefault(document.belongs_to_type, set()).add(document.belongs_to_id)
    found: dict[tuple[int, int], Registered] = {}
    for of, numbers in wanted.items():
        model: Any = of.model_class()
        found.update({(of.pk, row.pk): row for row in with_names(model).filter(pk__in=numbers)})
    return found


def with_names(model: type[Model]) -> QuerySet[Any]:
    """Every object of a model, with what its name may be made of fetched at once."""
    needed = [path for name in _to_one(model) for path in (name, *_beyond(model, name))]
    rows = model._default_manager.all()
    return rows.select_related(*needed) if needed else rows


def _to_one(model: type[Model]) -> list[str]:
    """The relations that every object of a model has; its name may be made of theirs."""
    return [f.name for f in model._meta.concrete_fields if f.is_relation and not f.null]


def _beyond(model: type[Model], name: str) -> list[str]:
    related: Any = model._meta.get_field(name).related_model
    return [f"{name}__{inner}" for inner in _to_one(related)]
