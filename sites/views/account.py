"""Signing in and out, and how the person who is signed in reads the register."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import StaleWriteError
from sites.forms.reading import ReadingForm
from sites.models import Person
from sites.reading import as_read_by
from sites.services.people import change_reading
from sites.services.record import Author

from .access import Page


class SignIn(LoginView):
    template_name = "sign_in.html"
    http_method_names = ["get", "head", "post", "options"]
    form_class = AuthenticationForm


class Reading(Page):
    """Language, dates and decimals, unit of power and time zone of the person who is signed in."""

    act = _("choosing how you read the register")

    def get(self, request: HttpRequest) -> HttpResponse:
        return self.shown(request, ReadingForm(instance=_who(request)))

    def post(self, request: HttpRequest) -> HttpResponse:
        form, status = ReadingForm(request.POST, instance=_who(request)), 422
        if form.is_valid():
            by = Author.of(request.user)
            try:
                person = change_reading(_who(request), form.wanted, by=by, seen=form.cleaned_data["seen"])
            except StaleWriteError as error:
                status = error.status
                form.take_stale(error, _who(request))
            except ValidationError as error:
                form.add_error(None, error)
            else:
                with as_read_by(person):
                    messages.success(request, gettext("Kept. Pages and mails are written so from now on."))
                return redirect("reading")
        return self.shown(request, form, status)

    def shown(self, request: HttpRequest, form: ReadingForm, status: int = 200) -> HttpResponse:
        context: dict[str, Any] = {"form": form, "now": timezone.now(), "frequency_hz": 457_012_500}
        return render(request, "reading.html", context | {"output_dbm": 37.0}, status=status)


def _who(request: HttpRequest) -> Person:
    """The person as stored: a form writes what was typed into the one it is given."""
    return Person.objects.get(pk=cast(Person, request.user).pk)
