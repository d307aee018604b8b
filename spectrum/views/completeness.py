"""Completeness and consistency of the register: counts, the first cases of each part, all of one, and the file."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import get_text_list
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.reading import day_here, neutral
from sites.tables import delimited, workbook
from sites.templatetags.figures import fixed
from sites.views.access import Page
from sites.views.addresses import page_of
from spectrum.models import Finding
from spectrum.services.completeness import Gap, Part, report, yearly_cost
from spectrum.wording import headline_of

SHOWN = 10
NEEDS = "spectrum.view_link"
HEAD = ("part", "object", "what", "apart_m", "yearly_fee", "currency", "address")


class Completeness(Page):
    """What is missing, contradicts itself, is paid for and unused; with ?part= all cases of one question."""

    needs = NEEDS
    act = _("reading what the register lacks")

    def get(self, request: HttpRequest) -> HttpResponse | StreamingHttpResponse | FileResponse:
        if request.GET.get("format", "") in ("csv", "xlsx"):
            with neutral():  # a file means the same whoever asked for it
                return self.answered(request)
        return self.answered(request)

    def answered(self, request: HttpRequest) -> HttpResponse | StreamingHttpResponse | FileResponse:
        day = day_here()
        parts = report(day)
        asked, problem, status = request.GET.get("part", ""), "", 200
        if asked:
            chosen = [part for part in parts if part.code == asked]
            if not chosen:
                problem = gettext("The report has no part “{asked}”; all of it is shown.").format(
                    asked=asked[:60]
                )
            parts = chosen or parts
        form = request.GET.get("format", "")
        if form in ("csv", "xlsx") and not problem:
            return _file(request, parts, form)
        if form:
            problem, status = (
                problem
                or gettext("The report can be had as csv or xlsx, not as “{form}”.").format(form=form[:40]),
                422,
            )
        found = [part for part in parts if part.gaps]
        context = {
            "day": day,
            "one": len(parts) == 1,
            "problem": problem,
            "parts": parts,
            "found": [(part, _rows(part, None if len(parts) == 1 else SHOWN)) for part in found],
            "cases": sum(len(part.gaps) for part in parts),
            "cost": _cost(parts),
            "shown": SHOWN,
        }
        return render(request, "completeness.html", context, status=status)


def _cost(parts: list[Part]) -> str:
    """What licences cost that no link uses, one sum a currency; empty without any."""
    sums = yearly_cost(gap for part in parts if part.code == "unused" for gap in part.gaps)
    return get_text_list([f"{fixed(total, 2)} {currency}" for total, currency in sums], gettext("and"))


def _rows(part: Part, most: int | None) -> list[tuple[Gap, str, str, str]]:
    """Each case with the words for its object, the address where it is mended and that of the step that ends it."""
    return [
        (gap, _named(gap.obj), page_of(gap.obj), reverse(gap.step[0], args=gap.step[1]) if gap.step else "")
        for gap in part.gaps[:most]
    ]


def _named(obj: Any) -> str:
    return headline_of(obj) if isinstance(obj, Finding) else str(obj)


def _file(request: HttpRequest, parts: list[Part], form: str) -> StreamingHttpResponse | FileResponse:
    rows = [
        (
            part.title,
            str(gap.obj),
            gap.said,
            gap.apart_m,
            gap.fee,
            gap.currency,
            request.build_absolute_uri(href),
        )
        for part in parts
        for gap, _words, href, _step in _rows(part, None)
    ]
    name = f"completeness-{timezone.now():%Y-%m-%d}.{form}"
    if form == "csv":
        answer = StreamingHttpResponse(
            (line.encode("utf-8") for line in delimited.csv_lines(HEAD, rows)),
            content_type=delimited.MEDIA_TYPE,
        )
        answer["Content-Disposition"] = f'attachment; filename="{name}"'
        return answer
    target = BytesIO()
    workbook.write_workbook(target, [("Completeness", HEAD, rows)])
    target.seek(0)
    return FileResponse(target, as_attachment=True, filename=name, content_type=workbook.MEDIA_TYPE)
