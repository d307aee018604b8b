"""Channel occupancy: who holds and who uses what in a band, what is paid for and unused, what is free."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from django.http import HttpRequest
from django.utils.functional import cached_property
from django.utils.text import get_text_list
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from sites.lazily import Words
from sites.on_day import read_day
from sites.reading import day_here, written_day
from sites.tables import Geometry, place
from sites.templatetags.figures import brief, fixed, mhz
from sites.views.addresses import page_of_id
from sites.views.computed import ComputedRows
from sites.views.listing import Column, ListPage, also
from spectrum.forms.occupancy import OF_TODAY, OccupancyForm
from spectrum.occupancy import Holding, State
from spectrum.pictures.occupancy import MOST_STRIPS, Picture, picture
from spectrum.services.occupancy import Occupancy, TooManyError, occupancy


class Asked:
    """The question of an address, and what the register answers: what a list asks of a filter."""

    def __init__(self, data: Any, queryset: Any = None, request: HttpRequest | None = None) -> None:
        del queryset, request
        self.form = OccupancyForm(data)
        self.problem = ""
        self.found: Occupancy | None = None
        if self.form.is_valid():
            try:
                self.found = occupancy(
                    self.form.bands, self.form.places, self.form.cleaned_data["day"], self.form.raster
                )
            except TooManyError as error:
                self.problem = error.message

    @cached_property
    def qs(self) -> ComputedRows:
        """The rows of the table: all holdings and free channels, or those of one state."""
        if self.found is None:
            return ComputedRows([])
        only = self.form.cleaned_data["state"]
        rows = [*self.found.held, *self.found.free]
        return ComputedRows([row for row in rows if not only or row.state == only])

    @property
    def in_plan(self) -> bool:
        return self.found is not None and self.form.raster is not None

    @cached_property
    def picture(self) -> Picture | None:
        """A strip for each site where places were narrowed, else for each district."""
        if self.found is None:
            return None
        by_site = self.form.places.narrowed
        return picture(self.found.bands, self.found.held, self.found.free, by_site=by_site)

    @property
    def answer(self) -> str:
        return _answer(self.form, self.found) if self.found is not None else ""


def _answer(form: OccupancyForm, found: Occupancy) -> str:
    given, raster = form.cleaned_data, form.raster
    where = gettext("everywhere")
    if given["region"]:
        where = gettext("in {region}").format(region=given["region"])
    elif given["near"]:
        where = gettext("within {within_km} km of {place}").format(
            within_km=brief(form.places.within_km), place=form["near"].value()
        )
    day = written_day(found.day)
    unused, unlicensed = found.of(State.UNUSED), found.of(State.UNLICENSED)
    if raster is not None:
        taken = raster.count - len(found.free)
        free = len(found.free)
        first = gettext("On {day}, {where}, {taken} and {free}.").format(
            day=day,
            where=where,
            taken=ngettext(
                "{taken} of {count} channels of {plan} is held or used",
                "{taken} of {count} channels of {plan} are held or used",
                taken,
            ).format(taken=taken, count=raster.count, plan=given["plan"].code),
            free=ngettext("{free} is free", "{free} are free", free).format(free=free),
        )
    else:
        count = len(found.held)
        first = ngettext(
            "On {day}, {where}, {count} frequency is held or used.",
            "On {day}, {where}, {count} frequencies are held or used.",
            count,
        ).format(day=day, where=where, count=count)
    fees = _fees(unused)
    if not unused:
        second = gettext("Nothing of ours is held and not used.")
    elif fees:
        second = ngettext(
            "{count} is held by us and not used (yearly fees of the licences concerned: {fees}).",
            "{count} are held by us and not used (yearly fees of the licences concerned: {fees}).",
            len(unused),
        ).format(count=len(unused), fees=fees)
    else:
        second = ngettext(
            "{count} is held by us and not used.", "{count} are held by us and not used.", len(unused)
        ).format(count=len(unused))
    third = (
        ngettext(
            "{count} is used without a licence.", "{count} are used without a licence.", len(unlicensed)
        ).format(count=len(unlicensed))
        if unlicensed
        else ""
    )
    return " ".join(filter(None, (first, second, third)))


def _fees(unused: Sequence[Holding]) -> str:
    """What the licences of unused channels cost a year, each licence counted once, by currency."""
    licences = {h.licence_id: (h.currency, h.fee) for h in unused if h.fee is not None}
    sums: dict[str, Decimal] = {}
    for currency, fee in licences.values():
        sums[currency] = sums.get(currency, Decimal(0)) + (fee or Decimal(0))
    amounts = [f"{fixed(amount, 2)} {currency}".strip() for currency, amount in sorted(sums.items())]
    return get_text_list(amounts, gettext("and"))


def _used_by(holding: Holding) -> str:
    return ", ".join(
        gettext("{station} (planned)").format(station=use.station) if use.planned else use.station
        for use in holding.uses
    )


def _fee(holding: Holding) -> str:
    return f"{fixed(holding.fee, 2)} {holding.currency}".strip() if holding.fee is not None else ""


_WAYS = {"go": _("go"), "return": _("return")}


def _frequency(title: Words, hertz: Callable[[Holding], int | None], order: str = "") -> Column:
    def megahertz(holding: Holding) -> float | None:
        found = hertz(holding)
        return None if found is None else found / 1e6

    return Column(title, lambda h: mhz(hertz(h)), "figure", order, unit="MHz", plain=megahertz)


_PLAN = (
    Column(_("channel"), lambda h: h.number or "", "figure", "number", plain=lambda h: h.number),
    _frequency(_WAYS["go"], lambda h: h.transmit_hz if h.way == "go" else h.receive_hz),
    _frequency(_WAYS["return"], lambda h: h.receive_hz if h.way == "go" else h.transmit_hz),
    Column(_("sends"), lambda h: "" if h.state is State.FREE else str(_WAYS.get(h.way, h.way))),
)
_BAND = (
    _frequency(_("transmit"), lambda h: h.transmit_hz, "transmit_hz"),
    _frequency(_("receive"), lambda h: h.receive_hz, "receive_hz"),
)
_STATE = Column(_("state"), lambda h: h.state.words, order="rank")
_REST = (
    Column(_("site"), lambda h: h.place, "code", "place", lambda h: page_of_id("places.site", h.site_id) if h.site_id else ""),
    Column(_("district"), lambda h: h.region, order="region"),
    Column(_("held by"), lambda h: h.holder, order="holder"),
    Column(
        _("licence"),
        lambda h: h.licence,
        "code",
        "licence",
        lambda h: page_of_id("licences.licensedchannel", h.channel_id) if h.channel_id else "",
    ),
    Column(_("until"), lambda h: h.until or "", "date", "until", plain=lambda h: h.until),
    Column(_("licence's yearly fee"), _fee, "figure", "fee", exported=False),
    Column(_("used by"), _used_by, "code", "links", lambda h: page_of_id("spectrum.link", h.uses[0].link_id) if h.uses else ""),
)  # fmt: skip


class OccupancyPage(ListPage):
    needs = "spectrum.view_link"
    act = _("reading the channel occupancy")
    heading = _("Channel occupancy: who holds and who uses what?")
    lead = _(
        "A channel plan or a band, at the sites of a district or near a place, on a day. The address keeps the question."
    )
    empty = _("Nothing is held or used there on that day, as far as the register knows.")
    filterset_class = Asked  # type: ignore[assignment]
    columns = (_STATE, *_PLAN, *_BAND, *_REST)
    default_sort = "rank"
    ties = ("region", "place", "number", "transmit_hz", "pk")
    template_name = "occupancy.html"
    also_exported = (
        also("licence_yearly_fee", lambda h: h.fee),
        also("fee_currency", lambda h: h.currency),
        also("channel_width_khz", lambda h: h.width_hz / 1e3),
    )
    located = True
    picture_template = "_occupancy.html"
    undated_because = _("Channel occupancy has a field of its own for the day; ask for day instead of as_of.")

    def day_typed(self, request: HttpRequest) -> str:
        """The day of the question; empty where it is today's, asked by the entries of today, or none that can be read."""
        typed = str(request.GET.get("day", ""))
        if request.GET.get("entries") == OF_TODAY or typed == str(day_here()):
            return ""
        try:
            read_day(typed)
        except ValueError:
            return ""  # the form says what it expected
        return typed

    def rows(self) -> Any:
        return None  # the question itself says what is read

    def left_out(self, request: HttpRequest, filterset: Any) -> list[str]:
        self.asked: Asked = filterset
        said = [" ".join(messages) for messages in filterset.form.errors.values()]
        return [*said, filterset.problem] if filterset.problem else said

    def shown_columns(self, filterset: Any) -> Sequence[Column]:
        return (_STATE, *(_PLAN if filterset.in_plan else _BAND), *_REST)

    def place_of(self, row: Holding) -> Geometry | None:
        return place(*row.position) if row.position else None

    def more_context(self, request: HttpRequest, page: Any) -> dict[str, Any]:
        found = self.asked.found
        return {
            "asked": self.asked,
            "picture": self.asked.picture,
            "most_strips": MOST_STRIPS,
            "of_today": self.day is None and found is not None and found.day != day_here(),
        }
