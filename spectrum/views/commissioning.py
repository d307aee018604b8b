"""The commissioning sheet of a link: the page for a phone on site, the PDF, and what was found there."""

from __future__ import annotations

from typing import Any, cast

from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.text import slugify
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.forms.base import RegisterForm
from sites.models import Registered
from sites.reading import day_here, neutral
from sites.services.record import Author
from sites.views.access import Page
from sites.views.editing import ChangePage, EditPage, RemovePage
from spectrum import selectors
from spectrum.commissioning import BENCH, CAUTIONS, RECORD, Sheet, commissioning_sheet
from spectrum.commissioning.pdf import sheet_pdf
from spectrum.forms.commissioning import CommissioningRecordForm
from spectrum.models import CommissioningRecord, Station
from spectrum.places import stations_in_order
from spectrum.services.commissioning import record_found


def sheet_of(pk: int) -> Sheet:
    link = get_object_or_404(selectors.all_links(), pk=pk)
    findings = list(selectors.findings_of_link(link))
    return commissioning_sheet(link, stations_in_order(link), findings, day_here())


def sheet_page(row: CommissioningRecord) -> str:
    return f"{reverse('link-commissioning', args=[row.station.link_id])}#station-{row.station_id}"


class CommissioningRecordAdd(EditPage):
    needs = "spectrum.add_commissioningrecord"
    act = _("recording what was found at a station")
    model = CommissioningRecord
    form_class = CommissioningRecordForm
    noun = _("record of what was found")
    caution = _(
        "Enter what was found before anything was changed. Never key a transmitter into an open port."
    )

    def subject(self, **kwargs: Any) -> Registered:
        station = get_object_or_404(Station.objects.select_related("link"), pk=kwargs["station_pk"])
        return CommissioningRecord(station=station)

    def initial(self, request: HttpRequest) -> dict[str, Any]:
        return {"found_on": day_here(), "found_by": str(request.user)}

    def save(self, form: RegisterForm, request: HttpRequest) -> models.Model:
        return record_found(
            cast(CommissioningRecord, form.instance),
            by=Author.of(request.user),
            expected_version=form.expected_version,
            photo=form.cleaned_data.get("photo"),
        )

    def after(self, saved: models.Model) -> str:
        return sheet_page(cast(CommissioningRecord, saved))

    def more_context(self, form: RegisterForm) -> dict[str, Any]:
        return {
            "heading": gettext("What was found at {station}?").format(
                station=cast(CommissioningRecord, form.instance).station
            )
        }

    def back(self, form: RegisterForm) -> str:
        return sheet_page(cast(CommissioningRecord, form.instance))


class CommissioningRecordChange(ChangePage, CommissioningRecordAdd):
    needs = "spectrum.change_commissioningrecord"
    act = _("correcting what was recorded at a station")

    def initial(self, request: HttpRequest) -> dict[str, Any]:
        return {}


class CommissioningRecordRemove(RemovePage):
    needs = "spectrum.delete_commissioningrecord"
    act = _("removing what was recorded at a station")
    model, noun = CommissioningRecord, _("record of what was found")

    def after(self, obj: Registered) -> str:
        return sheet_page(cast(CommissioningRecord, obj))


class CommissioningSheet(Page):
    needs = "spectrum.view_link"
    act = _("reading a commissioning sheet")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        sheet = sheet_of(pk)
        context = {"sheet": sheet, "link": sheet.link, "bench": BENCH, "cautions": CAUTIONS, "record": RECORD}
        return render(request, "commissioning.html", context)


class CommissioningPdf(Page):
    needs = "spectrum.view_link"
    act = _("printing a commissioning sheet")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        with neutral():  # a sheet means the same whoever printed it
            sheet = sheet_of(pk)
            printed = sheet_pdf(sheet)
        name = f"{slugify(sheet.link.code) or sheet.link.pk}-commissioning.pdf"
        return HttpResponse(
            printed,
            content_type="application/pdf",
            headers={"Content-Disposition": f'inline; filename="{name}"'},
        )
