"""Checks, findings, variants and what was filed or recorded on site: to be read, made elsewhere."""

from __future__ import annotations

import json

from django.contrib import admin
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from sites.admin.base import ReadOnlyAdmin
from spectrum.models import (
    ApplicationLink,
    Check,
    CommissioningRecord,
    FiledStation,
    Finding,
    InterferenceEntry,
    PlannedChange,
    Variant,
    VariantCheck,
    VariantFinding,
)


@admin.register(CommissioningRecord)
class CommissioningRecordAdmin(ReadOnlyAdmin):
    """What was found on site is entered from the commissioning sheet; here it is read."""

    list_display = ("__str__", "found_by", "tx_power_dbm", "received_level_dbm", "isolation_db")
    list_select_related = ("station__link",)
    search_fields = ("station__link__code", "found_by", "notes")
    date_hierarchy = "found_on"


@admin.register(Check)
class CheckAdmin(ReadOnlyAdmin):
    list_display = ("started_at", "scope", "link", "as_of", "ended_at", "asked_by", "model_version")
    list_select_related = ("link", "asked_by")
    list_filter = ("scope",)
    search_fields = ("link__code",)
    date_hierarchy = "started_at"


@admin.register(Finding)
class FindingAdmin(ReadOnlyAdmin):
    """Findings are accepted on their own page, with a reason; here they are read."""

    list_display = ("headline", "kind", "severity", "margin", "margin_unit", "link", "licence", "gone_at")
    list_select_related = ("link", "licence__authority")
    list_filter = ("severity", "kind", ("gone_at", admin.EmptyFieldListFilter))
    search_fields = ("headline", "link__code", "licence__number")
    readonly_fields = ("evidence_in_full",)

    @admin.display(description=_("evidence"))
    def evidence_in_full(self, finding: Finding) -> SafeString:
        return format_html("<pre>{}</pre>", json.dumps(finding.evidence, indent=1, ensure_ascii=False))


@admin.register(ApplicationLink)
class ApplicationLinkAdmin(ReadOnlyAdmin):
    list_display = ("application", "link")
    list_select_related = ("application", "link")
    search_fields = ("application__number", "link__code")


@admin.register(FiledStation)
class FiledStationAdmin(ReadOnlyAdmin):
    list_display = ("__str__", "label", "licensed_channel")
    list_select_related = (
        "application_link__application",
        "application_link__link",
        "licensed_channel__licence__authority",
    )
    search_fields = ("application_link__application__number", "application_link__link__code")


@admin.register(InterferenceEntry)
class InterferenceEntryAdmin(ReadOnlyAdmin):
    """Interference is entered on the page of its link; here it is read."""

    list_display = ("link", "began_on", "ended_on", "station", "level_dbm", "other_party", "closed_on")
    list_select_related = ("link", "station__link", "other_party")
    list_filter = (("closed_on", admin.EmptyFieldListFilter),)
    search_fields = ("link__code", "observed", "outcome")


@admin.register(Variant)
class VariantAdmin(ReadOnlyAdmin):
    """Variants are drawn up and decided on their own pages; here they are read."""

    list_display = ("name", "as_of", "status", "drawn_up_by", "decided_by", "decided_at")
    list_select_related = ("drawn_up_by", "decided_by")
    list_filter = ("status",)
    search_fields = ("name", "purpose")


@admin.register(PlannedChange)
class PlannedChangeAdmin(ReadOnlyAdmin):
    list_display = ("code", "kind", "variant", "last_day")
    list_select_related = ("variant",)
    list_filter = ("kind",)
    search_fields = ("code", "variant__name")


@admin.register(VariantCheck)
class VariantCheckAdmin(ReadOnlyAdmin):
    list_display = ("variant", "as_of", "started_at", "ended_at", "asked_by", "model_version")
    list_select_related = ("variant", "asked_by")
    search_fields = ("variant__name",)


@admin.register(VariantFinding)
class VariantFindingAdmin(ReadOnlyAdmin):
    list_display = ("headline", "standing", "kind", "severity", "margin", "margin_before", "margin_unit")
    list_filter = ("standing", "severity")
    search_fields = ("headline",)
