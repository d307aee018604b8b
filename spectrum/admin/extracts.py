"""Administration of the kinds of a regulator's extract; what extracts brought, to be read."""

from __future__ import annotations

from django.contrib import admin

from sites.admin.base import ReadOnlyAdmin, RecordedAdmin
from sites.forms.base import RegisterForm
from spectrum.models import Difference, ExtractMapping, ExtractRun, RegulatorRecord


class ExtractMappingForm(RegisterForm):
    class Meta(RegisterForm.Meta):
        model = ExtractMapping
        fields = [
            "code",
            "title",
            "authority",
            "columns",
            "reading",
            "statuses",
            "key",
            "own_registrants",
            "stand_ins",
        ]


@admin.register(ExtractMapping)
class ExtractMappingAdmin(RecordedAdmin):
    form = ExtractMappingForm
    list_display = ("code", "title", "authority")
    list_select_related = ("authority",)
    search_fields = ("code", "title")


@admin.register(ExtractRun)
class ExtractRunAdmin(ReadOnlyAdmin):
    list_display = ("at", "file_name", "mapping", "by_name", "as_of", "row_count")
    list_select_related = ("mapping",)
    list_filter = ("mapping",)
    search_fields = ("file_name", "by_name")
    date_hierarchy = "at"


@admin.register(RegulatorRecord)
class RegulatorRecordAdmin(ReadOnlyAdmin):
    """What the extracts state; where it differs from the register stands on the page of differences."""

    list_display = ("label", "kind", "key", "own", "mapping", "row")
    list_select_related = ("mapping",)
    list_filter = ("kind", "own", "mapping")
    search_fields = ("label", "key")


@admin.register(Difference)
class DifferenceAdmin(ReadOnlyAdmin):
    """Differences are decided on their own page, with a reason; here they are read."""

    list_display = ("record", "what", "field", "state", "distance_m", "decided_by_name", "decided_at")
    list_select_related = ("record",)
    list_filter = ("state", "what")
    search_fields = ("record__label", "reason")
