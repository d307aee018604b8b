"""Findings: the list, the page of one, accepting with a reason and taking that back; checks."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.reading import written_moment
from sites.services import jobs
from sites.tables import Geometry
from sites.templatetags.figures import one
from sites.views.access import Page
from sites.views.addresses import page_of
from sites.views.editing import plain
from sites.views.listing import Column, ListPage, also
from sites.views.places import own_filter, search_filter
from spectrum import selectors
from spectrum.conflicts.kinds import KINDS
from spectrum.models import Check, Finding
from spectrum.places import place_of_finding, sender_of, victim_of
from spectrum.services import findings
from spectrum.services.cures import cures_of
from spectrum.services.finding_pictures import pictures_of
from spectrum.services.sensitivity import is_judged, sensitivity_of
from spectrum.templatetags.drawings import kind_title, margin, margin_scale, mark
from spectrum.wording import headline_of

GROUPS = list(dict.fromkeys(kind.group for kind in KINDS.values()))


class FindingFilter(filters.FilterSet):
    q = search_filter("headline", "cure", "link__code", "other_link__code", "accepted_reason")
    severity = filters.ChoiceFilter(
        label=_("severity"), choices=Finding.Severity.choices, empty_label=_("all")
    )
    group = filters.ChoiceFilter(
        label=_("group"),
        choices=[(group, _(group)) for group in GROUPS],
        method="of_group",
        empty_label=_("all"),
    )
    kind = filters.ChoiceFilter(
        label=_("kind"), choices=[(k.code, _(k.title)) for k in KINDS.values()], empty_label=_("all")
    )
    link = filters.CharFilter(label=_("link code"), method="of_link", max_length=40)
    accepted = filters.ChoiceFilter(
        label=_("accepted"),
        choices=[("no", _("not accepted")), ("yes", _("accepted"))],
        method="decided",
        empty_label=_("all"),
    )
    state = filters.ChoiceFilter(
        label=_("state"),
        choices=[("gone", _("gone")), ("all", _("current and gone"))],
        method="nothing_more",
        empty_label=_("current"),
    )
    whose = own_filter("link__holder__own")
    mine = filters.BooleanFilter(label=_("mine"), method="of_mine", widget=forms.CheckboxInput)

    class Meta:
        model = Finding
        fields: list[str] = []

    def of_group(self, rows: QuerySet[Finding], _name: str, value: str) -> QuerySet[Finding]:
        return rows.filter(kind__in=[kind.code for kind in KINDS.values() if kind.group == value])

    def of_link(self, rows: QuerySet[Finding], _name: str, value: str) -> QuerySet[Finding]:
        return rows.filter(selectors.about_link_code(value))

    def decided(self, rows: QuerySet[Finding], _name: str, value: str) -> QuerySet[Finding]:
        return rows.filter(accepted_at__isnull=value == "no")

    def nothing_more(self, rows: QuerySet[Finding], _name: str, _value: str) -> QuerySet[Finding]:
        """Applied in filter_queryset, because an empty choice means something here."""
        return rows

    def filter_queryset(self, queryset: QuerySet[Finding]) -> QuerySet[Finding]:
        state = self.form.cleaned_data.get("state", "")
        if state != "all":
            queryset = queryset.filter(gone_at__isnull=state != "gone")
        return super().filter_queryset(queryset)

    def of_mine(self, rows: QuerySet[Finding], _name: str, value: bool) -> QuerySet[Finding]:
        return rows.filter(selectors.looked_after_by(self.request.user)) if value else rows


class FindingList(ListPage):
    needs = "spectrum.view_finding"
    act = _("reading the list of findings")
    heading = _("Findings: what stands against the network?")
    empty = _(
        "Findings appear here when a check finds something: of a link when it is entered or changed, "
        "of the whole network every night and on request."
    )
    filterset_class = FindingFilter
    default_sort = "rank"
    ties = ("margin", "pk")
    template_name = "finding_list.html"

    columns = (
        Column(
            _("weight"),
            lambda f: render_to_string("drawings/mark.html", mark(f)),
            order="rank",
            plain=lambda f: f.get_severity_display(),
        ),
        Column(_("what"), headline_of, "long", "headline", page_of, plain=lambda f: f.headline),
        Column(_("kind"), lambda f: kind_title(f.kind), order="kind"),
        Column(
            _("link"),
            lambda f: f.link.code if f.link else "",
            "code",
            "link__code",
            lambda f: page_of(f.link),
        ),
        Column(
            _("other"),
            lambda f: f.other_link.code if f.other_link else "",
            "code",
            "other_link__code",
            lambda f: page_of(f.other_link),
        ),
        Column(
            _("licence"),
            lambda f: str(f.licence) if f.licence else "",
            "code",
            "licence__number",
            lambda f: page_of(f.licence),
        ),
        Column(
            _("margin"),
            lambda f: render_to_string("drawings/margin_scale.html", margin_scale(f)) if margin(f) else "",
            "margin",
            "margin",
            plain=lambda f: f.margin,
        ),
    )
    also_exported = (
        also("margin_unit", lambda f: f.margin_unit),
        also("sender", sender_of),
        also("victim", victim_of),
        also("site", lambda f: f.site.code if f.site else ""),
        also("licensed_channel", lambda f: str(f.licensed_channel or "")),
        also("cure", lambda f: f.cure),
        also("not_judged", lambda f: "; ".join(f.not_judged)),
        also("first_seen", lambda f: f.first_seen_at),
        also("last_seen", lambda f: f.last_seen_at),
        also("gone", lambda f: f.gone_at),
        also("accepted", lambda f: f.accepted_at),
        also("accepted_by", lambda f: f.accepted_by or ""),
        also("accepted_reason", lambda f: f.accepted_reason),
    )
    located = True

    def rows(self) -> QuerySet[Finding]:
        return selectors.all_findings()

    def placed(self, rows: QuerySet[Finding]) -> QuerySet[Finding]:
        return selectors.with_places(rows)

    def place_of(self, row: Finding) -> Geometry | None:
        return place_of_finding(row)


class FindingPage(Page):
    needs = "spectrum.view_finding"
    act = _("reading a finding")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        finding = get_object_or_404(selectors.all_findings(), pk=pk)
        return _page(request, finding)


def _page(
    request: HttpRequest, finding: Finding, problem: str = "", typed: str = "", status: int = 200
) -> HttpResponse:
    context = {
        **finding_context(request, finding, problem, typed),
        "pictures": pictures_of(finding),
        "cures": cures_of(finding),
    }
    return render(request, "finding.html", context, status=status)


class FindingSensitivity(Page):
    """How the finding's margin moves when one assumption after the other is changed."""

    needs = "spectrum.view_finding"
    act = _("reading a finding")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        finding = get_object_or_404(selectors.all_findings(), pk=pk)
        try:
            answer = sensitivity_of(finding)
        except RegisterError as error:
            context = {"finding": finding, "problem": error.message}
            return render(request, "finding_sensitivity.html", context, status=error.status)
        context = {"finding": finding, "answer": answer, "found": answer.sensitivity}
        return render(request, "finding_sensitivity.html", context)


