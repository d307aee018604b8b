"""Celery tasks and jobs of this app. The broker carries the id of a job's row and nothing else."""

from __future__ import annotations

import datetime as dt

from celery import shared_task

from sites.services import jobs


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
