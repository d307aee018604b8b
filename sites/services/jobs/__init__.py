"""Work outside the request: rows with a lease, which survive a dead worker and never run twice at once.

``submit`` writes a row and offers its id after the commit; ``run_job`` claims and
does it, in a thread of the web process, in a Celery worker or in line
(settings.JOBS_RUN); ``tick`` picks up what was left lying.
"""

from .registry import Payload, Progress, Result, handler
from .running import JobCancelled, LeaseLost, run_job
from .submitting import cancel, submit, submit_once
from .sweeping import forget_ended_jobs, submit_due, sweep, tick

__all__ = [
    "JobCancelled",
    "LeaseLost",
    "Payload",
    "Progress",
    "Result",
    "cancel",
    "forget_ended_jobs",
    "handler",
    "run_job",
    "submit",
    "submit_due",
    "submit_once",
    "sweep",
    "tick",
]
