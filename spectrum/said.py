"""What follows from variants and applications on a day, in words, for their pages of a day."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext

from licences.models import Application
from sites.views.change_words import in_words
from spectrum.models import FiledStation, PlannedChange, Variant
from spectrum.services.variants import as_changes

MOST_SAID = 50


def said_of_variant(variant: Variant, _day: dt.date) -> list[tuple[str, str]]:
    """The planned changes of a variant, each against the register of the day while it was being drawn up."""
    rows = variant.changes.select_related("link").prefetch_related("link__stations").order_by("pk")
    changes = list(rows[: MOST_SAID + 1])
    drawn_up = variant.status == Variant.Status.OPEN
    said = [(change, as_changes(change) if drawn_up else []) for change in changes[:MOST_SAID]]
    in_words([entry for _change, entries in said for entry in entries])
    found = [
        (str(change), "; ".join(f"{e.object_label}: {e.words}" for e in entries) or _in_short(change))  # type: ignore[attr-defined]
        for change, entries in said
    ]
    if len(changes) > MOST_SAID:
        found.append((gettext("more"), gettext("The other planned changes stand below.")))
    return found


def _in_short(change: PlannedChange) -> str:
    return gettext("last day %(day)s") % {"day": change.last_day} if change.last_day else "–"


def said_of_application(application: Application, _day: dt.date) -> list[tuple[str, str]]:
    """What had been filed of each station, and the channel that had been granted for it."""
    rows = (
        FiledStation.objects.filter(application_link__application=application)
        .select_related("application_link__link", "licensed_channel__licence__authority")
        .order_by("application_link", "pk")
    )
    return [
        (
            gettext("%(station)s as filed") % {"station": f"{row.application_link.link.code}/{row.label}"},
            gettext("granted as %(channel)s") % {"channel": row.licensed_channel}
            if row.licensed_channel
            else gettext("no channel granted"),
        )
        for row in rows[:MOST_SAID]
    ]
