"""The Celery application for worker and scheduler.

celery --app deploy.celery worker
celery --app deploy.celery beat
"""

from __future__ import annotations

import os

from celery import Celery
from celery.signals import setup_logging

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.production")

app = Celery("register")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@setup_logging.connect
def keep_the_logging_of_the_settings(**_about: object) -> None:
    """A receiver here keeps Celery from replacing what LOGGING says."""
