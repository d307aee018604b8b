"""Jobs: how far long work is; it can be left, and it can be cancelled."""

from __future__ import annotations

import uuid
from typing import Any, cast

import django_filters as filters
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from sites import selectors
from sites.errors import RegisterError
from sites.models import Job, Person
from sites.services import jobs

from .access import Page
from .addresses import page_of
from .listing import Column, ListPage
from .places import search_filter

KIND_WORDS = {
    "check_link": "check of one link",
    "check_network": "check of the whole network",
    "check_variant": "check of a variant",
    "lapse_reservations": "lapse of expired reservations",
    "send_reminders": "reminders",
    "import_tables": "import of tables",
    "forget_import_files": "clearing away of files that were tried",
    "forget_ended_jobs": "clearing away of old jobs",
}


def in_words(job: Job) -> str:
    """What a job does, in words."""
    return KIND_WORDS.get(job.kind, job.kind.replace("_", " "))


def progress_words(job: Job) -> str:
    return f"{job.steps_done} of {job.steps_total}" if job.steps_total else ""


class JobFilter(filters.FilterSet):
    q = search_filter("kind", "error")
    state = filters.ChoiceFilter(label="state", choices=Job.State.choices, empty_label="all")

    class Meta:
        model = Job
        fields: list[str] = []


class JobList(ListPage):
    needs = "places.view_job"
    act = "reading the list of jobs"
    heading = "Jobs: what is being worked on?"
    lead = "Checks, reminders and imports run here, outside the page. You can leave and come back."
    empty = (
        "Jobs appear here when a link is changed, when a check of the network is asked for, and every night."
    )
    filterset_class = JobFilter
    default_sort = "-asked_at"
    columns = (
        Column(
            "asked (UTC)",
            lambda j: f"{j.asked_at:%Y-%m-%d %H:%M:%S}",
            "date",
            "asked_at",
            page_of,
            plain=lambda j: j.asked_at,
        ),
        Column("what", in_words, order="kind"),
        Column("state", lambda j: j.get_state_display(), order="state"),
        Column("done", progress_words, "figure"),
        Column("by", lambda j: j.asked_by or "the register"),
        Column("attempts", lambda j: j.attempts, "figure", "attempts"),
        Column("error", lambda j: j.error.splitlines()[-1][:160] if j.error else "", "long"),
    )

    def rows(self) -> Any:
        return selectors.all_jobs()


class JobPage(Page):
    """One job; the part that tells how far it is asks for itself again while the job runs."""

    needs = "places.view_job"
    act = "reading a job"

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        job = get_object_or_404(selectors.all_jobs(), pk=pk)
        part = bool(getattr(request, "htmx", False))
        return render(request, "_job_progress.html" if part else "job.html", job_context(request, job))


class JobCancel(Page):
    """Asks a job to stop. Whoever asked for it may, and an administrator."""

    needs = "places.view_job"
    act = "cancelling a job"

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        job, person = get_object_or_404(Job, pk=pk), cast(Person, request.user)
        if not selectors.may_cancel(person, job):
            raise PermissionDenied(
                "Only the person who asked for this job, or an administrator, can cancel it."
            )
        try:
            jobs.cancel(job, by=person)
        except RegisterError as error:
            messages.error(request, error.message)
        else:
            messages.success(request, "The job was asked to stop; what it had finished stays.")
        return redirect(page_of(job))


def job_context(request: HttpRequest, job: Job) -> dict[str, Any]:
    ended = job.state in (Job.State.DONE, Job.State.FAILED, Job.State.CANCELLED)
    return {
        "job": job,
        "what": in_words(job),
        "ended": ended,
        "may_cancel": not ended
        and not job.cancel_asked
        and selectors.may_cancel(cast(Person, request.user), job),
        "check": job.result.get("check") if isinstance(job.result, dict) else None,
        "variant": job.result.get("variant") if isinstance(job.result, dict) else None,
    }
