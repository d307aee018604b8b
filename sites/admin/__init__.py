"""Administration of places, people and what the register writes about itself."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from . import people, places

__all__ = ["people", "places"]

admin.site.site_header = admin.site.site_title = _("Administration of the register")
admin.site.index_title = _("What is in the register")
