"""Administration of places, people and what the register writes about itself."""

from django.contrib import admin

from . import people, places

__all__ = ["people", "places"]

admin.site.site_header = admin.site.site_title = "Administration of the register"
admin.site.index_title = "What is in the register"
