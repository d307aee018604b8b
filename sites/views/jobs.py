"""Jobs: how far long work is; it can be left, and it can be cancelled."""

from __future__ import annotations

import uuid
from typing import Any, cast

import django_filters as filters
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites import selectors
from sites.errors import RegisterError
from sites.models import Job, Person
from sites.reading import written_moment
from sites.services import jobs
from sites.wording import error_of

from .access import Page
from .addresses import page_of
from .listing import Column, ListPage
from .places import search_filter

KIND_WORDS = {
    "check_link": _("check of one link"),
    "check_network": _("check of the whole network"),
    "check_variant": _("check of a variant"),
    "lapse_reservations": _("lapse of expired reservations"),
    "send_reminders": _("reminders"),
    "import_tables": _("import of tables"),
    "import_extract": _("import of an extract"),
    "forget_import_files": _("clearing away of files that were tried"),
    "check_documents": _("comparison of documents with their files"),
    "forget_ended_jobs": _("clearing away of old jobs"),
}


def in_words(job: Job) -> str:
    """What a job does, in words."""
    return str(KIND_WORDS.get(job.kind, job.kind.replace("_", " ")))


def progress_words(job: Job) -> str:
    if not job.steps_total:
        return ""
    return gettext("{done} of {total}").format(done=job.steps_done, total=job.steps_total)


class JobFilter(filters.FilterSet):
    q = search_filter("kind", "error")
    state = filters.ChoiceFilter(label=_("state"), choices=Job.State.choices, empty_label=_("all"))

    class Meta:
        model = Job
        fields: list[str] = []


class JobList(ListPage):
    needs = "places.view_job"
    act = _("reading the list of jobs")
    heading = _("Jobs: what is being worked on?")
    lead = _("Checks, reminders and imports run here, outside the page. You can leave and come back.")
    empty = _(
        "Jobs appear here when a link is changed, when a check of the network is asked for, and every night."
    )
    filterset_class = JobFilter
    default_sort = "-asked_at"
    columns = (
        Column(
            _("asked"),
            lambda j: written_moment(j.asked_at, seconds=True),
            "date",
            "asked_at",
            page_of,
            name="asked_utc",
            plain=lambda j: j.asked_at,
        ),
        Column(_("what"), in_words, order="kind"),
        Column(_("state"), lambda j: j.get_state_display(), order="state"),
        Column(_("done"), progress_words, "figure"),
        Column(_("by"), lambda j: j.asked_by or gettext("the register")),
        Column(_("attempts"), lambda j: j.attempts, "figure", "attempts"),
        Column(_("error"), lambda j: error_of(j).splitlines()[-1][:160] if j.error else "", "long"),
    )

    def rows(self) -> Any:
        return selectors.all_jobs()


class JobPage(Page):
    """One job; the part that tells how far it is asks for itself again while the job runs."""

    needs = "places.view_job"
    act = _("reading a job")

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        job = get_object_or_404(selectors.all_jobs(), pk=pk)
        part = bool(getattr(request, "htmx", False))
        return render(request, "_job_progress.html" if part else "job.html", job_context(request, job))


class JobCancel(Page):
    """Asks a job to stop. Whoever asked for it may, and an administrator."""

    needs = "places.view_job"
    act = _("cancelling a job")

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        job, person = get_object_or_404(Job, pk=pk), cast(Person, request.user)
        if not selectors.may_cancel(person, job):
            raise PermissionDenied(
                gettext("Only the person who asked for this job, or an administrator, can cancel it.")
            )
        try:
            jobs.cancel(job, by=person)
        except RegisterError as error:
            messages.error(request, error.message)
        else:
            messages.success(request, gettext("The job was asked to stop; what it had finished stays."))
        return redirect(page_of(job))


def job_context(request: HttpRequest, job: Job) -> dict[str, Any]:
    ended = job.state in (Job.State.DONE, Job.State.FAILED, Job.State.CANCELLED)
    return {
        "job": job,
        "what": in_words(job),
        "error": error_of(job),
        "ended": ended,
        "may_cancel": not ended
        and not job.cancel_asked
        and selectors.may_cancel(cast(Person, request.user), job),
        "check": job.result.get("check") if isinstance(job.result, dict) else None,
        "variant": job.result.get("variant") if isinstance(job.result, dict) else None,
    }
