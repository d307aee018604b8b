"""Administration of authorities, holders, licences with their channels, and reminders."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import Model, QuerySet
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext_lazy as _

from licences.forms.papers import (
    AuthorityForm,
    HolderForm,
    LicenceForm,
    LicensedChannelForm,
    RenewalPolicyForm,
)
from licences.models import (
    Application,
    Authority,
    Holder,
    Licence,
    LicenceEvent,
    LicensedChannel,
    Reminder,
    ReminderSettings,
    RenewalPolicy,
)
from licences.selectors import standing_on
from sites.admin.base import ReadOnlyAdmin, RecordedAdmin, RecordedInline
from sites.reading import day_here
from sites.saying import said_again

NO_FINDINGS = gettext_noop("none")  # to be translated where it is said


def shown_findings(findings: QuerySet[Any]) -> SafeString | str:
    """Findings as a list of links to where each is opened to its arithmetic, worst first."""
    rows = []
    for each in findings:
        margin = "" if each.margin is None else f" (margin {each.margin:.1f} {each.margin_unit})"
        accepted = f", accepted: {each.accepted_reason}" if each.accepted_at else ""
        address = reverse("admin:spectrum_finding_change", args=[each.pk])
        rows.append(
            (
                address,
                each.get_severity_display(),
                said_again(each.headline, each.words.get("headline")),
                margin,
                accepted,
            )
        )
    items = format_html_join("", '<li><a href="{}">{}: {}</a>{}{}</li>', rows)
    return format_html_join("", "<ul>{}</ul>", [(items,)]) if rows else gettext(NO_FINDINGS)


class RenewalPolicyInline(RecordedInline):
    model = RenewalPolicy
    form = RenewalPolicyForm


@admin.register(Authority)
class AuthorityAdmin(RecordedAdmin):
    form = AuthorityForm
    list_display = ("code", "name", "country")
    search_fields = ("code", "name")
    inlines = (RenewalPolicyInline,)


class PolicyOfAnyAuthorityForm(RenewalPolicyForm):
    class Meta(RenewalPolicyForm.Meta):
        fields = ["authority", *RenewalPolicyForm.Meta.fields]


@admin.register(RenewalPolicy)
class RenewalPolicyAdmin(RecordedAdmin):
    form = PolicyOfAnyAuthorityForm
    list_display = (
        "authority",
        "window_opens_days",
        "last_filing_days",
        "continues_while_undecided",
        "reminder_steps_days",
    )
    list_select_related = ("authority",)


@admin.register(Holder)
class HolderAdmin(RecordedAdmin):
    form = HolderForm
    list_display = ("name", "own", "contact_email", "contact_phone")
    list_filter = ("own",)
    search_fields = ("name",)


class LicensedChannelInline(RecordedInline):
    model = LicensedChannel
    form = LicensedChannelForm

    def get_queryset(self, request: Any) -> QuerySet[Any]:
        return super().get_queryset(request).select_related("site", "licence__authority", "paired_with")


@admin.register(Licence)
class LicenceAdmin(RecordedAdmin):
    form = LicenceForm
    list_display = ("number", "authority", "holder", "in_force_from", "expires_on", "standing")
    list_select_related = ("authority__renewal_policy", "holder")
    list_filter = ("authority", "holder__own")
    search_fields = ("number", "holder__name", "service")
    date_hierarchy = "expires_on"
    readonly_fields = ("current_findings",)
    inlines = (LicensedChannelInline,)

    @admin.display(description=_("standing today"))
    def standing(self, licence: Licence) -> str:
        return standing_on(licence, day_here()).words

    @admin.display(description=_("current findings"))
    def current_findings(self, licence: Model) -> SafeString | str:
        if licence.pk is None:
            return gettext(NO_FINDINGS)
        return shown_findings(licence.findings.filter(gone_at=None))  # type: ignore[attr-defined]


@admin.register(LicenceEvent)
class LicenceEventAdmin(ReadOnlyAdmin):
    list_display = ("on", "licence", "channel", "step", "proof", "entered_by_name")
    list_select_related = ("licence__authority", "channel__licence__authority")
    list_filter = ("step",)
    search_fields = ("licence__number", "proof")
    date_hierarchy = "on"


class ChannelOfAnyLicenceForm(LicensedChannelForm):
    class Meta(LicensedChannelForm.Meta):
        fields = ["licence", *LicensedChannelForm.Meta.fields]


@admin.register(LicensedChannel)
class LicensedChannelAdmin(RecordedAdmin):
    form = ChannelOfAnyLicenceForm
    list_display = ("__str__", "site", "in_force_from", "expires_on")
    list_select_related = ("licence__authority", "site")
    list_filter = ("licence__authority", "power_kind")
    search_fields = ("licence__number", "label", "site__code")
    autocomplete_fields = ("licence",)


@admin.register(Reminder)
class ReminderAdmin(ReadOnlyAdmin):
    list_display = ("due_on", "licence", "recipient", "step", "days_before", "state", "sent_at", "last_error")
    list_select_related = ("licence__authority", "recipient")
    list_filter = ("state", "step")
    search_fields = ("licence__number", "recipient__username")
    date_hierarchy = "due_on"


@admin.register(Application)
class ApplicationAdmin(ReadOnlyAdmin):
    """Applications are drawn up, filed and decided on their own pages; here they are read."""

    list_display = ("number", "authority", "holder", "state", "filed_on", "decided_on")
    list_select_related = ("authority", "holder")
    list_filter = ("state",)
    search_fields = ("number", "authority_reference")


@admin.register(ReminderSettings)
class ReminderSettingsAdmin(ReadOnlyAdmin):
    list_display = ("person", "rhythm", "weekday", "hour", "topics")
    list_select_related = ("person",)
    search_fields = ("person__username",)
