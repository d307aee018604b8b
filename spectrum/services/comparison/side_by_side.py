"""All that register and regulator say of one thing, line by line, and its three positions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext

from licences.models import LicensedChannel
from sites.models import Registered, Site
from sites.templatetags.figures import brief
from spectrum.models import Difference, Link, Station

from .keeping import object_of, register_values
from .values import POSITION, apart_m, differs, position_of, shown, words_of


@dataclass(frozen=True)
class Line:
    """One field: the three values as a person reads them, and what was found about it."""

    name: str
    register: str
    then: str
    now: str
    differs: bool
    difference: Difference | None


@dataclass(frozen=True)
class Place:
    """One of the positions of a thing, and how far it lies from the first of them."""

    words: str
    position: str
    known: str
    apart_m: float | None


@dataclass(frozen=True)
class SideBySide:
    """The object of the register (None: it has none), its lines and its positions."""

    obj: Registered | None
    lines: list[Line]
    places: list[Place]


def side_by_side(difference: Difference) -> SideBySide:
    """What stands in the register, stood at the regulator before, and stands there now."""
    record = difference.record
    obj = object_of(record)
    ours = register_values(record, obj)
    rows = {d.field: d for d in record.differences.exclude(state=Difference.State.FOLLOWED)}
    lines = [
        Line(
            words_of(name),
            shown(name, ours.get(name)) if obj is not None else gettext("not there"),
            shown(name, record.then[name]) if name in record.then else "",
            shown(name, now) if record.gone_run_id is None else gettext("no longer there"),
            obj is None or differs(name, ours.get(name), now, obj=obj, own=record.own),
            rows.get(name),
        )
        for name, now in record.now.items()
    ]
    return SideBySide(obj, lines, places_of(obj, record.now.get(POSITION)))


def places_of(obj: Any, regulator: Any) -> list[Place]:
    """As surveyed (or otherwise known), as licensed, and as the regulator holds it; distances from the first."""
    site = obj if isinstance(obj, Site) else obj.site if isinstance(obj, LicensedChannel | Station) else None
    at: list[tuple[str, Any, str]] = []
    if site is not None and not isinstance(obj, Link):
        known = site.get_position_source_display()
        if site.position_accuracy_m is not None:
            known = gettext("{known}, known within {accuracy_m} m").format(
                known=known, accuracy_m=brief(site.position_accuracy_m)
            )
        surveyed = site.position_source == Site.PositionSource.SURVEY
        words = (
            gettext("as surveyed: site {site}")
            if surveyed
            else gettext("in the register, not surveyed: site {site}")
        )
        at.append(
            (
                words.format(site=site.code),
                [site.latitude_deg, site.longitude_deg],
                known,
            )
        )
    if isinstance(obj, LicensedChannel) and site is not None:
        stated = obj.latitude_deg is not None
        known = (
            gettext("the licence states its own position")
            if stated
            else gettext("the licence names the site")
        )
        at.append((gettext("as licensed"), position_of(obj), known))
    if regulator:
        at.append((gettext("as the regulator holds it"), regulator, gettext("the last extract")))
    if len(at) < 2:
        return []
    first = at[0][1]
    return [
        Place(words, shown(POSITION, position), known, None if n == 0 else apart_m(first, position))
        for n, (words, position, known) in enumerate(at)
    ]
