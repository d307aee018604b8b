"""Where things are: sites, antenna types, people, the change record, jobs."""

from django.apps import AppConfig


class SitesConfig(AppConfig):
    name = "sites"
    label = "places"  # django.contrib.sites owns the label "sites"
    verbose_name = "Sites and people"
