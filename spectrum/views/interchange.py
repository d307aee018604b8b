"""The register as one file, and files of tables brought in: a trial first, then all or nothing."""

from __future__ import annotations

from io import BytesIO
from typing import Any, cast

from django import forms
from django.apps import apps
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.models import Job, Person
from sites.on_day import PARAMETER, read_day, register_on
from sites.reading import neutral
from sites.services import jobs
from sites.tables import workbook
from sites.views.access import Page
from sites.wording import error_of, result_of
from spectrum.interchange import TABLES, Table
from spectrum.interchange.files import (
    LARGEST_FILE,
    MOST_ROWS,
    columns_of,
    names_of,
    write_archive,
    write_book,
)
from spectrum.interchange.tables import LEFT_OUT
from spectrum.models import ImportFile
from spectrum.services.interchange import MAY_IMPORT, keep_file

KIND = "import_tables"
_ENDED = (Job.State.DONE, Job.State.FAILED, Job.State.CANCELLED)


class ImportForm(forms.Form):
    """Which file, and of a CSV file which table."""

    file = forms.FileField(
        label=_("file"), help_text=_("A workbook (.xlsx), an archive of CSV files (.zip), or one CSV file.")
    )
    table = forms.ChoiceField(
        label=_("table of a CSV file"),
        required=False,
        choices=[("", _("as the file is named")), *((t.name, t.name.replace("_", " ")) for t in TABLES)],
    )


class TablesPage(Page):
    """What can be taken out and brought in, and how a file must look."""

    needs = "places.view_site"
    act = _("taking the register out as tables")

    def get(self, request: HttpRequest) -> HttpResponse:
        return tables_page(request, ImportForm())


def tables_page(request: HttpRequest, form: ImportForm, status: int = 200, trouble: str = "") -> HttpResponse:
    context = {
        "trouble": trouble,
        "form": form,
        "tables": [_described(table) for table in TABLES],
        "left_out": [
            (apps.get_model(label)._meta.verbose_name_plural, why) for label, why in LEFT_OUT.items()
        ],
        "may_import": request.user.has_perm(MAY_IMPORT),
        "largest_mb": LARGEST_FILE // 2**20,
        "most_rows": MOST_ROWS,
    }
    return render(request, "tables.html", context, status=status)


def _described(table: Table) -> tuple[str, list[str], list[str]]:
    """Name, columns of the key, other columns."""
    key = [name for field in table.fields if field.name in table.key for name, _path in columns_of(field)]
    return table.name, key, [name for name in names_of(table) if name not in key]


class RegisterFile(Page):
    """The whole register as one file, every field; as it stands, or as of a day."""

    needs = "places.view_site"
    act = _("taking the register out as tables")
    http_method_names = ("get", "head", "options")

    @property
    def dated(self) -> bool:
        return True

    def get(self, request: HttpRequest, form: str) -> HttpResponseBase:
        typed = str(request.GET.get(PARAMETER, ""))
        if not typed:
            return self._file(form, f"{timezone.now():%Y-%m-%d}")
        try:
            day = read_day(typed)
        except ValueError as error:
            return tables_page(
                request,
                ImportForm(),
                422,
                trouble=gettext("{error} Nothing was taken out.").format(error=error),
            )
        with register_on(day):
            return self._file(form, f"as-of-{day}")

    def _file(self, form: str, of: str) -> FileResponse:
        target = BytesIO()
        with neutral():  # the register's tables mean the same whoever takes them out
            if form == "xlsx":
                write_book(target)
            else:
                write_archive(target)
        target.seek(0)
        media_type = workbook.MEDIA_TYPE if form == "xlsx" else "application/zip"
        name = f"register-{of}.{form}"
        return FileResponse(target, as_attachment=True, filename=name, content_type=media_type)


class ImportTables(Page):
    """Takes a file and tries it; nothing is written yet."""

    needs = MAY_IMPORT
    act = _("importing tables")

    def post(self, request: HttpRequest) -> HttpResponse:
        form, person = ImportForm(request.POST, request.FILES), cast(Person, request.user)
        if form.is_valid():
            sent = form.cleaned_data["file"]
            try:
                if sent.size > LARGEST_FILE:
                    raise RegisterError(
                        gettext(
                            "{sent} has {size:.0f} MB; at most {largest_file} MB are read. Split it."
                        ).format(sent=sent.name, size=sent.size / 2**20, largest_file=LARGEST_FILE // 2**20)
                    )
                kept = keep_file(sent.read(), sent.name, form.cleaned_data["table"], by=person)
            except RegisterError as error:
                form.add_error("table" if error.field == "table" else "file", error.message)
            else:
                job = jobs.submit(KIND, {"file": kept.pk, "name": kept.name, "apply": False}, by=person)
                return redirect("table-import", pk=job.pk)
        return tables_page(request, form, status=422)


class TableImport(Page):
    """What a file would do, or did: per table what is new, changed and the same; or what keeps it out."""

    needs = MAY_IMPORT
    act = _("importing tables")

    def get(self, request: HttpRequest, pk: Any) -> HttpResponse:
        job = get_object_or_404(Job, pk=pk, kind=KIND)
        applies = bool(job.payload.get("apply"))
        report = result_of(job) if job.state == Job.State.DONE else {}
        found = report.get("counts", {})  # a database may keep the keys of a result in an order of its own
        counts = [
            (table.name, *(found[table.name][what] for what in ("new", "changed", "same")))
            for table in TABLES
            if table.name in found
        ]
        changes = sum(new + changed for _name, new, changed, _same in counts)
        waiting = ImportFile.objects.filter(pk=job.payload.get("file")).exists()
        context = {
            "job": job,
            "error": error_of(job),
            "ended": job.state in _ENDED,
            "name": job.payload.get("name", gettext("the file")),
            "applies": applies,
            "report": report,
            "counts": counts,
            "changes": changes,
            "more": report.get("trouble_count", 0) - len(report.get("troubles", [])),
            "may_apply": bool(report) and not applies and not report["trouble_count"] and changes and waiting,
        }
        part = bool(getattr(request, "htmx", False))
        return render(request, "_table_import.html" if part else "table_import.html", context)


class ImportApply(Page):
    """Writes what the trial showed, all of it or nothing."""

    needs = MAY_IMPORT
    act = _("importing tables")

    def post(self, request: HttpRequest, pk: Any) -> HttpResponse:
        trial = get_object_or_404(Job, pk=pk, kind=KIND)
        kept = get_object_or_404(ImportFile, pk=trial.payload.get("file"))
        job = jobs.submit(
            KIND,
            {"file": kept.pk, "name": kept.name, "apply": True},
            by=cast(Person, request.user),
            same_as=f"import_tables:{kept.pk}",
        )
        return redirect("table-import", pk=job.pk)
