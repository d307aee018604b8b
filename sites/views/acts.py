"""What a person does in one request is one act, and the next page offers to undo it."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from urllib.parse import urlsplit, urlunsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.models import Person
from sites.services import acts, undo

from .access import Page
from .addresses import PAGES, page_of_id

SAFE = ("GET", "HEAD", "OPTIONS", "TRACE")
#: The message that offers an undo has this tag and the act's number.
OFFER = "undo"
OFFERED = _("You can undo this for as long as nobody has built on it.")


def one_act_per_request(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Middleware: the entries of one request are one act; the page that follows offers to undo it."""

    def answer(request: HttpRequest) -> HttpResponse:
        if request.method in SAFE:
            return get_response(request)
        with acts.own_act() as act:
            response = get_response(request)
        if act.written and _is_for_a_person(request) and undo.is_offered(act.id, request.user):  # type: ignore[arg-type]
            if response.status_code in (302, 303):
                messages.info(request, OFFERED, extra_tags=f"{OFFER} {act.id}")
            elif response.status_code == 200 and getattr(request, "htmx", False):
                _offer_beside(request, response, act)
        return response

    return answer


def _is_for_a_person(request: HttpRequest) -> bool:
    """Whether a page of the register was used, not the administration or the interface for programs."""
    inside = request.resolver_match is not None and not request.resolver_match.namespaces
    return inside and request.user.is_authenticated


def _offer_beside(request: HttpRequest, response: HttpResponse, act: acts.Act) -> None:
    """Put the offer where messages stand, beside the part of the page that is renewed."""
    here = urlsplit(request.htmx.current_url_abs_path or "")  # type: ignore[attr-defined]
    offer = {"text": OFFERED, "act": act.id, "back": urlunsplit(here._replace(fragment=""))}
    response.write(render_to_string("_undo_offer_beside.html", offer, request))


class Undo(Page):
    """Takes back what the person did in one act."""

    act = _("undoing what you did")

    def post(self, request: HttpRequest) -> HttpResponse:
        back = str(request.POST.get("back", ""))
        if not url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure()):
            back = reverse("home")
        try:
            assert isinstance(request.user, Person)  # noqa: S101 - a page is for people who are signed in
            undone = undo.undo(_number(str(request.POST.get("act", ""))), by=request.user)
        except RegisterError as error:
            messages.error(request, error.message)
        else:
            messages.success(request, undone.sentence)
            back = _page_after(undone) or back
        return redirect(back)


def _page_after(undone: undo.Undone) -> str:
    """The page of what is in the register again; the list of what is there no more."""
    if undone.there or undone.object_type not in PAGES:
        return page_of_id(undone.object_type, undone.object_id)
    return reverse(f"{PAGES[undone.object_type]}-list")


def _number(typed: str) -> uuid.UUID:
    try:
        return uuid.UUID(typed)
    except ValueError:
        raise RegisterError(
            gettext(
                "“{typed}” is no act of the change record. Use the button on the page after what you did."
            ).format(typed=typed[:40])
        ) from None
