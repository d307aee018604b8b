"""Sites and antenna types; layers of the map; the change record and the jobs, to be read."""

from __future__ import annotations

from django.contrib import admin

from sites.forms.layers import MapLayerForm
from sites.forms.places import AntennaTypeForm, SiteForm
from sites.models import AntennaType, ChangeRecord, Document, Job, MapLayer, Site

from .base import ReadOnlyAdmin, RecordedAdmin


@admin.register(Site)
class SiteAdmin(RecordedAdmin):
    form = SiteForm
    list_display = ("code", "name", "region", "own", "latitude_deg", "longitude_deg", "ground_height_m")
    list_filter = ("own", "region", "position_source", "structure")
    search_fields = ("code", "name", "region")
    readonly_fields = ("latitude_deg", "longitude_deg", "position_notation")


@admin.register(AntennaType)
class AntennaTypeAdmin(RecordedAdmin):
    form = AntennaTypeForm
    list_display = ("name", "gain_dbi", "frequency_min_mhz", "frequency_max_mhz", "pattern")
    list_filter = ("pattern",)
    search_fields = ("name",)


@admin.register(MapLayer)
class MapLayerAdmin(RecordedAdmin):
    form = MapLayerForm
    list_display = ("name", "source", "place", "shown")
    list_filter = ("shown",)
    search_fields = ("name", "source")


@admin.register(ChangeRecord)
class ChangeRecordAdmin(ReadOnlyAdmin):
    list_display = ("at", "by_name", "action", "object_type", "object_label", "reason")
    list_filter = ("action", "object_type")
    search_fields = ("object_label", "by_name", "reason")
    date_hierarchy = "at"


@admin.register(Job)
class JobAdmin(ReadOnlyAdmin):
    list_display = ("asked_at", "kind", "state", "asked_by", "steps_done", "steps_total", "attempts", "error")
    list_select_related = ("asked_by",)
    list_filter = ("state", "kind")
    search_fields = ("kind", "error")
    date_hierarchy = "asked_at"


@admin.register(Document)
class DocumentAdmin(ReadOnlyAdmin):
    """Documents are attached, changed and removed on the pages of what they belong to; here they are read."""

    list_display = (
        "title",
        "kind",
        "dated",
        "belongs_to_type",
        "media_type",
        "size_bytes",
        "entered_by_name",
    )
    list_select_related = ("belongs_to_type",)
    list_filter = ("kind", "media_type")
    search_fields = ("title", "file_name", "sha256")
