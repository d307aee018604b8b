"""A reservation lapses by itself after its last day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.utils import timezone

from licences.applying import State
from sites.errors import StaleWriteError
from sites.services import record
from sites.services.record import Author
from spectrum.models import Link
from spectrum.services import links

AUTHOR = Author.system("reservation lapse")


@dataclass
class Lapsed:
    """Codes of the links that lapsed, and for the others why not."""

    codes: list[str] = field(default_factory=list)
    failed: dict[str, str] = field(default_factory=dict)


def lapse_expired(on: dt.date | None = None) -> Lapsed:
    """Let every link lapse that is not granted yet and whose reservation ended before ``on``.

    ``on`` is today when it is not given. A link whose application is filed and not decided does not lapse.

    Each link is written and recorded by itself, and its check queued: one that somebody is changing at
    the same moment, or that the register would no longer accept, waits for the next run.
    """
    on = on or timezone.localdate()
    lapsed = Lapsed()
    expired = Link.objects.filter(status__in=Link.RESERVING, reserved_until__lt=on).order_by("code")
    expired = expired.exclude(applied_for__application__state=State.FILED)
    for link in expired:
        reason = f"The reservation ended on {link.reserved_until}."
        try:
            links.set_status(link, Link.Status.LAPSED, by=AUTHOR, reason=reason)
        except StaleWriteError as error:
            lapsed.failed[link.code] = error.message
        except ValidationError as error:
            lapsed.failed[link.code] = record.as_register_error(error).message
        else:
            lapsed.codes.append(link.code)
    return lapsed
