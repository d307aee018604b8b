"""The scheduler inside the web process, for an installation without a broker; else `celery beat` ticks."""

from __future__ import annotations

import logging
import time
from threading import Thread

from django.conf import settings
from django.db import connections

from sites.services import jobs

logger = logging.getLogger(__name__)


def start_in_process() -> Thread | None:
    """Tick on a thread of this process; None where workers do the jobs.

    Several web processes may tick at once: jobs are asked for and claimed in the database.
    """
    if settings.JOBS_RUN != "thread":
        return None
    thread = Thread(target=_tick_for_ever, name="scheduler", daemon=True)
    thread.start()
    return thread


def _tick_for_ever() -> None:
    while True:
        try:
            jobs.tick()
        except Exception:
            # The database may be away for a while; the next round finds the same work.
            logger.exception("a round of the scheduler failed")
        finally:
            connections.close_all()
        time.sleep(settings.JOBS_TICK_S)
