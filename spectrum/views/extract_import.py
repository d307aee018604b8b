"""A regulator's extract brought in on a page: tried first, then written as it was shown, then compared."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.models import Job, Person
from sites.reading import day_here
from sites.saying import said
from sites.services import jobs
from sites.views.access import Page
from sites.wording import error_of, result_of
from spectrum import selectors
from spectrum.extracts.planning.plan import WRITTEN
from spectrum.extracts.problems import ExtractError
from spectrum.extracts.quality import KINDS
from spectrum.forms.extracts import ExtractForm
from spectrum.models import ExtractRun, ImportFile
from spectrum.services.extract_uploads import LARGEST_FILE, keep
from spectrum.services.interchange import MAY_IMPORT

KIND = "import_extract"
_ENDED = (Job.State.DONE, Job.State.FAILED, Job.State.CANCELLED)
_PARTS = (_("reading the file"), _("looking for contradictions"), _("comparing with the register"))
SHOWN_RUNS = 10


class ExtractImport(Page):
    """Takes an extract and tries it; nothing is written yet."""

    needs = MAY_IMPORT
    act = _("importing an extract")

    def get(self, request: HttpRequest) -> HttpResponse:
        return _page(request, ExtractForm(today=day_here()))

    def post(self, request: HttpRequest) -> HttpResponse:
        form = ExtractForm(request.POST, request.FILES, today=day_here())
        if not form.is_valid():
            return _page(request, form, status=422)
        sent, mapping = form.cleaned_data["file"], form.cleaned_data["mapping"]
        try:
            content = sent.read(LARGEST_FILE + 1)
            kept = keep(content, sent.name, mapping, size=sent.size, by=cast(Person, request.user))
        except ExtractError as error:
            return _page(request, form, error.problems[:20], error.count, status=422)
        except RegisterError as error:
            form.add_error("mapping" if error.field == "mapping" else "file", error.message)
            return _page(request, form, status=422)
        return _submitted(request, kept, mapping, str(form.cleaned_data["as_of"]))


def _submitted(
    request: HttpRequest, kept: ImportFile, mapping: str, as_of: str, as_shown: str = ""
) -> HttpResponse:
    payload = {"file": kept.pk, "name": kept.name, "mapping": mapping, "as_of": as_of, "as_shown": as_shown}
    same_as = f"{KIND}:{kept.pk}" if as_shown else ""
    job = jobs.submit(KIND, payload, by=cast(Person, request.user), same_as=same_as)
    return redirect("extract-trial", pk=job.pk)


def _page(
    request: HttpRequest, form: ExtractForm, problems: Any = (), count: int = 0, status: int = 200
) -> HttpResponse:
    runs: QuerySet[ExtractRun] = selectors.all_extract_runs().order_by("-id")[:SHOWN_RUNS]
    context = {
        "form": form,
        "problems": problems,
        "problem_count": count,
        "more": count - len(problems),
        "largest_mb": LARGEST_FILE // 2**20,
        "runs": runs,
    }
    return render(request, "extract_import.html", context, status=status)


class ExtractTrial(Page):
    """What an extract would do, or did; what is wrong with it; or what keeps it out."""

    needs = MAY_IMPORT
    act = _("importing an extract")

    def get(self, request: HttpRequest, pk: Any) -> HttpResponse:
        job = get_object_or_404(Job, pk=pk, kind=KIND)
        found = result_of(job) if job.state == Job.State.DONE else {}
        report = found.get("report", {})
        counts = _counts(found.get("counts", {}))
        waiting = ImportFile.objects.filter(pk=job.payload.get("file") or 0).exists()
        part = bool(getattr(request, "htmx", False))
        context = {
            "job": job,
            "error": error_of(job),
            "ended": job.state in _ENDED,
            "name": job.payload.get("name", gettext("the file")),
            "mapping": job.payload.get("mapping", ""),
            "as_of": job.payload.get("as_of", ""),
            "applies": bool(job.payload.get("as_shown")),
            "now": _PARTS[job.steps_done] if job.steps_done < len(_PARTS) else "",
            "found": found,
            "report": report,
            "counts": [row for row in counts if any(row[1:])],
            "new": sum(row[1] for row in counts),
            "changed": sum(row[2] for row in counts),
            "defects": _defects(report),
            "more_problems": found.get("problem_count", 0) - len(found.get("problems", [])),
            "may_apply": bool(counts) and not job.payload.get("as_shown") and waiting,
            "has_cases": ImportFile.objects.filter(pk=found.get("cases") or 0).exists(),
        }
        return render(request, "_extract_trial.html" if part else "extract_trial.html", context)


def _counts(found: dict[str, dict[str, int]]) -> list[tuple[str, int, int, int]]:
    """Kind of object, new, changed, the same. A database may keep the keys of a result in an order of its own."""
    counts = [(str(model._meta.verbose_name_plural), found[name]) for model, name in WRITTEN if name in found]
    return [(name, count["new"], count["changed"], count["same"]) for name, count in counts]


def _defects(report: dict[str, Any]) -> list[tuple[str, int, int, list[dict[str, Any]]]]:
    """What is wrong with the file, by class: title, cases, rows that have a part in one, the first cases."""
    found = report.get("quality", {})
    return [
        (said(title), found[kind]["cases"], found[kind]["rows"], found[kind]["examples"])
        for kind, title in KINDS.items()
        if kind in found and found[kind]["cases"]
    ]


class ExtractApply(Page):
    """Writes what the trial showed, all of it or nothing."""

    needs = MAY_IMPORT
    act = _("importing an extract")

    def post(self, request: HttpRequest, pk: Any) -> HttpResponse:
        trial = get_object_or_404(Job, pk=pk, kind=KIND, state=Job.State.DONE)
        as_shown = trial.result.get("digest", "")
        if not as_shown:
            raise Http404(gettext("This trial has nothing to write."))
        kept = get_object_or_404(ImportFile, pk=trial.payload.get("file"))
        return _submitted(request, kept, trial.payload["mapping"], trial.payload["as_of"], as_shown)


class ExtractCases(Page):
    """Every case, every change and everything that stays, as a file."""

    needs = MAY_IMPORT
    act = _("importing an extract")
    http_method_names = ("get", "head", "options")

    def get(self, request: HttpRequest, pk: Any) -> HttpResponse:
        job = get_object_or_404(Job, pk=pk, kind=KIND, state=Job.State.DONE)
        kept = get_object_or_404(ImportFile, pk=job.result.get("cases"))
        name = "".join(c if c.isalnum() or c in "-_." else "_" for c in kept.name)
        answer = HttpResponse(bytes(kept.content), content_type="text/csv; charset=utf-8")
        answer["Content-Disposition"] = f'attachment; filename="{name}"'
        return answer
