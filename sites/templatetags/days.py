"""The head of an object's page: to the same object on another day, and to what was changed on it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import template
from django.db import models
from django.urls import reverse

from sites.views import addresses

register = template.Library()


@register.inclusion_tag("_as_of.html", takes_context=True)
def other_days(context: dict[str, Any], obj: models.Model) -> dict[str, Any]:
    """The field for a day, and the way to the changes of an object for those who may read them."""
    request = context["request"]
    changes = f"{reverse('change-list')}?object_type={obj._meta.label_lower}&object_id={obj.pk}"
    may_read = request.user.has_perm("places.view_changerecord")
    return {"request": request, "changes_of_it": changes if may_read else ""}


@register.filter
def on_day(address: str, day: dt.date | None) -> str:
    """The address of a page as of a day; empty where the page cannot be of one."""
    return addresses.on_day(address, day)
