"""Applications: the list, drawing one up, its page, and what is printed of it."""

from __future__ import annotations

from typing import Any, cast

import django_filters as filters
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.applying import State
from licences.models import Application, Authority, Holder
from sites.forms.base import RegisterForm
from sites.lazily import lazy_words
from sites.reading import day_here, neutral, neutral_figures
from sites.selectors import all_changes
from sites.services.record import Author
from sites.tables import delimited, workbook
from sites.views.access import Page
from sites.views.addresses import page_of
from sites.views.changes import in_words
from sites.views.documents import documents_context
from sites.views.editing import ChangePage, EditPage, RemovePage
from sites.views.listing import Column, ListPage
from sites.views.on_day import ObjectPage
from sites.views.places import search_filter
from spectrum.filing import DataSheet, data_sheet
from spectrum.filing.answer import answer, question
from spectrum.filing.pdf import application_pdf
from spectrum.filing.tables import sheet_csv, sheet_xlsx
from spectrum.filing.words import CAUTIONS
from spectrum.forms.applications import ApplicationForm, EndForm, FileForm
from spectrum.models import Link
from spectrum.services import applications

SHOWN_CHANGES = 20
MOST_PICKED = 200


class ApplicationFilter(filters.FilterSet):
    q = search_filter("number", "authority_reference", "links__link__code", "holder__name")
    state = filters.ChoiceFilter(
        label=_("state"), choices=[(state.value, lazy_words(state)) for state in State], empty_label=_("all")
    )
    authority = filters.ModelChoiceFilter(
        label=_("authority"), queryset=Authority.objects.order_by("code"), empty_label=_("all")
    )

    class Meta:
        model = Application
        fields: list[str] = []


def codes_of(application: Application) -> str:
    codes = [row.link.code for row in application.links.all()]
    shown = ", ".join(codes[:4])
    if len(codes) <= 4:
        return shown
    return gettext("{names} and {count} more").format(names=shown, count=len(codes) - 4)


class ApplicationList(ListPage):
    needs = "licences.view_application"
    act = _("reading the list of applications")
    heading = _("Applications: what was asked, and what came of it?")
    empty = _(
        "Applications belong here: links that are filed together with one authority. Draw one up from the page of a "
        "planned link or from the list of links."
    )
    filterset_class = ApplicationFilter
    default_sort = "-number"
    add_page, add_needs, add_label = (
        "application-add",
        "licences.add_application",
        _("Draw up an application"),
    )
    columns = (
        Column(_("number"), lambda a: a.number, "code", "number", page_of),
        Column(_("authority"), lambda a: a.authority.code, "code", "authority__code"),
        Column(_("state"), lambda a: a.get_state_display(), order="state"),
        Column(_("links"), codes_of, "code"),
        Column(_("filed"), lambda a: a.filed_on or "", "date", "filed_on"),
        Column(_("decided"), lambda a: a.decided_on or "", "date", "decided_on"),
        Column(_("their reference"), lambda a: a.authority_reference, "code", "authority_reference"),
        Column(_("licences"), lambda a: ", ".join(x.number for x in a.licences.all()), "code"),
        Column(_("holder"), lambda a: a.holder.name, order="holder__name"),
    )

    def rows(self) -> QuerySet[Application]:
        return applications.all_applications().distinct()


