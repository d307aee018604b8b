"""Fields that matter and are empty, of our own."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext

from licences.selectors import all_licences, all_licensed_channels, in_force_on
from sites.models import Site
from spectrum.models import Link

from .parts import MISSING, Gap, Part

_UNSURVEYED = (Site.PositionSource.ESTIMATE, Site.PositionSource.MAP)


def missing(day: dt.date) -> list[Part]:
    """By object and field. Only what a check, a reminder or an application needs is asked for."""
    sites = Site.objects.filter(own=True)
    licences = in_force_on(all_licences().filter(holder__own=True), day)
    channels = all_licensed_channels().filter(licence__in=licences.order_by().values("pk"), ended_on=None)
    links = Link.objects.filter(holder__own=True, status__in=Link.LIVE)
    without_limits = Q(emission_designators=[])
    return [
        _part(
            "site_ground",
            gettext("sites without a ground height"),
            gettext("No path profile can be computed."),
            sites.filter(ground_height_m=None),
            gettext("no ground height"),
        ),
        _part(
            "site_position",
            gettext("sites whose position is estimated or read from a map"),
            gettext("A wrong transmitter position is the commonest finding of an audit."),
            sites.filter(position_source__in=_UNSURVEYED),
            gettext("position not surveyed"),
        ),
        _part(
            "site_accuracy",
            gettext("sites whose position has no stated accuracy"),
            gettext("How far it may lie from the licensed position is not known."),
            sites.filter(position_accuracy_m=None),
            gettext("no accuracy"),
        ),
        _part(
            "licence_responsible",
            gettext("licences in force without a responsible person"),
            gettext("Reminders reach no one."),
            licences.filter(responsible=None),
            gettext("nobody is responsible"),
        ),
        _part(
            "licence_fee",
            gettext("licences in force without a yearly fee"),
            gettext("What unused channels cost cannot be summed."),
            licences.filter(yearly_fee=None),
            gettext("no yearly fee"),
        ),
        _part(
            "channel_power",
            gettext("licensed channels without a power limit"),
            gettext("A station cannot be held against its licence."),
            channels.filter(power_limit_dbm=None),
            gettext("no power limit"),
        ),
        _part(
            "channel_emission",
            gettext("licensed channels without an emission"),
            gettext("A station cannot be held against its licence."),
            channels.filter(without_limits),
            gettext("no emission designator"),
        ),
        _part(
            "channel_tolerance",
            gettext("licensed channels at a site without a position tolerance"),
            gettext("Whether the station stands where it is licensed cannot be said exactly."),
            channels.filter(tolerance_m=None, site__isnull=False),
            gettext("no position tolerance"),
        ),
        _part(
            "link_responsible",
            gettext("links without a responsible person"),
            gettext("Findings and reservations reach no one."),
            links.filter(responsible=None),
            gettext("nobody is responsible"),
        ),
    ]


def _part(code: str, title: str, why: str, rows: Iterable[Any], said: str) -> Part:
    return Part(code, MISSING, title, why, [Gap(row, said) for row in rows])
