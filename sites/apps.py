"""Where things are: sites, antenna types, people, the change record, jobs."""

from django.apps import AppConfig
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from . import words


class SitesConfig(AppConfig):
    name = "sites"
    label = "places"  # django.contrib.sites owns the label "sites"
    verbose_name = _("Sites and people")

    def ready(self) -> None:
        words.translate_with(gettext, ngettext)