class ApplicationAdd(EditPage):
    needs = "licences.add_application"
    act = _("drawing up an application")
    model, form_class, noun = Application, ApplicationForm, _("application")

    def initial(self, request: HttpRequest) -> dict[str, Any]:
        """The next number of ours, the only holder, and the links that were picked on the way here."""
        picked = [
            int(pk) for pk in request.GET.getlist("link")[:MOST_PICKED] if pk.isascii() and pk.isdigit()
        ]
        picked = [pk for pk in picked if pk < 2**63]
        codes = list(Link.objects.filter(pk__in=picked).order_by("code").values_list("code", flat=True))
        own = list(Holder.objects.filter(own=True)[:2])
        return {
            "number": applications.next_number(timezone.localdate().year),
            "holder": own[0].pk if len(own) == 1 else None,
            "links": codes,
        }

    def save(self, form: RegisterForm, request: HttpRequest) -> Application:
        links = applications.links_named(form.cleaned_data["links"])
        return applications.draw_up(
            cast(Application, form.instance), links, by=Author.of(request.user), today=timezone.localdate()
        )

    def said(self, saved: Any) -> str:
        return gettext("Application {application} is drawn up. Read below what is missing.").format(
            application=saved
        )

    def more_context(self, form: RegisterForm) -> dict[str, Any]:
        return {"heading": gettext("Draw up an application: which links are filed together?")}


class ApplicationChange(ChangePage):
    needs = "licences.change_application"
    act = _("changing an application")
    model, form_class, noun = Application, ApplicationForm, _("application")

    def save(self, form: RegisterForm, request: HttpRequest) -> Application:
        return applications.change(
            cast(Application, form.instance),
            by=Author.of(request.user),
            expected_version=form.expected_version,
        )


class ApplicationRemove(RemovePage):
    needs = "licences.delete_application"
    act = _("removing an application")
    model, noun = Application, _("application")


def sheet_of(pk: int) -> DataSheet:
    application = get_object_or_404(applications.all_applications(), pk=pk)
    with neutral_figures():  # on the page as it is filed
        return data_sheet(application, timezone.localdate())


class ApplicationPage(ObjectPage):
    """One application: whether it may be filed or what came of it, the data sheet, the conflict report."""

    shows = Application
    needs = "licences.view_application"
    act = _("reading an application")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        return application_page(request, sheet_of(pk))


def application_page(
    request: HttpRequest,
    sheet: DataSheet,
    *,
    file_form: FileForm | None = None,
    end_form: EndForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page, with the forms of what can be done now; one that was refused comes back as it was typed."""
    application, today = sheet.application, day_here()
    seen = {"version": application.version}
    context = {
        "sheet": sheet,
        "application": application,
        "question": question(sheet),
        "answer": answer(sheet),
        "drafting": sheet.state is State.DRAFTING,
        "filed": sheet.state is State.FILED,
        "cautions": CAUTIONS,
        "file_form": file_form or FileForm(initial={**seen, "filed_on": today}),
        "end_form": end_form or EndForm(initial={**seen, "decided_on": today}),
        **documents_context(request, application),
    }
    if request.user.has_perm("places.view_changerecord"):
        entries = all_changes().filter(object_type="licences.application", object_id=application.pk)
        context["changes"] = in_words(entries[:SHOWN_CHANGES])
    return render(request, "application.html", context, status=status)


class _Printed(Page):
    needs = "licences.view_application"
    act = _("printing an application")
    media_type, ending, shown = "", "", "attachment"

    def content(self, sheet: DataSheet) -> bytes | str:
        raise TypeError(f"{type(self).__name__} does not say what it prints")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        with neutral():  # what an authority gets means the same whoever printed it
            sheet = sheet_of(pk)
            content = self.content(sheet)
        name = f"{slugify(sheet.application.number) or sheet.application.pk}-technical-data.{self.ending}"
        return HttpResponse(
            content,
            content_type=self.media_type,
            headers={"Content-Disposition": f'{self.shown}; filename="{name}"'},
        )


class ApplicationPdf(_Printed):
    media_type, ending, shown = "application/pdf", "pdf", "inline"

    def content(self, sheet: DataSheet) -> bytes:
        return application_pdf(sheet)


class ApplicationCsv(_Printed):
    media_type, ending = delimited.MEDIA_TYPE, "csv"

    def content(self, sheet: DataSheet) -> str:
        return sheet_csv(sheet)


class ApplicationXlsx(_Printed):
    media_type, ending = workbook.MEDIA_TYPE, "xlsx"

    def content(self, sheet: DataSheet) -> bytes:
        return sheet_xlsx(sheet)
