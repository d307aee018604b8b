"""``as_of``: a list or an object of the register as it stood, or will stand by its dates, on a day."""

from __future__ import annotations

import datetime as dt
from contextlib import ExitStack
from typing import Any

from django.http import Http404, HttpResponseBase
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from sites.errors import RegisterError
from sites.models import Registered
from sites.on_day import PARAMETER, read_day, register_on, why_not_there

READS = ("list", "retrieve")


class NotThereOnThatDayError(RegisterError):
    """The object did not stand in the register on the day that is asked for."""

    status = 404
    title = "It was not in the register on that day"


class AsOfADay:
    """Reads as of a day. The version is then no version that a change could name, and no ETag is sent."""

    day: dt.date | None = None
    queryset: Any
    kwargs: dict[str, Any]

    @property
    def dated(self) -> bool:
        """Whether these are objects whose changes are recorded."""
        return self.queryset is not None and issubclass(self.queryset.model, Registered)

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with ExitStack() as self._open:
            return super().dispatch(request, *args, **kwargs)  # type: ignore[misc]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """After the person is known and allowed: open the register of the day."""
        super().initial(request, *args, **kwargs)  # type: ignore[misc]
        typed = request.query_params.get(PARAMETER)
        if typed is None or not self.dated:
            return
        if getattr(self, "action", "") not in READS:
            raise ValidationError(
                {
                    PARAMETER: "Lists and single objects can be read as of a day; nothing else can be asked of one."
                }
            )
        try:
            day = read_day(typed)
        except ValueError as error:
            raise ValidationError({PARAMETER: str(error)}) from None
        self._open.enter_context(register_on(day))
        self.day = day

    def get_object(self) -> Any:
        try:
            return super().get_object()  # type: ignore[misc]
        except Http404:
            if self.day is None or not (
                why := why_not_there(self.queryset.model, int(self.kwargs["pk"]), self.day)
            ):
                raise
            raise NotThereOnThatDayError(why) from None


class DescribedWithDays(AutoSchema):
    """Names ``as_of`` in the description of the API wherever it is taken."""

    def get_override_parameters(self) -> list[Any]:
        if getattr(self.view, "dated", False) and getattr(self.view, "action", "") in READS:
            return [
                OpenApiParameter(
                    PARAMETER,
                    dt.date,
                    description="As it stood at the end of this day (UTC), or will stand on it by its dates.",
                )
            ]
        return []
