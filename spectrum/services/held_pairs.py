"""The pairs that planned links hold: one taker at a time, and a clash with what somebody holds is refused.

Whether two pairs clash depends on masks, places and distance, not on their numbers, and a channel reaches
across the edge of any band one could draw. So all takers of the register wait for one lock: on PostgreSQL an
advisory lock of the transaction, on SQLite the one write lock that every transaction takes at its begin.
Whoever holds it sees everything that was taken before.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Final

from django.conf import settings
from django.db import OperationalError, connection
from django.utils.translation import gettext

from sites.errors import RegisterError
from sites.models import ChangeRecord
from sites.reading import written_day
from sites.templatetags.figures import fixed
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.gather import criteria_in_force, terrain_in_force
from spectrum.conflicts.kinds import MUST_FIX
from spectrum.models import Link, Station
from spectrum.services.link_surroundings import interference_around

# The lock's number is any that nothing else in the database uses.
LOCK_NUMBER: Final = 4_210_961
CLASHING: Final = ("co_channel", "adjacent_channel")

#: What of its stations makes the pair of a link: labels, places, modes, frequencies, polarisations.
Pair = frozenset[tuple[str, int, int, int | None, int | None, str]]
NOTHING: Final[Pair] = frozenset()


class PairHeldError(RegisterError):
    """Somebody else holds a pair that would clash with this one."""

    status = 409
    title = "Somebody else holds this pair"


class RegisterBusyError(RegisterError):
    """Others were taking pairs for so long that this one gave up waiting; nothing was stored."""

    status = 409
    title = "Others are taking pairs at this moment"


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Say that the register is busy when the database gave up waiting for its lock."""
    try:
        yield
    except OperationalError as error:
        if _gave_up_waiting(error):
            raise RegisterBusyError(
                gettext(
                    "The register is busy: others are taking pairs at this moment. Try again in a few seconds; "
                    "nothing was stored."
                )
            ) from error
        raise


def wait_for_turn() -> None:
    """Be the only taker until the transaction ends. To be called in one, before any row is locked."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{int(settings.RESERVATION_WAIT_S * 1000)}ms'")
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK_NUMBER])


def _gave_up_waiting(error: OperationalError) -> bool:
    """PostgreSQL: lock_not_available, deadlock_detected; SQLite: the database is locked."""
    state = getattr(error.__cause__, "sqlstate", None)
    return state in ("55P03", "40P01") or "database is locked" in str(error)


def holds_by_reservation(link: Link, today: dt.date) -> bool:
    """Whether a link of ours that is not on the air yet holds the pair it is set to."""
    expired = link.reserved_until is not None and link.reserved_until < today
    ours = link.holder_id is not None and link.holder.own
    return ours and link.status in Link.RESERVING and not expired


def pair_of(stations: Sequence[Station]) -> Pair:
    """What a link's stations take when the link holds it."""
    return frozenset(
        (s.label, s.site_id, s.mode_id, s.tx_frequency_hz, s.rx_frequency_hz, s.polarisation)
        for s in stations
        if s.tx_frequency_hz is not None or s.rx_frequency_hz is not None
    )


def held_now(link: Link, today: dt.date) -> Pair:
    """What a link holds as it is stored; nothing for one that is not stored or holds nothing."""
    stored = Link.objects.select_related("holder").filter(pk=link.pk).first() if link.pk else None
    if stored is None or not holds_by_reservation(stored, today):
        return NOTHING
    return pair_of(list(stored.stations.all()))


def refuse_if_held(link: Link, today: dt.date, *, pair: str = "", field: str = "") -> None:
    """Raise PairHeldError when the link, as it stands now, clashes with somebody's reservation.

    ``pair`` is how the message calls what was asked for, ``field`` the input to change. Interference with
    links on the air refuses nothing: it becomes findings.
    """
    drafts = interference_around(link, today, criteria_in_force(), (), terrain_in_force()).drafts
    clashes: dict[int, Draft] = {}
    for draft in sorted(drafts, key=lambda d: d.margin or 0.0):
        if draft.kind in CLASHING and draft.severity == MUST_FIX:
            parties = {draft.parties.link_id, draft.parties.other_link_id} - {link.pk, None}
            clashes.update({other: draft for other in parties if other is not None and other not in clashes})
    held = (
        Link.objects.filter(pk__in=clashes, status__in=Link.RESERVING)
        .exclude(reserved_until__lt=today)
        .select_related("responsible")
    )
    holders = sorted(held, key=lambda other: clashes[other.pk].margin or 0.0)
    if holders:
        raise PairHeldError(
            _who_holds(holders, clashes, pair or gettext("The pair of {link}").format(link=link.code)),
            field=field,
        )


def _who_holds(holders: list[Link], clashes: dict[int, Draft], pair: str) -> str:
    first = holders[0]
    over_db = -(clashes[first.pk].margin or 0.0)
    sentence = (
        gettext(
            "{pair} clashes by {over_db} dB with {link}, which {holder} holds {until_when}. "
            "{more} more clash with it. Take another pair, or speak with them."
        )
        if len(holders) > 1
        else gettext(
            "{pair} clashes by {over_db} dB with {link}, which {holder} holds {until_when}. "
            "Take another pair, or speak with them."
        )
    )
    return sentence.format(
        pair=pair,
        over_db=fixed(over_db, 1),
        link=first.code,
        holder=holder_of(first),
        until_when=until_when(first),
        more=len(holders) - 1,
    )


def holder_of(link: Link) -> str:
    """Who looks after a link: the person responsible, else whoever wrote it last."""
    if link.responsible is not None:
        return str(link.responsible)
    last = ChangeRecord.objects.filter(object_type="spectrum.link", object_id=link.pk).first()
    return last.by_name if last else gettext("somebody")


def until_when(link: Link) -> str:
    return (
        gettext("until {reserved_until}").format(reserved_until=written_day(link.reserved_until))
        if link.reserved_until
        else gettext("without an end")
    )
