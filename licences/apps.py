"""What is allowed, and until when."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class LicencesConfig(AppConfig):
    name = "licences"
    verbose_name = _("Licences")

    def ready(self) -> None:
        from licences.models import Licence
        from licences.selectors import said_of_licence
        from sites.on_day import says

        says(Licence, said_of_licence)