def finding_context(
    request: HttpRequest, finding: Finding, problem: str = "", typed: str = ""
) -> dict[str, Any]:
    return {
        "finding": finding,
        "kind": KINDS.get(finding.kind),
        "has_sensitivity": is_judged(finding),
        "may_accept": request.user.has_perm("spectrum.accept_finding"),
        "problem": problem,
        "typed": typed,
        "open": True,
        "own_page": _on_its_own_page(request, finding),
    }


def _on_its_own_page(request: HttpRequest, finding: Finding) -> bool:
    """Whether the person sees the finding's own page, where the arithmetic stands under the pictures."""
    live: Any = getattr(request, "htmx", None)
    return not live or live.current_url_abs_path == page_of(finding)


class FindingDecision(Page):
    """Accepts a finding with a reason, or takes the acceptance back; the answer is the finding itself."""

    needs = "spectrum.accept_finding"
    act = _("accepting a finding")
    reopens = False

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        finding = get_object_or_404(selectors.all_findings(), pk=pk)
        person: Any = request.user
        typed, problem, status = plain(request.POST.get("reason", ""), 5000), "", 200
        try:
            if self.reopens:
                findings.reopen(finding, by=person)
            else:
                findings.accept(finding, reason=typed, by=person)
        except RegisterError as error:
            problem, status = error.message, 422 if error.status == 400 else error.status
        finding = get_object_or_404(selectors.all_findings(), pk=pk)
        if getattr(request, "htmx", False):
            # htmx puts only a successful answer into the page; the sentence stands in the finding either way
            return render(request, "_finding.html", finding_context(request, finding, problem, typed))
        if problem:
            return _page(request, finding, problem, typed, status)
        said = (
            gettext("The acceptance was taken back.")
            if self.reopens
            else gettext("The finding was accepted; it stays accepted in later checks.")
        )
        messages.success(request, said)
        return redirect(page_of(finding))


