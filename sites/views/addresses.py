"""Where the page of each object is: one object, one address."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import models
from django.urls import resolve, reverse

from sites.on_day.asking import PARAMETER

# model → name of its page; the list is its plural, the forms end in -add, -change and -remove
PAGES = {
    "places.site": "site",
    "places.antennatype": "antenna-type",
    "places.job": "job",
    "places.document": "document",
    "licences.authority": "authority",
    "licences.holder": "holder",
    "licences.application": "application",
    "licences.licence": "licence",
    "licences.licensedchannel": "licensed-channel",
    "licences.reminder": "reminder",
    "spectrum.channelplan": "channel-plan",
    "spectrum.radiotype": "radio-type",
    "spectrum.link": "link",
    "spectrum.finding": "finding",
    "spectrum.check": "check",
    "spectrum.variant": "variant",
    "spectrum.difference": "difference",
    "spectrum.interferenceentry": "interference-entry",
}
# What has no page of its own is read on the page of what it belongs to.
PAGE_OF_PARENT = {
    "licences.renewalpolicy": "authority",
    "licences.licenceevent": "licence",
    "spectrum.radiomode": "radio_type",
    "spectrum.radiomask": "radio_type",
    "spectrum.station": "link",
    "spectrum.plannedchange": "variant",
    "spectrum.commissioningrecord": "station",
    "spectrum.applicationlink": "application",
    "spectrum.filedstation": "application_link",
}


def page_of(obj: models.Model | None) -> str:
    """The address of an object's page; empty where it has none."""
    if obj is None or obj.pk is None:
        return ""
    label = obj._meta.label_lower
    if label in PAGE_OF_PARENT:
        parent = PAGE_OF_PARENT[label]
        model = obj._meta.get_field(parent).related_model
        if model._meta.label_lower in PAGE_OF_PARENT:  # type: ignore[union-attr]
            return page_of(getattr(obj, parent))
        return page_of_id(model._meta.label_lower, getattr(obj, f"{parent}_id"))  # type: ignore[union-attr]
    return page_of_id(label, obj.pk)


def page_of_id(label: str, pk: Any) -> str:
    """The address of an object's page by its model's label and its id; empty where it has none."""
    return reverse(PAGES[label], args=[pk]) if label in PAGES and pk is not None else ""


def on_day(address: str, day: dt.date | None) -> str:
    """The address of a page as of a day; without a day the address itself, empty where the page cannot be of one."""
    if day is None or not address:
        return address
    return f"{address}?{PARAMETER}={day}" if can_be_of_a_day(address) else ""


def can_be_of_a_day(address: str) -> bool:
    """Whether the page at an address shows an object as it stood (it says so in ``shows``)."""
    view = getattr(resolve(address).func, "view_class", None)
    return getattr(view, "shows", None) is not None
