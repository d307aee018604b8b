"""The application that puts the others together."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class DeployConfig(AppConfig):
    name = "deploy"
    verbose_name = _("Deployment")

    def ready(self) -> None:
        # Whoever queues a task, web process or command, needs the configured Celery application.
        from deploy import celery  # noqa: F401
