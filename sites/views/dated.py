"""Pages of the whole register that can be had as of a day: lists, the search, the map, home."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponseBase, StreamingHttpResponse
from django.utils.translation import gettext

from sites.on_day import PARAMETER, read_day, register_on
from sites.reading import day_here

from .access import Page


class DatedPage(Page):
    """With a day in its address it reads the register of that day; ``day`` is None for the register as it stands."""

    day: dt.date | None = None
    day_trouble: str = ""

    @property
    def dated(self) -> bool:
        """Whether what is shown is kept by day."""
        return True

    def answer(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        typed = self.day_typed(request)
        if not typed:
            return super().answer(request, *args, **kwargs)
        try:
            self.day = read_day(typed)
        except ValueError as error:
            return self.without_a_day(request, str(error), *args, **kwargs)
        with register_on(self.day):
            response = super().answer(request, *args, **kwargs)
            if isinstance(response, StreamingHttpResponse):
                # The register of a day is gone when this ends, so the file is made before.
                response.streaming_content = [b"".join(response.streaming_content)]  # type: ignore[arg-type]
            return response

    def day_typed(self, request: HttpRequest) -> str:
        """The day that is asked for, as it was typed; empty for the register as it stands."""
        return str(request.GET.get(PARAMETER, ""))

    def without_a_day(self, request: HttpRequest, why: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """The answer where what was typed is no day: as of today, with a sentence."""
        self.day_trouble = f"{why} {gettext('The register is shown as it stands today.')}"
        return super().answer(request, *args, **kwargs)

    def day_context(self, request: HttpRequest) -> dict[str, Any]:
        """What ``_day.html`` and ``_as_of.html`` need."""
        return {
            "day": self.day,
            "day_trouble": self.day_trouble,
            "ahead": self.day is not None and self.day > day_here(),
            "kept": [(name, value) for name, value in request.GET.items() if name not in (PARAMETER, "page")],
        }
