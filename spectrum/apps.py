"""What is on the air and planned, and what the checks say about it."""

from django.apps import AppConfig


class SpectrumConfig(AppConfig):
    name = "spectrum"
    verbose_name = "Links and checks"

    def ready(self) -> None:
        from sites.on_day import looks_ahead
        from spectrum.ahead import links_becoming
        from spectrum.models import Link

        looks_ahead(Link, links_becoming)
