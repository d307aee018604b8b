"""Authorities with their renewal policies, and holders: lists, pages and forms."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from licences import selectors
from licences.applying import FIELDS
from licences.forms.papers import AuthorityForm, HolderForm, RenewalPolicyForm
from licences.models import Authority, Holder, RenewalPolicy
from licences.views.papers import today
from sites.forms.base import RegisterForm
from sites.models import Registered
from sites.views.addresses import page_of
from sites.views.editing import ChangePage, EditPage, RemovePage
from sites.views.listing import Column, ListPage
from sites.views.on_day import ObjectPage
from sites.views.places import own_filter, search_filter

SHOWN_LICENCES = 100


class AuthorityFilter(filters.FilterSet):
    q = search_filter("code", "name", "country")

    class Meta:
        model = Authority
        fields: list[str] = []


class AuthorityList(ListPage):
    needs = "licences.view_authority"
    act = _("reading the list of authorities")
    heading = _("Authorities: who grants?")
    empty = _(
        "Authorities belong here: the bodies that grant licences, each with its renewal policy. "
        "Enter yours first; licences refer to it."
    )
    filterset_class = AuthorityFilter
    default_sort = "code"
    add_page, add_needs, add_label = "authority-add", "licences.add_authority", _("Enter an authority")
    columns = (
        Column(_("code"), lambda a: a.code, "code", "code", page_of),
        Column(_("name"), lambda a: a.name, order="name"),
        Column(_("country"), lambda a: a.country, order="country"),
        Column(_("licences"), lambda a: a.licence_count, "figure", "licence_count"),
        Column(
            _("renewal window"),
            lambda a: (
                a.renewal_policy.window_opens_days if hasattr(a, "renewal_policy") else gettext("none set")
            ),
            "figure",
            "renewal_policy__window_opens_days",
            unit=_("days"),
        ),
    )

    def rows(self) -> QuerySet[Authority]:
        return (
            selectors.all_authorities()
            .select_related("renewal_policy")
            .annotate(licence_count=Count("licences"))
        )


class AuthorityPage(ObjectPage):
    shows = Authority
    needs = "licences.view_authority"
    act = _("reading an authority")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        authority = get_object_or_404(Authority.objects.select_related("renewal_policy"), pk=pk)
        licences = selectors.all_licences().filter(authority=authority).order_by(*selectors.EXPIRING_FIRST)
        policy = getattr(authority, "renewal_policy", None)
        context = {
            "authority": authority,
            "policy": policy,
            "reminded": reminded(policy) if policy else [],
            "licences": with_standings(licences),
            "licence_count": licences.count(),
            "asked": [gettext(field.title) for key, field in FIELDS.items() if key in authority.asked_fields],
        }
        return render(request, "authority.html", context)


REMINDED = {
    "window_steps_days": _("before the window opens"),
    "reminder_steps_days": _("before the last filing day"),
    "expiry_steps_days": _("before the expiry"),
    "after_expiry_steps_days": _("after the expiry"),
    "use_steps_days": _("before the bring-into-use date"),
    "notice_steps_days": _("before the notice of use"),
    "fee_steps_days": _("before a fee is due"),
}


def reminded(policy: RenewalPolicy) -> list[tuple[str, str]]:
    """When people are reminded by a policy: before or after what, and how many days."""
    return [(str(words), _on_days(getattr(policy, name))) for name, words in REMINDED.items()]


def _on_days(days: list[int]) -> str:
    if not days:
        return gettext("none")
    if days == [0]:
        return gettext("on the day")
    pattern = ngettext("{days} day", "{days} days", days[-1] if len(days) == 1 else len(days))
    return pattern.format(days=", ".join(map(str, days)))


def with_standings(licences: QuerySet[Any]) -> list[tuple[Any, Any]]:
    """The first licences of a query, each with its standing today."""
    rows = licences.select_related("authority__renewal_policy")[:SHOWN_LICENCES]
    return [(licence, selectors.standing_on(licence, today())) for licence in rows]


class AuthorityForms(EditPage):
    model = Authority
    form_class = AuthorityForm
    noun = _("authority")


class AuthorityAdd(AuthorityForms):
    needs = "licences.add_authority"
    act = _("entering an authority")


class AuthorityChange(ChangePage, AuthorityForms):
    needs = "licences.change_authority"
    act = _("changing an authority")


class AuthorityRemove(RemovePage):
    needs = "licences.delete_authority"
    act = _("removing an authority")
    model, noun = Authority, _("authority")


class PolicyForms(EditPage):
    model = RenewalPolicy
    form_class = RenewalPolicyForm
    noun = _("renewal policy")

    def back(self, form: RegisterForm) -> str:
        return page_of(form.instance.authority)


class PolicyAdd(PolicyForms):
    needs = "licences.add_renewalpolicy"
    act = _("entering a renewal policy")

    def subject(self, **kwargs: Any) -> Registered:
        return RenewalPolicy(authority=get_object_or_404(Authority, pk=kwargs["authority_pk"]))


class PolicyChange(ChangePage, PolicyForms):
    needs = "licences.change_renewalpolicy"
    act = _("changing a renewal policy")


class PolicyRemove(RemovePage):
    needs = "licences.delete_renewalpolicy"
    act = _("removing a renewal policy")
    model, noun = RenewalPolicy, _("renewal policy")


class HolderFilter(filters.FilterSet):
    q = search_filter("name", "contact_email")
    whose = own_filter()

    class Meta:
        model = Holder
        fields: list[str] = []


class HolderList(ListPage):
    needs = "licences.view_holder"
    act = _("reading the list of holders")
    heading = _("Holders: who may transmit?")
    empty = _("Holders belong here: your own company, and the others whose links must not be disturbed.")
    filterset_class = HolderFilter
    default_sort = "name"
    add_page, add_needs, add_label = "holder-add", "licences.add_holder", _("Enter a holder")
    columns = (
        Column(_("name"), lambda h: h.name, order="name", href=page_of),
        Column(_("whose"), lambda h: gettext("our own") if h.own else gettext("another party"), order="own"),
        Column(_("licences"), lambda h: h.licence_count, "figure", "licence_count"),
        Column(_("e-mail"), lambda h: h.contact_email, order="contact_email"),
        Column(_("telephone"), lambda h: h.contact_phone),
    )

    def rows(self) -> QuerySet[Holder]:
        return selectors.all_holders().annotate(licence_count=Count("licences"))


class HolderForms(EditPage):
    model = Holder
    form_class = HolderForm
    noun = _("holder")


class HolderAdd(HolderForms):
    needs = "licences.add_holder"
    act = _("entering a holder")


class HolderChange(ChangePage, HolderForms):
    needs = "licences.change_holder"
    act = _("changing a holder")


class HolderRemove(RemovePage):
    needs = "licences.delete_holder"
    act = _("removing a holder")
    model, noun = Holder, _("holder")
