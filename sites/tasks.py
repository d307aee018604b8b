"""Celery tasks and jobs of this app. The broker carries the id of a job's row and nothing else."""

from __future__ import annotations

import datetime as dt

from celery import shared_task

from sites.errors import RegisterError
from sites.sentences import joined, sentence
from sites.services import documents, jobs
from sites.words import ngettext_lazy

NAMED = 10  # documents that a failed comparison names
_MORE = ngettext_lazy("And {count} more.", "And {count} more.")
_WRONG = ngettext_lazy(
    "{count} document is not as it was entered. Bring its file back from the backup; until then it is not handed out.",
    "{count} documents are not as they were entered. Bring their files back from the backup; until then they are not "
    "handed out.",
)


@shared_task(name="sites.tasks.run_job")
def run_job(job_id: str) -> None:
    """Do the job with this id, if it still waits."""
    jobs.run_job(job_id)


@shared_task(name="sites.tasks.tick", ignore_result=True)
def tick() -> None:
    """One round of the scheduler; Celery beat sends it every minute."""
    jobs.tick()


@jobs.handler("forget_ended_jobs", daily_at=[dt.time(3, 30)])
def forget_ended_jobs(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    return {"removed": jobs.forget_ended_jobs()}


# After the night's check; what was removed long ago is tidied up by the command of the same name only.
@jobs.handler("check_documents", daily_at=[dt.time(4, 10)])
def check_documents(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Compare every document with its file. Failed, naming them, when a file is gone or is another one."""
    kept = documents.compare(progress.step)
    if kept.wrong:
        more = len(kept.wrong) - NAMED
        others = [sentence(_MORE, count=more)] if more > 0 else []
        raise RegisterError(
            joined("\n", [*kept.wrong[:NAMED], *others, sentence(_WRONG, count=len(kept.wrong))])
        )
    return {"compared": kept.compared}