class FindingAccept(FindingDecision):
    pass


class FindingReopen(FindingDecision):
    act = _("taking an acceptance back")
    reopens = True


class CheckFilter(filters.FilterSet):
    scope = filters.ChoiceFilter(label=_("scope"), choices=Check.Scope.choices, empty_label=_("all"))
    link = filters.CharFilter(
        label=_("link code"), field_name="link__code", lookup_expr="icontains", max_length=40
    )

    class Meta:
        model = Check
        fields: list[str] = []


def counted(check: Check, name: str) -> Any:
    return check.counts.get(name, "") if isinstance(check.counts, dict) else ""


def took_s(check: Check) -> str:
    return one((check.ended_at - check.started_at).total_seconds()) if check.ended_at else ""


class CheckList(ListPage):
    needs = "spectrum.view_check"
    act = _("reading the list of checks")
    heading = _("Checks: what was looked at, when?")
    empty = _(
        "Checks appear here when a link is entered, changed or checked by hand, and every night for the whole network."
    )
    filterset_class = CheckFilter
    default_sort = "-started_at"
    template_name = "check_list.html"
    columns = (
        Column(
            _("started"),
            lambda c: written_moment(c.started_at, seconds=True),
            "date",
            "started_at",
            page_of,
            name="started_utc",
            plain=lambda c: c.started_at,
        ),
        Column(
            _("of"), lambda c: c.link.code if c.link else gettext("the whole network"), "code", "link__code"
        ),
        Column(_("as of"), lambda c: c.as_of, "date", "as_of"),
        Column(_("took"), took_s, "figure", unit="s"),
        Column(_("new"), lambda c: counted(c, "new"), "figure"),
        Column(_("still there"), lambda c: counted(c, "still"), "figure"),
        Column(_("gone"), lambda c: counted(c, "gone"), "figure"),
        Column(_("by"), lambda c: c.asked_by or gettext("the register"), order="asked_by__username"),
    )

    def rows(self) -> QuerySet[Check]:
        return selectors.all_checks()


class CheckPage(Page):
    needs = "spectrum.view_check"
    act = _("reading a check")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        check = get_object_or_404(selectors.all_checks(), pk=pk)
        counts = check.counts if isinstance(check.counts, dict) else {}
        by_kind = [(code, kind_title(code), count) for code, count in counts.get("by_kind", {}).items()]
        context = {"check": check, "took_s": took_s(check), "counts": counts, "by_kind": by_kind}
        return render(request, "check.html", context)


class NetworkCheck(Page):
    """Asks for a check of the whole network and leads to its progress."""

    needs = "spectrum.check_network"
    act = _("having the whole network checked")

    def post(self, request: HttpRequest) -> HttpResponse:
        person: Any = request.user
        job = jobs.submit("check_network", {}, by=person, same_as="check_network")
        return redirect(page_of(job))
