"""What is on the air and planned, and what the checks say about it."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class SpectrumConfig(AppConfig):
    name = "spectrum"
    verbose_name = _("Links and checks")

    def ready(self) -> None:
        from licences.models import Application
        from sites.on_day import looks_ahead, says
        from spectrum.ahead import links_becoming
        from spectrum.models import Link, Variant
        from spectrum.said import said_of_application, said_of_variant

        looks_ahead(Link, links_becoming)
        says(Application, said_of_application)
        says(Variant, said_of_variant)
