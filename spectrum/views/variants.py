"""Variants: planned changes drawn up together, what they would bring, accepted as a whole or dropped."""

from __future__ import annotations

import datetime as dt
from typing import Any, cast

import django_filters as filters
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.forms.base import RegisterForm
from sites.models import Person
from sites.reading import written_day, written_moment
from sites.services.record import as_register_error
from sites.views.access import Page
from sites.views.addresses import page_of
from sites.views.changes import in_words
from sites.views.editing import ChangePage, EditPage, RemovePage, plain
from sites.views.listing import Column, ListPage
from sites.views.on_day import ObjectPage
from sites.views.places import search_filter
from spectrum.forms.links import LinkEntry
from spectrum.forms.variants import VariantForm
from spectrum.models import Link, PlannedChange, Variant, VariantFinding
from spectrum.services import variants

from .link_entry import LinkEdit

SHOWN = 200
CHANGES = "spectrum.change_variant"


class VariantFilter(filters.FilterSet):
    q = search_filter("name", "purpose", "changes__code")
    status = filters.ChoiceFilter(label=_("status"), choices=Variant.Status.choices, empty_label=_("all"))

    class Meta:
        model = Variant
        fields: list[str] = []


class VariantList(ListPage):
    needs = "spectrum.view_variant"
    act = _("reading the list of variants")
    heading = _("Variants: what would the network be if?")
    lead = _(
        "Planned changes that are checked together. Nothing of a variant is in the register until it is accepted."
    )
    empty = _(
        "A variant belongs here when several changes hang together: draw one up, plan its changes, check it."
    )
    filterset_class = VariantFilter
    default_sort = "-changed_at"
    add_page, add_needs, add_label = "variant-add", "spectrum.add_variant", _("Draw up a variant")
    columns = (
        Column(_("name"), lambda v: v.name, order="name", href=page_of),
        Column(_("as of"), lambda v: v.as_of, "date", "as_of"),
        Column(_("status"), lambda v: v.get_status_display(), order="status"),
        Column(_("planned changes"), lambda v: len(v.changes.all()), "figure"),
        Column(_("drawn up by"), lambda v: v.drawn_up_by or ""),
        Column(
            _("changed"),
            lambda v: written_moment(v.changed_at),
            "date",
            "changed_at",
            name="changed_utc",
            plain=lambda v: v.changed_at,
        ),
    )

    def rows(self) -> QuerySet[Variant]:
        return variants.all_variants().distinct()


class VariantAdd(EditPage):
    needs = "spectrum.add_variant"
    act = _("drawing up a variant")
    model, form_class, noun = Variant, VariantForm, _("variant")

    def save(self, form: RegisterForm, request: HttpRequest) -> Variant:
        return variants.draw_up(cast(Variant, form.instance), by=cast(Person, request.user))

    def said(self, saved: Any) -> str:
        return gettext("The variant {variant} is drawn up. Plan its changes now.").format(variant=saved)


class VariantChange(ChangePage):
    needs = CHANGES
    act = _("changing a variant")
    model, form_class, noun = Variant, VariantForm, _("variant")

    def save(self, form: RegisterForm, request: HttpRequest) -> Variant:
        return variants.rename(
            cast(Variant, form.instance),
            by=cast(Person, request.user),
            expected_version=form.expected_version,
        )

    def said(self, saved: Any) -> str:
        return gettext("The variant {variant} is changed. Check it again.").format(variant=saved)


class VariantRemove(RemovePage):
    needs = "spectrum.delete_variant"
    act = _("removing a variant")
    model, noun = Variant, _("variant")


class VariantPage(ObjectPage):
    """One variant: the answer, what is planned, and what would be new, still there and gone."""

    shows = Variant
    needs = "spectrum.view_variant"
    act = _("reading a variant")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        variant = get_object_or_404(variants.all_variants(), pk=pk)
        changes = list(variant.changes.all())
        is_open = variant.status == Variant.Status.OPEN
        for change in changes:
            entries = variants.as_changes(change) if is_open else []
            change.words = in_words(entries)  # type: ignore[attr-defined]
        check = variants.last_check(variant)
        counts = check.counts if check else {}
        found = variants.findings_of(variant)
        context = {
            "variant": variant,
            "changes": changes,
            "is_open": is_open,
            "check": check,
            "up_to_date": check is not None and check.drawn_up == variants.drawn_up_digest(variant, changes),
            "changed_since": variants.changed_since(check) if check and is_open else 0,
            "under_way": variants.check_under_way(variant),
            "must_fix": found.filter(standing="new", severity="must_fix").count(),
            "groups": [
                (value, label, counts.get(value, 0), list(found.filter(standing=value)[:SHOWN]))
                for value, label in VariantFinding.Standing.choices
            ]
            if check
            else [],
            "shown_most": SHOWN,
        }
        return render(request, "variant.html", context)


class VariantFindingPage(Page):
    """One finding that a variant would bring, leave or take away, with its arithmetic."""

    needs = "spectrum.view_variant"
    act = _("reading a variant")

    def get(self, request: HttpRequest, pk: int, finding_pk: int) -> HttpResponse:
        variant = get_object_or_404(Variant, pk=pk)
        finding = get_object_or_404(variants.findings_of(variant), pk=finding_pk)
        return render(request, "variant_finding.html", {"variant": variant, "finding": finding})


