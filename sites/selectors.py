"""What is in the register of places: reads, each with the rows it needs fetched at once."""

from __future__ import annotations

from django.db.models import Model, QuerySet

from sites.models import AntennaType, ChangeRecord, Job, MapLayer, Person, Site


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
