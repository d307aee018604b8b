"""Register and regulator side by side: the list of differences, the page of one, and the decision about it."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django_filters import FilterSet

from sites.errors import RegisterError
from sites.services.record import Author
from sites.templatetags.figures import one
from sites.views.access import Page
from sites.views.addresses import page_of
from sites.views.editing import plain
from sites.views.listing import Column, ListPage, also
from sites.views.places import own_filter, search_filter
from spectrum import selectors
from spectrum.models import Difference, RegulatorRecord
from spectrum.services import comparison
from spectrum.services.comparison.side_by_side import SideBySide, side_by_side
from spectrum.services.comparison.values import shown, words_of
from spectrum.services.interchange import MAY_IMPORT

State = Difference.State


class DifferenceFilter(filters.FilterSet):
    q = search_filter("record__label", "record__key", "reason")
    state = filters.ChoiceFilter(
        label=_("state"),
        choices=[*(pair for pair in State.choices if pair[0] != State.OPEN), ("all", _("all"))],
        method="nothing_more",
        empty_label=_("to be decided"),
    )
    what = filters.ChoiceFilter(label=_("what"), choices=Difference.What.choices, empty_label=_("all"))
    kind = filters.ChoiceFilter(
        label=_("of"), field_name="record__kind", choices=RegulatorRecord.Kind.choices, empty_label=_("all")
    )
    whose = own_filter("record__own")
    apart = filters.NumberFilter(
        label=_("positions apart by at least (m)"), field_name="distance_m", lookup_expr="gte", min_value=0
    )
    extract = filters.CharFilter(
        label=_("kind of extract"), field_name="record__mapping__code", max_length=40
    )
    run = filters.NumberFilter(label=_("import"), field_name="run", min_value=1, max_value=2**31)

    class Meta:
        model = Difference
        fields: list[str] = []

    def nothing_more(self, rows: QuerySet[Difference], _name: str, _value: str) -> QuerySet[Difference]:
        """Applied in filter_queryset, because an empty choice means something here."""
        return rows

    def filter_queryset(self, queryset: QuerySet[Difference]) -> QuerySet[Difference]:
        state = self.form.cleaned_data.get("state") or State.OPEN
        if state != "all":
            queryset = queryset.filter(state=state)
        return super().filter_queryset(queryset)


_WHOLE = {
    Difference.What.NEW: {"register": _("not there"), "then": _("not there"), "now": _("there")},
    Difference.What.GONE: {"register": _("there"), "then": _("there"), "now": _("not there")},
}


def _value(name: str) -> Any:
    """One of the three values in a cell; before the first change at the regulator there is none."""

    def cell(d: Difference) -> str:
        if not d.field:
            return str(_WHOLE[Difference.What(d.what)][name])
        if name == "then" and not d.record.then:
            return ""
        return shown(d.field, getattr(d, name))

    return cell


class DifferenceList(ListPage):
    needs = "spectrum.view_difference"
    act = _("reading the differences with the regulator")
    heading = _("The regulator's record: where does it differ from ours?")
    empty = _(
        "Register and regulator agree, or no extract was imported yet. Each import of an extract is compared with "
        "the register field by field, and what differs is listed here."
    )
    add_page = "extract-import"
    add_needs = MAY_IMPORT
    add_label = _("Import an extract")
    filterset_class = DifferenceFilter
    default_sort = "-record__own"
    ties = ("record__kind", "record__key", "field", "pk")
    columns = (
        Column(_("of"), lambda d: d.record.label, "code", "record__label", page_of),
        Column(_("kind"), lambda d: d.record.get_kind_display(), order="record__kind"),
        Column(
            _("whose"),
            lambda d: gettext("our own") if d.record.own else gettext("another party's"),
            order="record__own",
        ),
        Column(
            _("what differs"),
            lambda d: words_of(d.field) if d.field else d.get_what_display(),
            order="field",
            plain=lambda d: d.field or d.what,
        ),
        Column(_("in the register"), _value("register"), "code"),
        Column(_("regulator before"), _value("then"), "code"),
        Column(_("regulator now"), _value("now"), "code"),
        Column(
            _("apart"),
            lambda d: "" if d.distance_m is None else one(d.distance_m),
            "figure",
            "distance_m",
            unit="m",
        ),
        Column(_("state"), lambda d: d.get_state_display(), order="state"),
        Column(_("extract of"), lambda d: d.run.as_of, "date", "run__as_of"),
    )
    also_exported = (
        also("extract_kind", lambda d: d.record.mapping.code),
        also("file", lambda d: d.run.file_name),
        also("row", lambda d: d.record.row),
        also("reason", lambda d: d.reason),
        also("decided_by", lambda d: d.decided_by_name),
        also("decided_at", lambda d: d.decided_at),
    )

    def rows(self) -> QuerySet[Difference]:
        for mapping in selectors.all_extract_mappings():
            comparison.bring_up_to_date(mapping)
        return selectors.all_differences()

    def shown_lead(self, filterset: FilterSet) -> str:
        ours, others = selectors.open_differences()
        if not ours and not others:
            return gettext("Nothing waits for a decision.")
        return gettext(
            "{ours} of our own and {others} of other parties wait for a decision. Until then the "
            "register stays as it is."
        ).format(ours=ours, others=others)


class DifferencePage(Page):
    needs = "spectrum.view_difference"
    act = _("reading the differences with the regulator")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        return _page(request, get_object_or_404(selectors.all_differences(), pk=pk))


def _page(
    request: HttpRequest,
    difference: Difference,
    problem: str = "",
    typed: str = "",
    choice: str = "",
    status: int = 200,
) -> HttpResponse:
    found = side_by_side(difference)
    context = {
        "difference": difference,
        "record": difference.record,
        "found": found,
        "answer": _answer(difference, found),
        "choices": _choices(difference),
        "choice": choice,
        "typed": typed,
        "problem": problem,
        "seen": comparison.distinct(difference),
        "may_decide": request.user.has_perm("spectrum.decide_difference"),
    }
    return render(request, "difference.html", context, status=status)


def _choices(difference: Difference) -> list[tuple[str, str]]:
    """What can be decided, in words that say what happens."""
    if difference.state == State.FOLLOWED:
        return []
    if difference.what == Difference.What.CHANGED:
        ours, theirs = (shown(difference.field, v) for v in (difference.register, difference.now))
        return [
            (State.REGISTER, gettext("The register is right: {ours} stays.").format(ours=ours)),
            (
                State.REGULATOR,
                gettext("The regulator is right: the register is changed to {theirs}.").format(theirs=theirs),
            ),
            (State.ASIDE, gettext("Neither for now: set aside, with a reason.")),
        ]
    if difference.what == Difference.What.NEW:
        return [
            (State.REGISTER, gettext("The register is right: it does not have this.")),
            (State.REGULATOR, gettext("The regulator is right: enter it in the register.")),
            (State.ASIDE, gettext("Neither for now: set aside, with a reason.")),
        ]
    return [
        (
            State.REGISTER,
            gettext("The register is right: this exists although the extract has it no longer."),
        ),
        (State.ASIDE, gettext("Neither for now: set aside, with a reason.")),
    ]


def _answer(difference: Difference, found: SideBySide) -> str:
    name = words_of(difference.field).capitalize()
    if difference.what == Difference.What.GONE:
        return gettext("The regulator's last extract no longer has this; the register still does.")
    if difference.what == Difference.What.NEW:
        if difference.state == State.FOLLOWED:
            return gettext("The regulator's extract had this new, and the import entered it.")
        return gettext("The regulator has this under a licence of ours; the register does not.")
    theirs = shown(difference.field, difference.now)
    if difference.state == State.FOLLOWED:
        before = shown(difference.field, difference.then)
        return gettext(
            "{name}: the regulator changed it from {before} to {theirs}. Nobody had entered it by hand, "
            "so the register followed."
        ).format(name=name, before=before, theirs=theirs)
    if difference.state == State.REGULATOR:
        return gettext(
            "{name}: the regulator was believed, and the register was changed to {theirs}."
        ).format(name=name, theirs=theirs)
    return _apart(difference, name, theirs)


def _apart(difference: Difference, name: str, theirs: str) -> str:
    """That the two differ, and for positions by how much."""
    ours = shown(difference.field, difference.register)
    if difference.distance_m is None:
        return gettext("{name}: the register says {ours}, the regulator says {theirs}.").format(
            name=name, ours=ours, theirs=theirs
        )
    return gettext(
        "{name}: the register says {ours}, the regulator says {theirs}, {distance_m} m away."
    ).format(name=name, ours=ours, theirs=theirs, distance_m=one(difference.distance_m))


class DifferenceDecide(Page):
    """Records which of the two is believed, and carries it out."""

    needs = "spectrum.decide_difference"
    act = _("deciding which of register and regulator is believed")

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        difference = get_object_or_404(selectors.all_differences(), pk=pk)
        choice = plain(request.POST.get("choice", ""), 20)
        reason = plain(request.POST.get("reason", ""), 5000)
        seen = plain(request.POST.get("seen", ""), 40)
        try:
            comparison.decide(difference, choice, reason=reason, by=Author.of(request.user), seen=seen)
        except RegisterError as error:
            status = 422 if error.status == 400 else error.status
            return _page(request, difference, error.message, reason, choice, status)
        messages.success(request, f"{difference}: {State(choice).label}.")
        return redirect("difference-list")