class _Planning(LinkEdit):
    """A link that goes into the variant in the address instead of into the register."""

    needs = CHANGES
    act = _("planning a change in a variant")

    def variant(self) -> Variant:
        return get_object_or_404(Variant, pk=self.kwargs["pk"])

    def more_context(self, stored: Link | None) -> dict[str, Any]:
        variant = self.variant()
        if stored:
            heading = gettext("Variant {variant}: plan a change of {link}").format(
                variant=variant, link=stored
            )
        else:
            heading = gettext("Variant {variant}: plan a new link").format(variant=variant)
        return {"variant": variant, "heading": heading, "back": page_of(variant)}

    def done(self, request: HttpRequest, change: PlannedChange) -> HttpResponse:
        messages.success(
            request,
            gettext("Planned: {change}. Check the variant when it is complete.").format(change=change),
        )
        return redirect(page_of(change.variant))


class VariantLinkAdd(_Planning):
    def saved(self, request: HttpRequest, entry: LinkEntry) -> HttpResponse:
        change = variants.add_link(
            self.variant(), entry.form.instance, entry.stations, by=cast(Person, request.user)
        )
        return self.done(request, change)


class VariantLinkChange(_Planning):
    def subject(self, request: HttpRequest, **kwargs: Any) -> Link:
        return get_object_or_404(Link.objects.select_related("holder"), pk=kwargs["link_pk"])

    def saved(self, request: HttpRequest, entry: LinkEntry) -> HttpResponse:
        change = variants.change_link(
            self.variant(),
            entry.form.instance,
            entry.stations,
            by=cast(Person, request.user),
            expected_version=entry.form.expected_version,
        )
        return self.done(request, change)


class VariantAct(Page):
    """Something done with a variant that leads back to its page, with a sentence on what came of it."""

    needs = CHANGES
    act = _("changing a variant")

    def post(self, request: HttpRequest, pk: int, **kwargs: Any) -> HttpResponse:
        variant = get_object_or_404(Variant, pk=pk)
        try:
            return self.carried_out(request, variant, **kwargs)
        except ValidationError as error:
            messages.error(request, as_register_error(error).message)
        except RegisterError as error:
            messages.error(request, error.message)
        return redirect(page_of(variant))

    def carried_out(self, request: HttpRequest, variant: Variant, **kwargs: Any) -> HttpResponse:
        raise TypeError(f"{type(self).__name__} does not say what it does")

    def back(self, request: HttpRequest, variant: Variant, said: str) -> HttpResponse:
        messages.success(request, said)
        return redirect(page_of(variant))


def link_named(request: HttpRequest) -> Link:
    """The link whose code was typed. Raises RegisterError."""
    code = plain(request.POST.get("code", ""), 40)
    link = Link.objects.filter(code__iexact=code).first()
    if link is None:
        raise RegisterError(
            gettext("There is no link with the code “{code}”; look it up in the list of links.").format(
                code=code
            )
        )
    return link


class VariantOpenLink(VariantAct):
    """Leads from a typed code to the form on which the link is planned otherwise."""

    def carried_out(self, request: HttpRequest, variant: Variant, **kwargs: Any) -> HttpResponse:
        return redirect(reverse("variant-link-change", args=[variant.pk, link_named(request).pk]))


class VariantRetire(VariantAct):
    def carried_out(self, request: HttpRequest, variant: Variant, **kwargs: Any) -> HttpResponse:
        typed = plain(request.POST.get("last_day", ""), 20)
        try:
            last_day = dt.date.fromisoformat(typed) if typed else None
        except ValueError as error:
            raise RegisterError(
                gettext("The last day is “{typed}”; a date was expected, for example 2027-02-28.").format(
                    typed=typed
                )
            ) from error
        change = variants.retire_link(
            variant, link_named(request), by=cast(Person, request.user), last_day=last_day
        )
        return self.back(
            request,
            variant,
            gettext("Planned: {change}, last day {last_day}.").format(
                change=change, last_day=written_day(change.last_day) if change.last_day else ""
            ),
        )


class VariantTakeOut(VariantAct):
    def carried_out(self, request: HttpRequest, variant: Variant, **kwargs: Any) -> HttpResponse:
        change = get_object_or_404(variant.changes, pk=kwargs["change_pk"])
        said = gettext("Taken out: {change}.").format(change=change)
        variants.take_out(change, by=cast(Person, request.user))
        return self.back(request, variant, said)


class VariantCheckNow(VariantAct):
    act = _("checking a variant")

    def carried_out(self, request: HttpRequest, variant: Variant, **kwargs: Any) -> HttpResponse:
        return redirect(page_of(variants.ask_for_check(variant, by=cast(Person, request.user))))


class VariantAccept(VariantAct):
    act = _("accepting a variant")

    def carried_out(self, request: HttpRequest, variant: Variant, **kwargs: Any) -> HttpResponse:
        reason = plain(request.POST.get("reason", ""))
        variants.accept(variant, by=cast(Person, request.user), reason=reason)
        said = gettext(
            "The variant {variant} is in the register, every change of it. The links' checks were asked for."
        ).format(variant=variant)
        return self.back(request, variant, said)


class VariantDrop(VariantAct):
    act = _("dropping a variant")

    def carried_out(self, request: HttpRequest, variant: Variant, **kwargs: Any) -> HttpResponse:
        reason = plain(request.POST.get("reason", ""))
        variants.drop(variant, by=cast(Person, request.user), reason=reason)
        return self.back(
            request,
            variant,
            gettext("The variant {variant} is dropped. It stays here to be read.").format(variant=variant),
        )
