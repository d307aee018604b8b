"""The Celery application for worker and scheduler, and the scheduler inside a web process without a broker.

celery --app deploy.celery worker
celery --app deploy.celery beat
"""

from __future__ import annotations

import os
from threading import Thread
from typing import cast

from celery import Celery
from celery.beat import EmbeddedService
from celery.signals import setup_logging, task_postrun, task_prerun
from django.conf import settings
from django.db import close_old_connections

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.production")

app = Celery("register")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
if not settings.CELERY_BROKER_URL:
    # The scheduler opens a connection even when every task runs on its own thread.
    app.conf.update(broker_url="memory://")


@setup_logging.connect
def keep_the_logging_of_the_settings(**_about: object) -> None:
    """A receiver here keeps Celery from replacing what LOGGING says."""


def start_scheduler_in_process() -> Thread | None:
    """Without a broker the web process itself starts what is due; with one, `celery beat` does.

    The tasks then run on this thread (CELERY_TASK_ALWAYS_EAGER). They queue
    jobs, which are claimed in the database: a second scheduler changes nothing.
    """
    if settings.JOBS_RUN != "thread":
        return None
    thread = cast(Thread, EmbeddedService(app, thread=True, scheduler_cls="celery.beat:Scheduler"))
    thread.name = "scheduler"
    thread.start()
    return thread


@task_prerun.connect
@task_postrun.connect
def close_stale_connections(**_about: object) -> None:
    """As at the ends of a request; the scheduler's thread has none."""
    close_old_connections()
