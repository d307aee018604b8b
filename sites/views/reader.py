"""Every page is written for the person who is signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from sites.reading import as_read_by

#: Programs read what is below these addresses: it means the same whoever asks.
FOR_PROGRAMS = ("/api/", "/ogc/", "/static/")


def read_by_who_is_signed_in(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Middleware: language, figures, days and times as the person reads them; neutral for programs.

    What is sent in portions after the answer is given is written for nobody in particular.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        if request.path_info.startswith(FOR_PROGRAMS):
            return get_response(request)
        with as_read_by(request.user):
            return get_response(request)

    return answer
