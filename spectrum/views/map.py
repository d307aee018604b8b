"""The map: the page with its filters and its list, the picture's data, and what is said of one thing on it."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
from typing import Any

import django_filters as filters
from django.conf import settings
from django.core.paginator import Page as PaginatorPage
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.template.loader import render_to_string
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.on_day import PARAMETER as DAY
from sites.on_day import day_shown, read_day
from sites.reading import current_reader
from sites.selectors import regions
from sites.terrain.lru import LeastRecentlyUsed
from sites.terrain.relief import LEAST_ZOOM, MOST_ZOOM
from sites.views.addresses import page_of
from sites.views.dated import DatedPage
from sites.views.listing import NOT_FILTERS, Column
from spectrum import selectors
from spectrum.conflicts.gather import terrain_in_force
from spectrum.models import Finding, Link
from spectrum.network_map import ENDED, NONE_OPEN, Drawn, View, drawn
from spectrum.services.map_columns import columns_at, findings_state, worst_open
from spectrum.services.register_columns import revision_now
from spectrum.views.links import LinkFilter, LinkList, pair_of, places_of

#: Raised when the form of the data changes, so that no browser keeps the old one.
FORM = 1
CACHED = "private, no-cache"
# ITU Radio Regulations 2.1: band number N extends from 0.3 × 10^N to 3 × 10^N Hz.
BANDS = {
    "vhf": (_("VHF, 30 to 300 MHz"), 30_000_000, 300_000_000),
    "uhf": (_("UHF, 300 to 3000 MHz"), 300_000_000, 3_000_000_000),
    "shf": (_("SHF, 3 to 30 GHz"), 3_000_000_000, 30_000_000_000),
    "ehf": (_("EHF, 30 to 300 GHz"), 30_000_000_000, 300_000_000_000),
}
RANKS = {"must_fix": 0, "decide": 1, "note": 2}
_pictures: LeastRecentlyUsed[str, bytes] = LeastRecentlyUsed(32_000_000, len)


class MapFilter(LinkFilter):
    """Which links are on the map. Nothing chosen: all that hold or use their frequencies."""

    near_mhz = site = mine = kind = findings = None  # type: ignore[assignment]
    region = filters.ChoiceFilter(
        label=_("region"),
        method="in_region",
        choices=lambda: [(r, r) for r in regions()],
        empty_label=_("all"),
    )
    band = filters.ChoiceFilter(
        label=_("band"), method="in_band", choices=[(k, v[0]) for k, v in BANDS.items()], empty_label=_("all")
    )
    status = filters.ChoiceFilter(
        label=_("status"),
        method="nothing_more",
        choices=[*Link.Status.choices, ("any", _("all, ended ones too"))],
        empty_label=_("all but ended"),
    )
    worst = filters.ChoiceFilter(
        label=_("worst finding"),
        method="with_worst",
        choices=[*Finding.Severity.choices, ("none", _("none open"))],
        empty_label=_("all"),
    )

    def in_region(self, rows: QuerySet[Link], _name: str, value: str) -> QuerySet[Link]:
        return rows.filter(
            pk__in=selectors.all_stations().filter(site__region=value).order_by().values("link")
        )

    def in_band(self, rows: QuerySet[Link], _name: str, value: str) -> QuerySet[Link]:
        _, low, high = BANDS[value]
        on = Q(tx_frequency_hz__gte=low, tx_frequency_hz__lt=high)
        on |= Q(rx_frequency_hz__gte=low, rx_frequency_hz__lt=high)
        return rows.filter(pk__in=selectors.all_stations().filter(on).order_by().values("link"))

    def nothing_more(self, rows: QuerySet[Link], _name: str, _value: str) -> QuerySet[Link]:
        """Applied in filter_queryset, because an empty choice means something here."""
        return rows

    def with_worst(self, rows: QuerySet[Link], _name: str, value: str) -> QuerySet[Link]:
        rank = RANKS.get(value, NONE_OPEN)
        if rank < NONE_OPEN:
            rows = rows.filter(selectors.party_to(selectors.open_of_rank(rank)))
        for worse in range(rank):
            rows = rows.exclude(selectors.party_to(selectors.open_of_rank(worse)))
        return rows

    def filter_queryset(self, queryset: QuerySet[Link]) -> QuerySet[Link]:
        status = self.form.cleaned_data.get("status", "")
        if status != "any":
            queryset = queryset.filter(status__in=[status] if status else Link.LIVE)
        return super().filter_queryset(queryset)


class MapPage(LinkList):
    """The map with its filters, and the same links as a list under it."""

    act = _("reading the map")
    heading = _("Map: what stands where?")
    empty = _("Sites and links appear here as soon as they are entered.")
    filterset_class = MapFilter
    template_name = "map.html"
    filters_of_now = ("worst",)
    add_page = ""
    columns = (
        Column(_("code"), lambda x: x.code, "code", "code", page_of),
        Column(_("sites"), places_of, "code"),
        Column(_("status"), lambda x: x.get_status_display(), order="status"),
        Column(_("A or hub sends / hears"), pair_of, "figure", unit="MHz", exported=False),
        Column(_("holder"), lambda x: x.holder.name, order="holder__name"),
        Column(
            _("worst finding"), lambda x: mark_of(x.worst), plain=lambda x: word_of(x.worst), only_now=True
        ),
    )

    def rows(self) -> QuerySet[Link]:
        return selectors.all_links()

    def prepared(self, rows: list[Any]) -> list[Any]:
        if self.day:
            return rows
        worst = selectors.worst_open_of([link.pk for link in rows])
        for link in rows:
            link.worst = worst.get(link.pk)
        return rows

    def more_context(self, request: HttpRequest, page: PaginatorPage[Any]) -> dict[str, Any]:
        user = request.user
        relief = terrain_in_force() is not None
        set_up = {
            "relief": {"least": LEAST_ZOOM, "most": MOST_ZOOM} if relief else None,
            "tiles": {"address": settings.MAP_TILE_URL, "credit": settings.MAP_TILE_ATTRIBUTION}
            if settings.MAP_TILE_URL
            else None,
        }
        return {
            "said": said_in(answered(request, tag_of(request, self.day))),
            "set_up": set_up,
            "may_add_link": not self.day and user.has_perm("spectrum.add_link"),
            "may_add_site": not self.day and user.has_perm("places.add_site"),
            "day_stands_above": True,
        }


def mark_of(rank: int | None) -> str:
    """The mark of a finding by its rank; empty for none."""
    if rank is None:
        return ""
    severity = list(Finding.Severity)[rank]
    return render_to_string("drawings/mark.html", {"severity": severity.value, "word": severity.label})


def word_of(rank: int | None) -> str:
    """The weight of a finding by its rank, in words; empty for none."""
    return "" if rank is None else str(list(Finding.Severity)[rank].label)


def picture(request: HttpRequest, view: View | None = None) -> Drawn:
    """What the map shows under the filters in the address."""
    c = columns_at(revision_now())
    worst = worst_open(c)
    filterset = MapFilter(request.GET, queryset=Link.objects.all(), request=request)
    if day_shown() is not None:
        for name in MapPage.filters_of_now:
            del filterset.filters[name]
    rows = filterset.qs.order_by()
    narrowed = any(filterset.form.cleaned_data.get(name) for name in filterset.filters)
    return drawn(
        c,
        # Nothing chosen means all but ended; the columns know that without a list of 100,000 ids.
        chosen_lines=_among(c.line_link, list(rows.values_list("pk", flat=True)))
        if narrowed
        else c.line_stage != ENDED,
        chosen_sites=_among(c.site_id, []) if narrowed else _among(c.site_id, c.site_id),
        line_worst=worst.lines,
        site_worst=worst.sites,
        view=view,
    )


def _among(ids: Any, chosen: Any) -> Any:
    import numpy as np

    return np.isin(ids, np.asarray(chosen, dtype=np.int64))


def said(found: Drawn, day: dt.date | None) -> str:
    """The answer in words: how much is drawn, and how much of it has something open; that is known of now only."""

    if not found.sites:
        return gettext("Nothing in the register fits what was chosen.")
    whole = gettext("{links} at {sites}").format(
        links=_many(ngettext("{number} link", "{number} links", found.links), found.links),
        sites=_many(ngettext("{number} site", "{number} sites", found.sites), found.sites),
    )
    if day:
        return gettext("{whole}. Findings are not kept by day.").format(whole=whole)
    must_fix = ngettext(
        "{number} has something that must be fixed",
        "{number} have something that must be fixed",
        found.must_fix,
    ).format(number=found.must_fix)
    decide = ngettext(
        "{number} has something to decide", "{number} have something to decide", found.decide
    ).format(number=found.decide)
    if found.must_fix and found.decide:
        return gettext("Of {whole}, {must_fix} and {decide}.").format(
            whole=whole, must_fix=must_fix, decide=decide
        )
    if found.must_fix or found.decide:
        return gettext("Of {whole}, {some}.").format(whole=whole, some=must_fix if found.must_fix else decide)
    return gettext("{whole}. None has anything to be fixed or decided.").format(whole=whole)


def _many(pattern: str, number: int) -> str:
    return pattern.format(number=f"{number:,}".replace(",", "\u202f"))


def answered(request: HttpRequest, etag: str, view: View | None = None) -> bytes:
    """What the data's address answers; kept, so that the page and its data compute it once."""
    body = _pictures.get(etag)
    if body is None:
        found = picture(request, view)
        values = found.values | {"said": said(found, day_shown())}
        body = json.dumps(values, separators=(",", ":"), ensure_ascii=False).encode()
        _pictures.put(etag, body)
    return body


