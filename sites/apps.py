"""Where things are: sites, antenna types, people, the change record, jobs."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from . import words


class SitesConfig(AppConfig):
    name = "sites"
    label = "places"  # django.contrib.sites owns the label "sites"
    verbose_name = _("Sites and people")

    def ready(self) -> None:
        from sites import reading, saying
        from sites.models import Document
        from sites.on_day import says
        from sites.selectors import said_of_document

        words.word_by(words.Wording(saying.said, ngettext, reading.written_day))
        says(Document, said_of_document)
