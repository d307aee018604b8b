"""What works without signing in, by a signed address: an answer from a mail, and the calendar."""

from __future__ import annotations

import hashlib
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.decorators import method_decorator
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.generic import View

from licences.forms.reminders import PutOffForm
from licences.services import reminders
from licences.services.reminders.calendar import calendar_of
from licences.services.reminders.signed import Asked, LinkError, Purpose, calendar_owner, read
from sites.errors import RegisterError
from sites.reading import as_read_by, neutral, written_day
from sites.services.record import Author

from .reminders import about


@method_decorator(never_cache, name="dispatch")
class ByMail(View):
    """A link from a mail. Opening it only asks; the answer is given by the button.

    A mail scanner that opens every link therefore answers nothing.
    """

    http_method_names = ["get", "head", "post"]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        try:
            return super().dispatch(request, *args, **kwargs)
        except LinkError as error:
            return render(request, "reminder_link.html", {"problem": error.message}, status=error.status)

    def get(self, request: HttpRequest, purpose: str, token: str) -> HttpResponse:
        asked = self.asked(purpose, token)
        with as_read_by(asked.person):
            return self.shown(request, purpose, asked, PutOffForm())

    def post(self, request: HttpRequest, purpose: str, token: str) -> HttpResponse:
        asked = self.asked(purpose, token)
        with as_read_by(asked.person):
            return self.answered(request, purpose, asked)

    def answered(self, request: HttpRequest, purpose: str, asked: Asked) -> HttpResponse:
        author = Author(name=f"{asked.person} (by a link from a mail)", person=asked.person)
        form, status, done = PutOffForm(request.POST), 422, ""
        try:
            if purpose == Purpose.ACKNOWLEDGE:
                asked = Asked(
                    reminders.acknowledge(asked.reminder, by=asked.person, author=author), asked.person
                )
                done = gettext("Acknowledged. The next reminder of this licence still comes.")
            elif form.is_valid():
                until, reason = form.cleaned_data["until"], form.cleaned_data["reason"]
                asked = Asked(reminders.put_off(asked.reminder, until, reason, author=author), asked.person)
                done = gettext("Put off until {until}.").format(until=written_day(until))
        except RegisterError as error:
            status = error.status if error.status == 409 else 422
            form.take_error(error)
        return self.shown(request, purpose, asked, form, 200 if done else status, done)

    def asked(self, purpose: str, token: str) -> Asked:
        try:
            kind = Purpose(purpose)
        except ValueError as error:
            raise Http404(f"There is no answer {purpose!r} to a reminder.") from error
        return read(kind, token, timezone.now().date())

    def shown(
        self,
        request: HttpRequest,
        purpose: str,
        asked: Asked,
        form: PutOffForm,
        status: int = 200,
        done: str = "",
    ) -> HttpResponse:
        context = {
            "purpose": purpose,
            "person": asked.person,
            "form": form,
            "done": done,
            **about(asked.reminder),
        }
        return render(request, "reminder_link.html", context, status=status)


class CalendarFeed(View):
    """A person's calendar by its secret address; answered with 304 when nothing changed."""

    http_method_names = ["get", "head"]

    def get(self, request: HttpRequest, token: str) -> HttpResponseBase:
        owner = calendar_owner(token)
        if owner is None:
            raise Http404("There is no calendar at this address, or it was given a new one.")
        with neutral():  # a file means the same whoever fetches it
            body = calendar_of(owner)
        etag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
        answer = HttpResponse(body, content_type="text/calendar; charset=utf-8")
        answer["Content-Disposition"] = 'inline; filename="licences.ics"'
        answer["Cache-Control"] = "private, no-cache"
        answer["ETag"] = etag
        return get_conditional_response(request, etag=etag, response=answer) or answer
