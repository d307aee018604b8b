"""Finding a pair for a link, and taking, extending and releasing it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.reading import written_day
from sites.services.record import Author
from sites.views.access import Page
from sites.views.addresses import page_of
from spectrum.drawings import margin_mark
from spectrum.forms.pairs import PairSearchForm, PairTakeForm
from spectrum.models import ChannelPlan, Link
from spectrum.pair_drawing import pair_pictures
from spectrum.pair_rows import VERDICTS, pair_rows
from spectrum.services import pair_search, reservations
from spectrum.services.reservations.taking import TAKEABLE

USUAL_ROWS, MOST_ROWS = 40, 2000
SEVERITIES = {"clear": "note", "decide": "decide", "rejected": "must_fix"}


class LinkPairs(Page):
    """Which pair can this link take: every pair of the chosen plans, ranked, drawn, each with its reasons."""

    needs = "spectrum.view_link"
    act = _("searching a pair")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(Link.objects.select_related("holder", "channel_plan", "responsible"), pk=pk)
        asked = request.GET if "plans" in request.GET else None
        form = PairSearchForm(
            asked, initial={"plans": [link.channel_plan_id] if link.channel_plan_id else []}
        )
        form.label_suffix = ""
        context: dict[str, Any] = {"link": link, "form": form, **_reservation(request, link)}
        plans = list(form.cleaned_data["plans"]) if form.is_valid() else []
        if asked is None and link.channel_plan is not None:
            plans = [link.channel_plan]
        if not plans:
            return render(request, "link_pairs.html", context, status=422 if form.errors else 200)
        chosen = form.cleaned_data if form.is_bound else {}
        try:
            found = pair_search.search_pairs(
                link,
                pair_search.stations_to_search(link),
                plans,
                polarisations=tuple(chosen.get("polarisation") or ""),
                first_sends=chosen.get("first_sends") or pair_search.FITTING,
            )
        except RegisterError as error:
            return render(request, "link_pairs.html", {**context, "refused": error.message}, status=422)
        return render(request, "link_pairs.html", {**context, **_found(request, found)})


def _found(request: HttpRequest, found: pair_search.PairSearch) -> dict[str, Any]:
    rows = pair_rows(found)
    verdicts = found.found.verdict.tolist()
    counts = {word: verdicts.count(number) for number, word in VERDICTS.items()}
    typed = str(request.GET.get("rows", ""))
    shown = (
        min(int(typed), MOST_ROWS) if typed.isascii() and typed.isdigit() and len(typed) < 7 else USUAL_ROWS
    )
    return {
        "rows": [
            (row, SEVERITIES[row.verdict], None if row.worst_db is None else margin_mark(row.worst_db))
            for row in rows[:shown]
        ],
        "more": max(0, len(rows) - shown),
        "more_rows": min(len(rows), MOST_ROWS),
        "total": len(rows),
        "counts": counts,
        "best": rows[0] if rows else None,
        "pictures": pair_pictures(rows),
        "narrower": found.narrower,
        "first_label": found.stations[0].label,
    }


def _reservation(request: HttpRequest, link: Link) -> dict[str, Any]:
    """What may be done about the pair that the link holds, or could take."""
    holds = link.status in Link.RESERVING
    return {
        "may_take": request.user.has_perm("spectrum.add_link") and link.status in TAKEABLE,
        "may_hold": holds and reservations.may_decide(link, request.user),  # type: ignore[arg-type]
        "until": reservations.last_day_by_default(),
        "today": timezone.localdate(),
    }


class LinkPairTake(Page):
    """Takes a pair and holds it until a day."""

    needs = "spectrum.add_link"
    act = _("taking a pair")

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(Link.objects.select_related("holder"), pk=pk)
        form = PairTakeForm(request.POST)
        if not form.is_valid():
            messages.error(request, " ".join(str(m) for errors in form.errors.values() for m in errors))
            return _back(request, link)
        plan_pk, number, polarisation, way = form.chosen()
        plan = get_object_or_404(ChannelPlan, pk=plan_pk)
        try:
            taken = reservations.take_pair(
                link,
                plan,
                number,
                by=Author.of(request.user),
                polarisation=polarisation,
                first_sends=way,
                until=form.until_day(),
                expected_version=form.cleaned_data["version"],
            )
        except (RegisterError, ValidationError) as error:
            messages.error(request, _said(error))
            return _back(request, link)
        messages.success(
            request,
            gettext("{link} holds channel {number} of {plan} until {reserved_until}.").format(
                link=taken.code,
                number=number,
                plan=plan.code,
                reserved_until=written_day(taken.reserved_until) if taken.reserved_until else "",
            ),
        )
        return redirect(page_of(taken))


class LinkPairExtend(Page):
    """Holds a pair until another day."""

    needs = ("spectrum.add_link", reservations.BY_ROLE)
    act = _("extending a reservation")

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(Link, pk=pk)
        form = PairTakeForm({"pair": "0:0:V:go", "until": request.POST.get("until", "")})
        until = form.until_day() if form.is_valid() else None
        if until is None:
            messages.error(request, gettext("Give the last day as year-month-day."))
            return _back(request, link)
        try:
            reservations.extend(link, until, by=Author.of(request.user))
        except (RegisterError, ValidationError) as error:
            messages.error(request, _said(error))
        else:
            messages.success(
                request,
                gettext("{link} holds its pair until {until}.").format(
                    link=link.code, until=written_day(until)
                ),
            )
        return _back(request, link)


class LinkPairRelease(Page):
    """Gives a pair back."""

    needs = ("spectrum.add_link", reservations.BY_ROLE)
    act = _("releasing a pair")

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(Link, pk=pk)
        try:
            reservations.release(
                link, by=Author.of(request.user), reason=str(request.POST.get("reason", ""))[:500]
            )
        except (RegisterError, ValidationError) as error:
            messages.error(request, _said(error))
            return _back(request, link)
        messages.success(
            request, gettext("{link} no longer holds a pair; it is lapsed.").format(link=link.code)
        )
        return redirect(page_of(link))


def _said(error: RegisterError | ValidationError) -> str:
    return error.message if isinstance(error, RegisterError) else " ".join(error.messages)


def _back(request: HttpRequest, link: Link) -> HttpResponse:
    """To the search as it was asked: its question came along in the form."""
    question = str(request.POST.get("question", ""))[:500]
    address = f"{page_of(link)}pairs/"
    return redirect(f"{address}?{question}" if question else address)
