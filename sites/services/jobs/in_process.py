"""Jobs in the process itself, for an installation without a broker.

A few daemon threads take job ids from a queue. What is in the queue dies with
the process; the rows do not, and the sweeper offers them again.
"""

from __future__ import annotations

import logging
import queue
import threading
import uuid

from django.db import connections

from .running import run_job

THREADS = 2  # so that the check of one link does not wait for that of the whole network
logger = logging.getLogger(__name__)
_waiting: queue.SimpleQueue[uuid.UUID] = queue.SimpleQueue()
_threads: list[threading.Thread] = []
_starting = threading.Lock()


def enqueue(job_id: uuid.UUID) -> None:
    """Have one of this process's threads do the job."""
    _waiting.put(job_id)
    with _starting:
        # After a fork the parent's threads count as ended, and the child starts its own.
        _threads[:] = [thread for thread in _threads if thread.is_alive()]
        while len(_threads) < THREADS:
            thread = threading.Thread(target=_work, name=f"jobs-{len(_threads) + 1}", daemon=True)
            _threads.append(thread)
            thread.start()


def _work() -> None:
    while True:
        job_id = _waiting.get()
        try:
            run_job(job_id)
        except Exception:
            # The row could not even be written; its lease runs out and the sweeper offers it again.
            logger.exception("job %s was left to the sweeper", job_id)
        finally:
            connections.close_all()
