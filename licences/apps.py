"""What is allowed, and until when."""

from django.apps import AppConfig


class LicencesConfig(AppConfig):
    name = "licences"
    verbose_name = "Licences"
