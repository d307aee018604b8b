"""Entering and changing a link with all its stations on one page."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.forms.papers import channel_code
from licences.models import Holder
from licences.selectors import all_licensed_channels
from licences.views.papers import OPTIONS
from sites.errors import RegisterError, StaleWriteError
from sites.models import Site
from sites.services.record import Author
from sites.templatetags.figures import mhz
from sites.views.access import Page
from sites.views.addresses import page_of
from sites.views.editing import AT_ONCE
from spectrum.forms.links import LinkEntry
from spectrum.models import Link
from spectrum.services import links
from spectrum.services.filing import FilingVerdict, needs_filing
from spectrum.services.held_pairs import PairHeldError, RegisterBusyError
from spectrum.views.link_preview import preview_context

MOST_PLACES = 3  # a link's two ends, or a hub with the remotes that a new form shows


class LinkEdit(Page):
    """What adding and changing share."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        live_update = (
            request.method == "POST" and getattr(request, "htmx", False) and "preview" in request.POST
        )
        if live_update and not request.user.is_authenticated:
            # It was asked for by typing: leading to the sign-in page would lose what was typed.
            return render(request, "_link_preview_signed_out.html")
        return super().dispatch(request, *args, **kwargs)

    def subject(self, request: HttpRequest, **kwargs: Any) -> Link:
        """A new link of the kind in the address, held by us; LinkChange takes the one in the address."""
        multipoint = request.GET.get("kind") == Link.Kind.POINT_TO_MULTIPOINT
        kind = Link.Kind.POINT_TO_MULTIPOINT if multipoint else Link.Kind.POINT_TO_POINT
        own = Holder.objects.filter(own=True).order_by("pk").first()
        person: Any = request.user
        return Link(kind=kind, **({"holder": own} if own else {}), responsible=person)

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        return self.shown(request, LinkEntry(self.subject(request, **kwargs)))

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        link = self.subject(request, **kwargs)
        if "preview" in request.POST:
            return self.previewed(request, LinkEntry(link, data=request.POST))
        if "add_remote" in request.POST:
            return self.shown(request, LinkEntry(link, data=request.POST, one_more=True).quietly())
        entry = LinkEntry(link, data=request.POST)
        status = 422
        if entry.is_valid() and self.allowed(request, entry):
            try:
                return self.saved(request, entry)
            except StaleWriteError as error:
                status = error.status
                entry.take_stale(error.message)
            except (PairHeldError, RegisterBusyError) as error:
                status = error.status
                entry.take_error(error)
            except (ValidationError, RegisterError) as error:
                entry.take_error(error)
            except IntegrityError:
                status = 409
                entry.form.add_error(None, AT_ONCE)
        return self.shown(request, entry, status)

    def previewed(self, request: HttpRequest, entry: LinkEntry) -> HttpResponse:
        """The judgement of what was typed so far: alone for a live update, else with the page. Nothing is saved."""
        judged = {"entry": entry, **preview_context(entry, str(request.POST.get("preview_path", "")))}
        judged["filing_now"] = self.filing_of(entry)
        if getattr(request, "htmx", False):
            return render(request, "_link_preview.html", judged)
        return self.shown(request, entry.quietly(), more=judged)

    def filing_of(self, entry: LinkEntry) -> FilingVerdict | None:
        """What a change needs from the authority; a new link changes nothing that is licensed."""
        return None

    def saved(self, request: HttpRequest, entry: LinkEntry) -> HttpResponse:
        """Where a link that was entered without fault goes: into the register."""
        saved = links.save_link(
            entry.form.instance,
            entry.stations,
            by=Author.of(request.user),
            expected_version=entry.form.expected_version,
        )
        messages.success(
            request, gettext("{link} is in the register. Its check was asked for.").format(link=saved.code)
        )
        return redirect(page_of(saved))

    def allowed(self, request: HttpRequest, entry: LinkEntry) -> bool:
        """Whether the person's role includes what the form asks for beyond changing what is there."""
        user = request.user
        holder = entry.form.cleaned_data.get("holder")
        if holder is not None and not holder.own and not user.has_perm("spectrum.what_others_hold"):
            entry.form.add_error(
                "holder",
                gettext(
                    "Your role does not include links of other parties; a planner or registrar enters them."
                ),
            )
            return False
        stations = (*entry.ends, *entry.remotes)
        moved = any(form.removing or form.instance.pk is None for form in stations)
        if moved and entry.link.pk and not user.has_perm("spectrum.add_station"):
            entry.form.add_error(
                None,
                gettext(
                    "Your role changes the stations that are there; a planner adds and removes stations."
                ),
            )
            return False
        return True

    def shown(
        self, request: HttpRequest, entry: LinkEntry, status: int = 200, more: dict[str, Any] | None = None
    ) -> HttpResponse:
        stored = Link.objects.filter(pk=entry.link.pk).first() if entry.link.pk else None
        multipoint = entry.multipoint
        channels = all_licensed_channels().filter(licence__holder__own=True)[:OPTIONS]
        context = {
            "entry": entry,
            "form": entry.form,
            "heading": _heading(stored, multipoint),
            "back": page_of(stored) if stored else reverse("link-list"),
            "adding": stored is None,
            **(more or {}),
            **self.more_context(stored),
            "site_options": Site.objects.filter(own=True)
            .order_by("code")
            .values_list("code", "name")[:OPTIONS],
            "channel_options": [(channel_code(c), f"{mhz(c.frequency_hz)} MHz") for c in channels],
        }
        return render(request, "link_form.html", context, status=status)

    def more_context(self, stored: Link | None) -> dict[str, Any]:
        """What a page that sends the link elsewhere shows otherwise."""
        return {}


class LinkAdd(LinkEdit):
    """A new link; ``?site=`` once or twice names the sites of its ends, as they were chosen on the map."""

    needs = "spectrum.add_link"
    act = _("entering a link")

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        codes = [code.replace("\x00", "")[:40] for code in request.GET.getlist("site")[:MOST_PLACES]]
        known = {site.code: site for site in Site.objects.filter(code__in=codes)}
        for code in codes:
            if code not in known:
                messages.warning(
                    request,
                    gettext("“{code}” names no site in the register. Give the site's code below.").format(
                        code=code
                    ),
                )
        entry = LinkEntry(self.subject(request, **kwargs))
        return self.shown(request, entry.at(known[code] for code in codes if code in known))


class LinkChange(LinkEdit):
    needs = "spectrum.change_link"
    act = _("changing a link")

    filing: FilingVerdict | None = None  # of what was sent, where the person has not confirmed it yet

    def subject(self, request: HttpRequest, **kwargs: Any) -> Link:
        return get_object_or_404(Link.objects.select_related("holder"), pk=kwargs["pk"])

    def filing_of(self, entry: LinkEntry) -> FilingVerdict | None:
        return None if entry.errors else needs_filing(entry.form.instance, entry.stations)

    def allowed(self, request: HttpRequest, entry: LinkEntry) -> bool:
        """Also asks once, before saving, where the change leaves the licence or has to be told."""
        if not super().allowed(request, entry):
            return False
        verdict = needs_filing(entry.form.instance, entry.stations)
        if not verdict.needs_word or request.POST.get("filing_seen") == verdict.digest:
            return True
        self.filing = verdict
        return False

    def more_context(self, stored: Link | None) -> dict[str, Any]:
        return {"filing": self.filing}


def _heading(stored: Link | None, multipoint: bool) -> str:
    if stored:
        return gettext("Change link {link}").format(link=stored)
    if multipoint:
        return gettext("Enter a point-to-multipoint link")
    return gettext("Enter a point-to-point link")
