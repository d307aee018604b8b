"""Home: what needs attention, for the person who signed in; and the search over everything."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext

from licences import selectors as licence_selectors
from licences.models import Application, Licence, LicensedChannel
from licences.standing import Standing
from sites.models import AntennaType, Job, Site
from sites.reading import day_here
from sites.views.dated import DatedPage
from sites.views.jobs import in_words
from spectrum import selectors
from spectrum.models import ChannelPlan, Finding, Link, RadioType

SHOWN = 8
SHOWN_HITS = 25
RESERVATION_DAYS = 30


class Home(DatedPage):
    """What is open for the person; everything of ours for somebody who looks after nothing in particular.

    As of another day: what the register held, and what was due in it. Findings and jobs are not kept by day.
    """

    def get(self, request: HttpRequest) -> HttpResponse:
        person: Any = request.user
        has_own = selectors.is_responsible(person)
        mine = has_own and request.GET.get("whose") != "all"
        today = self.day or day_here()
        context: dict[str, Any] = {
            "mine": mine,
            "has_own": has_own,
            "today": today,
            "see": person.has_perm,
            **self.day_context(request),
        }
        if self.day:
            context["held"] = self._held(person, today)
        elif person.has_perm("spectrum.view_finding"):
            context |= self._findings(person, mine)
        if person.has_perm("licences.view_licence"):
            context |= self._licences(person, mine, today)
        if person.has_perm("spectrum.view_link"):
            context |= self._links(person, mine, today)
        if person.has_perm("places.view_job") and not self.day:
            running = Job.objects.select_related("asked_by").filter(
                state__in=(Job.State.WAITING, Job.State.RUNNING)
            )
            context["jobs"] = [(job, in_words(job)) for job in running[:SHOWN]]
        return render(request, "home.html", context)

    def _held(self, person: Any, day: dt.date) -> list[tuple[str, int, str]]:
        """What the register held on a day, as far as the person may see it: the noun, how many, and more in words."""
        found = []
        if person.has_perm("places.view_site"):
            found.append((gettext("sites"), Site.objects.count(), ""))
        if person.has_perm("spectrum.view_link"):
            counts = dict(Link.objects.order_by().values_list("status").annotate(Count("pk")))
            words = [f"{counts[value]} {label}" for value, label in Link.Status.choices if value in counts]
            found.append((gettext("links"), sum(counts.values()), ", ".join(words)))
        if person.has_perm("licences.view_licence"):
            in_force = licence_selectors.in_force_on(Licence.objects.all(), day).count()
            found.append(
                (
                    gettext("licences"),
                    Licence.objects.count(),
                    gettext("%(count)s in force") % {"count": in_force},
                )
            )
        return found

    def _findings(self, person: Any, mine: bool) -> dict[str, Any]:
        rows = selectors.open_findings()
        if mine:
            rows = rows.filter(selectors.looked_after_by(person))
        counts = dict(rows.order_by().values_list("severity").annotate(Count("pk")))
        return {
            "counts": [(value, label, counts.get(value, 0)) for value, label in Finding.Severity.choices],
            "worst": rows.exclude(severity=Finding.Severity.NOTE)[:SHOWN],
        }

    def _licences(self, person: Any, mine: bool, today: dt.date) -> dict[str, Any]:
        rows = (
            licence_selectors.all_licences()
            .select_related("authority__renewal_policy")
            .filter(holder__own=True)
        )
        if mine:
            rows = rows.filter(responsible=person)
        due = Q(pk__in=[])
        asks = (Standing.RENEWAL_OPEN, Standing.FILING_MISSED, Standing.CONTINUES, Standing.EXPIRED)
        for standing in asks:
            due |= licence_selectors.has_standing(standing, today)
        found = rows.filter(due).order_by("expires_on", "number")
        return {
            "running_out": [(x, licence_selectors.standing_on(x, today)) for x in found[:SHOWN]],
            "running_out_count": found.count(),
        }

    def _links(self, person: Any, mine: bool, today: dt.date) -> dict[str, Any]:
        lapsing = selectors.lapsing_reservations(today + dt.timedelta(days=RESERVATION_DAYS)).filter(
            holder__own=True
        )
        planned = selectors.links_with_counts().filter(holder__own=True, status__in=Link.RESERVING)
        if mine:
            lapsing, planned = lapsing.filter(responsible=person), planned.filter(responsible=person)
        return {"lapsing": lapsing.order_by("reserved_until", "code")[:SHOWN], "planned": planned[:SHOWN]}


class Search(DatedPage):
    """Codes, names and frequencies of everything that the person may see, as it stands or as of a day."""

    def get(self, request: HttpRequest) -> HttpResponse:
        typed = str(request.GET.get("q", "")).replace("\x00", "").strip()[:200]
        groups = found(request.user, typed) if typed else []
        context = {
            "searched": typed,
            "groups": [g for g in groups if g[2]],
            "frequency_hz": frequency_of(typed),
            **self.day_context(request),
        }
        return render(request, "search.html", context)


def frequency_of(typed: str) -> int | None:
    """The frequency in Hz that a search text means, or None: ``457.0125`` or ``457,0125 MHz``."""
    match = re.fullmatch(r"(\d{1,6}(?:[.,]\d{1,6})?)\s*(?:mhz)?", typed, re.IGNORECASE)
    if match is None or (match[1].isdigit() and "mhz" not in typed.lower() and len(match[1]) < 3):
        return None
    return round(float(match[1].replace(",", ".")) * 1e6)


def found(user: Any, typed: str) -> list[tuple[str, str, list[Any]]]:
    """Groups of hits: heading, permission, objects; frequencies first when the text is one."""
    frequency_hz = frequency_of(typed)
    groups: list[tuple[str, str, Any]] = []
    if frequency_hz is not None:
        groups.append(
            (
                gettext("Stations on this frequency"),
                "spectrum.view_station",
                selectors.stations_on(frequency_hz),
            )
        )
        groups.append(
            (
                gettext("Licensed channels on it"),
                "licences.view_licensedchannel",
                selectors.licensed_channels_on(frequency_hz),
            )
        )

    def like(*fields: str) -> Q:
        wanted = Q()
        for field in fields:
            wanted |= Q(**{f"{field}__icontains": typed})
        return wanted

    links = Link.objects.select_related("holder").filter(like("code", "name"))
    licences = Licence.objects.select_related("authority", "holder")
    channels = LicensedChannel.objects.select_related("licence__authority", "licence__holder", "site")
    applications = Application.objects.select_related("holder")
    groups += [
        (gettext("Links"), "spectrum.view_link", links.order_by("code")),
        (gettext("Sites"), "places.view_site", Site.objects.filter(like("code", "name")).order_by("code")),
        (
            gettext("Licences"),
            "licences.view_licence",
            licences.filter(like("number", "holder__name")).order_by("number"),
        ),
        (
            gettext("Applications"),
            "licences.view_application",
            applications.filter(like("number", "authority_reference")).order_by("-pk"),
        ),
        (
            gettext("Licensed channels"),
            "licences.view_licensedchannel",
            channels.filter(label__iexact=typed).order_by("pk"),
        ),
        (
            gettext("Channel plans"),
            "spectrum.view_channelplan",
            ChannelPlan.objects.filter(like("code", "name")),
        ),
        (gettext("Radio types"), "spectrum.view_radiotype", RadioType.objects.filter(like("name"))),
        (gettext("Antenna types"), "places.view_antennatype", AntennaType.objects.filter(like("name"))),
    ]
    return [(title, needs, list(rows[:SHOWN_HITS])) for title, needs, rows in groups if user.has_perm(needs)]
