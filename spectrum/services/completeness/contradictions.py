"""Where the register says two things of one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from django.utils.translation import gettext

from licences.models import Holder, LicensedChannel
from licences.selectors import all_licensed_channels
from sites.geodesy import inverse
from sites.models import Site
from sites.templatetags.figures import brief, fixed
from spectrum.conflicts.kinds import KINDS, LICENCE_LIMITS
from spectrum.extracts.near import pairs_within
from spectrum.extracts.quality import ONE_TOWER_WITHIN_M
from spectrum.extracts.registrants import plain
from spectrum.models import RegulatorRecord
from spectrum.selectors import open_findings

from .parts import CONTRADICTING, Gap, Part

APART_WITHIN_M = ONE_TOWER_WITHIN_M
"""Where a licence states no tolerance: beyond this it is another tower (common practice, no published source)."""


def contradictions() -> list[Part]:
    """Positions, licence limits, names and places."""
    codes = [kind.code for kind in KINDS.values() if kind.group == LICENCE_LIMITS]
    limits = open_findings().filter(kind__in=codes).exclude(kind="station_without_licence")
    return [
        Part(
            "positions",
            CONTRADICTING,
            gettext("licensed positions apart from where the site stands"),
            gettext("Farther apart than the licence's tolerance, or 100 m where it states none."),
            _positions(),
        ),
        Part(
            "limits",
            CONTRADICTING,
            gettext("stations off the limits of their licence"),
            gettext("Open findings of the last checks."),
            [Gap(finding, gettext(KINDS[finding.kind].title)) for finding in limits],
        ),
        Part(
            "names",
            CONTRADICTING,
            gettext("names that differ only in case, spaces or punctuation"),
            gettext("Probably one holder, or one place, entered twice."),
            [*_spelt(Holder.objects.order_by("pk"), "holder"), *_spelt(_own_sites(), "site")],
        ),
        Part(
            "places",
            CONTRADICTING,
            gettext("sites less than 100 m apart, one of them ours"),
            gettext(
                "Probably one place entered twice: stations on one tower are then not checked as neighbours."
            ),
            _same_place(),
        ),
    ]


def _own_sites() -> Any:
    return Site.objects.filter(own=True).order_by("pk")


def _positions() -> list[Gap]:
    """Each channel of ours by its farthest distance: as licensed, and as the regulator holds it, from the site."""
    said = RegulatorRecord.objects.filter(kind=RegulatorRecord.Kind.CHANNEL, own=True, gone_run=None)
    held = {record.object_id: record.now.get("position") for record in said}
    gaps = []
    for channel in all_licensed_channels().filter(
        licence__holder__own=True, site__isnull=False, ended_on=None, licence__ended_on=None
    ):
        if channel.site is None:
            continue
        here = (channel.site.latitude_deg, channel.site.longitude_deg)
        allowed = APART_WITHIN_M if channel.tolerance_m is None else channel.tolerance_m
        apart = {
            name: float(inverse(*here, *at)[0])
            for name, at in (
                (gettext("as licensed"), _as_licensed(channel)),
                (gettext("at the regulator"), held.get(channel.pk)),
            )
            if at
        }
        if apart and max(apart.values()) > allowed:
            words = ", ".join(
                gettext("{name} {metres} m from the site").format(name=name, metres=fixed(metres, 1))
                for name, metres in apart.items()
            )
            known = channel.site.get_position_source_display()
            sentence = gettext("{words} ({site}, {known}); {allowed} m are allowed").format(
                words=words, site=channel.site.code, known=known, allowed=brief(allowed)
            )
            gaps.append(Gap(channel, sentence, apart_m=max(apart.values())))
    return sorted(gaps, key=lambda gap: -(gap.apart_m or 0.0))


def _as_licensed(channel: LicensedChannel) -> tuple[float, float] | None:
    """A channel's own licensed position, where it has one beside its site's."""
    if channel.latitude_deg is None or channel.longitude_deg is None:
        return None
    return channel.latitude_deg, channel.longitude_deg


def _spelt(rows: Iterable[Any], kind: str) -> Iterator[Gap]:
    groups: dict[str, list[Any]] = defaultdict(list)
    for row in rows:
        groups[plain(row.name)].append(row)
    for same in groups.values():
        for other in same[1:]:
            first = same[0]
            if kind == "site":
                said = gettext("site {code}, “{name}” beside {first_code}, “{first_name}”").format(
                    code=other.code, name=other.name, first_code=first.code, first_name=first.name
                )
            else:
                said = gettext("holder “{name}” beside “{first_name}”").format(
                    name=other.name, first_name=first.name
                )
            yield Gap(other, said)


def _same_place() -> list[Gap]:
    sites = list(Site.objects.order_by("pk"))
    latitude = np.array([site.latitude_deg for site in sites])
    longitude = np.array([site.longitude_deg for site in sites])
    return [
        Gap(
            sites[j],
            gettext("{one} and {other}").format(one=sites[j], other=sites[i]),
            apart_m=metres,
        )
        for i, j, metres in pairs_within(latitude, longitude, ONE_TOWER_WITHIN_M)
        if sites[i].own or sites[j].own
    ]
