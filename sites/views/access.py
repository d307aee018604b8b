"""Who may open a page: signed in, and in a role that includes it."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.contrib.auth.models import Group
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render, resolve_url
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.generic import View
from django_htmx.http import HttpResponseClientRedirect

from sites.lazily import Words
from sites.on_day import PARAMETER as DAY


class Page(View):
    """A page for people who are signed in and whose role includes ``needs``.

    ``needs`` is a Django permission, or several of which any one is enough.
    ``act`` says in words what the person would do.
    A page that is not ``dated`` refuses a day in its address instead of passing it over; ``undated_because`` may say
    why, or what to ask instead.
    """

    needs: ClassVar[str | tuple[str, ...]] = ""
    act: ClassVar[Words] = _("opening this page")
    undated_because: ClassVar[Words] = ""

    @property
    def dated(self) -> bool:
        """Whether the page can be had as of a day."""
        return False

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not hasattr(self, str(request.method).lower()):
            return self.http_method_not_allowed(request, *args, **kwargs)
        if not request.user.is_authenticated:
            if getattr(request, "htmx", False):
                return HttpResponseClientRedirect(resolve_url(settings.LOGIN_URL))
            return redirect_to_login(request.get_full_path())
        if self.needs:
            require(request.user, self.needs, self.act)
        self.admit(request, **kwargs)
        if request.GET.get(DAY) and request.method in ("GET", "HEAD") and not self.dated:
            said = {"typed": request.GET[DAY], "because": self.undated_because}
            return render(request, "not_of_a_day.html", said, status=422)
        return self.answer(request, *args, **kwargs)

    def answer(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """The answer to somebody who may have it; a page that can be of another day answers for that day."""
        return super().dispatch(request, *args, **kwargs)

    def admit(self, request: HttpRequest, **kwargs: Any) -> None:
        """A page that asks for more than ``needs`` refuses here, with PermissionDenied."""


def may(user: Any, needs: str | tuple[str, ...]) -> bool:
    """Whether a person's role includes a permission, or any of several."""
    return any(user.has_perm(need) for need in _several(needs))


def require(user: Any, needs: str | tuple[str, ...], act: Words) -> None:
    """Refuse, naming the roles that could, when the person's role does not include ``needs``."""
    if may(user, needs):
        return
    mine = ", ".join(user.groups.values_list("name", flat=True)) or gettext("none yet")
    could = roles_with(needs)
    refusal = gettext("Your role ({mine}) does not include {act}.").format(mine=mine, act=act)
    who = (
        gettext("These roles include it: {roles}.").format(roles=", ".join(could))
        if could
        else gettext("Only an administrator can do it.")
    )
    raise PermissionDenied(f"{refusal} {who}")


def roles_with(needs: str | tuple[str, ...]) -> list[str]:
    """The names of the roles that include a permission, or any of several."""
    wanted = Q(pk__in=[])
    for need in _several(needs):
        app, codename = need.split(".", 1)
        wanted |= Q(permissions__content_type__app_label=app, permissions__codename=codename)
    return list(Group.objects.filter(wanted).order_by("name").values_list("name", flat=True).distinct())


def _several(needs: str | tuple[str, ...]) -> tuple[str, ...]:
    return (needs,) if isinstance(needs, str) else needs
