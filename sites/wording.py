"""Jobs in the words of who reads them: what work outside the request left behind, worded when it is shown."""

from __future__ import annotations

from typing import Any

from sites.models import Job
from sites.saying import said_within


def error_of(job: Job) -> str:
    """Why a job failed, waits or was called off; empty where there is nothing to say."""
    worded: str = said_within(job.error, job.words.get("error", {}))
    return worded


def result_of(job: Job) -> dict[str, Any]:
    """What a job found, with its sentences in the reader's words."""
    worded: dict[str, Any] = said_within(job.result, job.words.get("result", {}))
    return worded
