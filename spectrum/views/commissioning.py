"""The commissioning sheet of a link: the page for a phone on site, and the PDF."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.text import slugify

from sites.views.access import Page
from spectrum import selectors
from spectrum.commissioning import BENCH, CAUTIONS, RECORD, Sheet, commissioning_sheet
from spectrum.commissioning.pdf import sheet_pdf
from spectrum.views.links import stations_in_order


def sheet_of(pk: int) -> Sheet:
    link = get_object_or_404(selectors.all_links(), pk=pk)
    findings = list(selectors.findings_of_link(link))
    return commissioning_sheet(link, stations_in_order(link), findings, timezone.localdate())


class CommissioningSheet(Page):
    needs = "spectrum.view_link"
    act = "reading a commissioning sheet"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        sheet = sheet_of(pk)
        context = {"sheet": sheet, "link": sheet.link, "bench": BENCH, "cautions": CAUTIONS, "record": RECORD}
        return render(request, "commissioning.html", context)


class CommissioningPdf(Page):
    needs = "spectrum.view_link"
    act = "printing a commissioning sheet"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        sheet = sheet_of(pk)
        name = f"{slugify(sheet.link.code) or sheet.link.pk}-commissioning.pdf"
        return HttpResponse(
            sheet_pdf(sheet),
            content_type="application/pdf",
            headers={"Content-Disposition": f'inline; filename="{name}"'},
        )
