"""What is on the air and planned, and what the checks say about it."""

from django.apps import AppConfig


class SpectrumConfig(AppConfig):
    name = "spectrum"
    verbose_name = "Links and checks"
