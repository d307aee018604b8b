"""The interference log: the list of all links, the entry's page, and its forms."""

from __future__ import annotations

from typing import Any, cast

import django_filters as filters
from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.forms.base import RegisterForm
from sites.models import Registered
from sites.templatetags.figures import mhz
from sites.views.addresses import page_of
from sites.views.documents import documents_context
from sites.views.editing import ChangePage, EditPage, RemovePage
from sites.views.listing import Column, ListPage, also
from sites.views.on_day import ObjectPage
from sites.views.places import search_filter
from spectrum import selectors
from spectrum.forms.interference import InterferenceForm
from spectrum.models import Finding, InterferenceEntry, Link

SHOWN = 20
DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def interference_context(request: HttpRequest, link: Link) -> dict[str, Any]:
    """What the section on interference of a link's page needs; nothing for whoever may not read it."""
    if not request.user.has_perm("spectrum.view_interferenceentry"):
        return {}
    return {"interference": selectors.all_interference().filter(link=link).order_by(*OPEN_FIRST)[:SHOWN]}


#: Open entries, then the latest.
OPEN_FIRST = (selectors.open_interference_first(), "-began_on", "-id")


def where(entry: InterferenceEntry) -> str:
    """Where it was observed."""
    return ", ".join(text for text in (str(entry.station or ""), entry.place) if text)


class InterferenceFilter(filters.FilterSet):
    q = search_filter("link__code", "observed", "source", "done", "outcome", "place", "other_party__name")
    state = filters.ChoiceFilter(
        label=_("standing"),
        choices=[("open", _("open")), ("closed", _("closed"))],
        method="standing",
        empty_label=_("all"),
    )
    link = filters.CharFilter(
        label=_("link code"), field_name="link__code", lookup_expr="iexact", max_length=40
    )
    other_party = filters.CharFilter(
        label=_("other party"), field_name="other_party__name", lookup_expr="icontains", max_length=160
    )
    since = filters.DateFilter(label=_("observed since"), method="after", widget=DAY)
    until = filters.DateFilter(
        label=_("observed until"), field_name="began_on", lookup_expr="lte", widget=DAY
    )

    class Meta:
        model = InterferenceEntry
        fields: list[str] = []

    def standing(
        self, rows: QuerySet[InterferenceEntry], _name: str, value: str
    ) -> QuerySet[InterferenceEntry]:
        return rows.filter(closed_on__isnull=value == "open")

    def after(self, rows: QuerySet[InterferenceEntry], _name: str, value: Any) -> QuerySet[InterferenceEntry]:
        return rows.exclude(ended_on__lt=value)


class InterferenceList(ListPage):
    needs = "spectrum.view_interferenceentry"
    act = _("reading the interference log")
    heading = _("Interference log: what was observed, what came of it?")
    empty = _("Interference that was observed on a link belongs here. Enter it on the page of the link.")
    filterset_class = InterferenceFilter
    default_sort = "-began_on"
    columns = (
        Column(_("link"), lambda e: e.link.code, "code", "link__code", lambda e: page_of(e.link)),
        Column(_("from"), lambda e: e.began_on, "date", "began_on", page_of),
        Column(_("until"), lambda e: e.ended_on or "", "date", "ended_on"),
        Column(
            _("standing"),
            lambda e: gettext("open") if e.closed_on is None else gettext("closed"),
            order="closed_on",
        ),
        Column(_("where"), where),
        Column(_("frequency"), lambda e: mhz(e.frequency_hz), "figure", "frequency_hz", unit="MHz"),
        Column(_("level"), lambda e: e.level_dbm, "figure1", "level_dbm", unit="dBm"),
        Column(_("other party"), lambda e: str(e.other_party or ""), order="other_party__name"),
        Column(_("what was observed"), lambda e: e.observed, "long"),
    )
    also_exported = (
        also("times", lambda e: e.times),
        also("came_from", lambda e: e.source),
        also("done", lambda e: e.done),
        also("outcome", lambda e: e.outcome),
        also("closed_on", lambda e: e.closed_on),
        also("finding", lambda e: e.finding.headline if e.finding else ""),
    )

    def rows(self) -> QuerySet[InterferenceEntry]:
        return selectors.all_interference()


class InterferencePage(ObjectPage):
    shows = InterferenceEntry
    needs = "spectrum.view_interferenceentry"
    act = _("reading the interference log")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        entry = get_object_or_404(selectors.all_interference(), pk=pk)
        return render(
            request, "interference_entry.html", {"entry": entry, **documents_context(request, entry)}
        )


class InterferenceForms(EditPage):
    model, form_class, noun = InterferenceEntry, InterferenceForm, _("entry of the interference log")
    caution = _(
        "Do not switch off or retune another party's station. Interference that endangers people or protection "
        "circuits goes to the authority and to the control room at once, by telephone."
    )

    def back(self, form: RegisterForm) -> str:
        return page_of(form.instance) or page_of(cast(InterferenceEntry, form.instance).link)


class InterferenceAdd(InterferenceForms):
    needs = "spectrum.add_interferenceentry"
    act = _("entering interference")

    def subject(self, **kwargs: Any) -> Registered:
        return InterferenceEntry(link=get_object_or_404(Link, pk=kwargs["link_pk"]))

    def initial(self, request: HttpRequest) -> dict[str, Any]:
        """A finding that was found by a check comes with the address of its page."""
        typed = str(request.GET.get("finding", ""))
        known = typed.isascii() and typed.isdigit() and len(typed) < 19
        return {"finding": int(typed)} if known and Finding.objects.filter(pk=int(typed)).exists() else {}

    def more_context(self, form: RegisterForm) -> dict[str, Any]:
        link = cast(InterferenceEntry, form.instance).link
        return {"heading": gettext("Interference on {link}: what was observed?").format(link=link)}


class InterferenceChange(ChangePage, InterferenceForms):
    needs = "spectrum.change_interferenceentry"
    act = _("changing an entry of the interference log")


class InterferenceRemove(RemovePage):
    needs = "spectrum.delete_interferenceentry"
    act = _("removing an entry of the interference log")
    model, noun = InterferenceEntry, _("entry of the interference log")

    def after(self, obj: Registered) -> str:
        return page_of(cast(InterferenceEntry, obj).link)
