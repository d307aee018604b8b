"""What a variant is at the moment: open or decided, checked as it is drawn up or not."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from django.db.models import F, Prefetch, QuerySet
from django.utils.translation import gettext

from sites.errors import StaleWriteError
from sites.models import ChangeRecord, Job
from sites.reading import written_day
from spectrum.models import PlannedChange, Variant, VariantCheck, VariantFinding

# What in the register a check of a variant depends on.
_LOOKED_AT = (
    "spectrum.link", "spectrum.station", "spectrum.radiotype", "spectrum.radiomode", "spectrum.radiomask",
    "spectrum.protectioncriterion", "places.site", "places.antennatype", "licences.licence",
    "licences.licensedchannel", "licences.renewalpolicy",
)  # fmt: skip


def all_variants() -> QuerySet[Variant]:
    """Every variant with its planned changes and its last check, latest first."""
    return (
        Variant.objects.select_related("drawn_up_by", "decided_by", "check_made__asked_by")
        .prefetch_related(Prefetch("changes", PlannedChange.objects.select_related("link").order_by("pk")))
        .order_by("-changed_at", "-id")
    )


def findings_of(variant: Variant) -> QuerySet[VariantFinding]:
    """What the last check of a variant found: new, still there, gone, and in these the worst first."""
    return VariantFinding.objects.filter(check_made__variant=variant).order_by(
        "standing_rank", "rank", F("margin").asc(nulls_last=True), "id"
    )


def check_under_way(variant: Variant) -> Job | None:
    """The job that is to check a variant or does so now."""
    return Job.objects.filter(
        same_as=same_as(variant), state__in=[Job.State.WAITING, Job.State.RUNNING]
    ).first()


def same_as(variant: Variant) -> str:
    """The name under which checks of a variant are asked for."""
    return f"check_variant:{variant.pk}"


def held_open(variant: Variant) -> Variant:
    """The stored variant, held until the transaction ends; StaleWriteError if it is decided or gone."""
    stored = Variant.objects.select_for_update().filter(pk=variant.pk).first()
    if stored is None:
        raise StaleWriteError(
            gettext("This variant is no longer there; somebody removed it in the meantime.")
        )
    if stored.status != Variant.Status.OPEN:
        raise StaleWriteError(_decided_already(stored))
    return stored


def _decided_already(variant: Variant) -> str:
    accepted = variant.status == Variant.Status.ACCEPTED
    if variant.decided_by is None:
        sentence = (
            gettext("The variant {variant} was accepted on {day}. Draw up a new one for further changes.")
            if accepted
            else gettext("The variant {variant} was dropped on {day}. Draw up a new one for further changes.")
        )
    else:
        sentence = (
            gettext(
                "The variant {variant} was accepted by {person} on {day}. "
                "Draw up a new one for further changes."
            )
            if accepted
            else gettext(
                "The variant {variant} was dropped by {person} on {day}. "
                "Draw up a new one for further changes."
            )
        )
    day = written_day(variant.decided_at) if variant.decided_at else ""
    return sentence.format(variant=variant, person=variant.decided_by, day=day)


def drawn_up_digest(variant: Variant, changes: Iterable[PlannedChange] | None = None) -> str:
    """What is drawn up, in short: another date, or a change more, less or other, gives another digest."""
    planned = variant.changes.all() if changes is None else changes
    parts = [str(variant.as_of), *sorted(f"{change.pk}:{change.version}" for change in planned)]
    return hashlib.sha256("|".join(parts).encode()).hexdigest()


def last_check(variant: Variant) -> VariantCheck | None:
    """The last check of a variant, of whatever was drawn up then."""
    return VariantCheck.objects.select_related("asked_by").filter(variant=variant).first()


def is_checked(variant: Variant) -> bool:
    """Whether the last check was of what is drawn up now."""
    check = last_check(variant)
    return check is not None and check.drawn_up == drawn_up_digest(variant)


def changed_since(check: VariantCheck) -> int:
    """How many changes of the register have been recorded since a check that may alter what it found."""
    return ChangeRecord.objects.filter(object_type__in=_LOOKED_AT, at__gt=check.started_at).count()