def tag_of(request: HttpRequest, day: dt.date | None) -> str:
    """An entity tag that changes with the register, the findings, who reads and what was asked for; of a day without findings."""
    query = sorted((name, values) for name, values in request.GET.lists() if name not in NOT_FILTERS)
    state = f"{FORM}|{current_reader()}|{revision_now().name}|{day or findings_state()}|{query}"
    return f'"{hashlib.sha256(state.encode()).hexdigest()[:32]}"'


def said_in(body: bytes) -> str:
    """The answer in words of an answer in figures."""
    return str(json.loads(body)["said"])


class MapData(DatedPage):
    """The picture's data as JSON: the whole network where it is small, the part in view where it is not."""

    needs = "spectrum.view_link"
    act = _("reading the map")

    def get(self, request: HttpRequest) -> HttpResponseBase:
        try:
            view = view_asked_for(request)
        except RegisterError as error:
            return problem(error)
        etag = tag_of(request, self.day)
        return at_hand(request, etag) or sent(answered(request, etag, view), etag)

    def answer(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """What is at hand is sent without putting the register of a day together again."""
        try:
            day = read_day(self.day_typed(request)) if self.day_typed(request) else None
        except ValueError as error:
            return problem(RegisterError(str(error), field=DAY))
        ready = at_hand(request, tag_of(request, day)) if day else None
        return ready or super().answer(request, *args, **kwargs)


def at_hand(request: HttpRequest, etag: str) -> HttpResponseBase | None:
    """The answer where the browser or the memory of the process has it."""
    ready: HttpResponseBase | None = get_conditional_response(request, etag=etag)
    body = _pictures.get(etag)
    if ready is not None:
        ready["Cache-Control"] = CACHED
    elif body is not None:
        ready = sent(body, etag)
    return ready


def sent(body: bytes, etag: str) -> HttpResponse:
    """The picture's data as they are sent."""
    headers = {"ETag": etag, "Cache-Control": CACHED}
    return HttpResponse(body, content_type="application/json", headers=headers)


def problem(error: RegisterError) -> JsonResponse:
    """A refusal as problem details (RFC 9457)."""
    values = {"type": "about:blank", "title": error.title, "status": error.status, "detail": error.message}
    return JsonResponse(values, status=error.status, content_type="application/problem+json")


def view_asked_for(request: HttpRequest) -> View | None:
    """The view in the address: west, south, east, north in degrees and its width in pixels; None when none is named."""
    names = ("west", "south", "east", "north", "width")
    if not any(name in request.GET for name in names):
        return None
    west, south, east, north, width = (number_asked_for(request, name) for name in names)
    if not (-180 <= west < east <= 180 and -90 <= south < north <= 90 and 1 <= width <= 20_000):
        raise RegisterError(
            gettext(
                "The view is not on the earth. West must lie below east (-180 to 180), south below north "
                "(-90 to 90), and the width between 1 and 20000 pixels."
            )
        )
    return View(west, south, east, north, round(width))


def number_asked_for(request: HttpRequest, name: str) -> float:
    """A number in the address. RegisterError names it where there is none."""
    typed = str(request.GET.get(name, ""))[:40]
    try:
        number = float(typed)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise RegisterError(
            gettext("{name} is “{typed}”; a number was expected, for example 47.5.").format(
                name=name, typed=typed
            ),
            field=name,
        )
    return number
