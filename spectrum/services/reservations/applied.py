"""Pairs that a filed application holds: without a last day, until the authority decides."""

from __future__ import annotations

from licences.applying import State
from licences.models import Application
from spectrum.models import Link


def filed_application(link: Link) -> Application | None:
    """The application that is filed for a link and not decided."""
    return Application.objects.filter(state=State.FILED, links__link=link).first()
