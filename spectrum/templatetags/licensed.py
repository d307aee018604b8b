"""What is on the air under a licence, for pages of the licence itself."""

from __future__ import annotations

from django import template
from django.db.models import QuerySet

from licences.models import Licence, LicensedChannel
from spectrum import selectors
from spectrum.models import Station

register = template.Library()


@register.simple_tag
def on_the_air_under(about: Licence | LicensedChannel) -> QuerySet[Station]:
    """The stations that would be left without what allows them to transmit."""
    return selectors.on_the_air_under(about)
