"""Taking a pair for a planned link: the check and the taking are one transaction, one taker at a time.

Whether two pairs clash depends on masks, places and distance, not on their numbers, and a channel reaches
across the edge of any band one could draw. So all takers of the register wait for one lock: on PostgreSQL an
advisory lock of the transaction, on SQLite the one write lock that every transaction takes at its begin.
Whoever holds it sees everything that was taken before.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.conf import settings
from django.db import OperationalError, connection, transaction
from django.utils import timezone

from sites.errors import NotAllowedError, RegisterError
from sites.models import ChangeRecord
from sites.services.record import Author
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.gather import around_link, criteria_in_force, terrain_in_force
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.kinds import MUST_FIX
from spectrum.models import ChannelPlan, Link, Station
from spectrum.services import pair_search
from spectrum.services.links import save_link

# The lock's number is any that nothing else in the database uses.
LOCK_NUMBER: Final = 4_210_961
CLASHING: Final = ("co_channel", "adjacent_channel")
TAKEABLE: Final = (*Link.RESERVING, Link.Status.LAPSED)


class PairHeldError(RegisterError):
    """Somebody else holds a pair that would clash with this one."""

    status = 409
    title = "Somebody else holds this pair"


class RegisterBusyError(RegisterError):
    """Others were taking pairs for so long that this one gave up waiting; nothing was stored."""

    status = 409
    title = "Others are taking pairs at this moment"


def last_day_by_default(today: dt.date | None = None) -> dt.date:
    """The last day of a reservation that is taken today without naming one."""
    return (today or timezone.localdate()) + dt.timedelta(days=settings.RESERVATION_DAYS)


def take_pair(
    link: Link,
    plan: ChannelPlan,
    number: int,
    *,
    by: Author,
    polarisation: str = "",
    first_sends: str = pair_search.FITTING,
    until: dt.date | None = None,
    expected_version: int | None = None,
    as_of: dt.date | None = None,
) -> Link:
    """Set a planned link to a channel pair and hold it until a day; its check is queued.

    ``polarisation`` is that of the stations when it is empty, ``until`` the usual length from today when None.
    A pair clashes when the link, set to it, would stand below a co-channel or adjacent-channel limit with
    another link that holds its pair by reservation. Raises PairHeldError naming who holds which pair until
    when; RegisterBusyError when the turn did not come; StaleWriteError when the link was changed since;
    nothing is written then. Interference with links on the air does not refuse the pair: it becomes findings.
    """
    today = as_of or timezone.localdate()
    until = until or last_day_by_default(today)
    _allowed(by, link)
    check_last_day(until, today)
    if polarisation not in ("", "V", "H"):
        raise RegisterError(
            f"{polarisation!r} is no polarisation; V or H was expected.", field="polarisation"
        )
    with one_at_a_time(), transaction.atomic():
        _wait_for_turn()
        stored = Link.objects.select_related("holder", "responsible").get(pk=link.pk)
        if stored.status not in TAKEABLE:
            raise RegisterError(
                f"{stored.code} is {stored.get_status_display()}; only a planned, filed or lapsed link takes a pair.",
                field="status",
            )
        stations = pair_search.stations_to_search(stored)
        _set_to(stored, stations, plan, number, polarisation, first_sends, today)
        stored.channel_plan, stored.reserved_until = plan, until
        if stored.status == Link.Status.LAPSED:
            stored.status = Link.Status.PLANNED
        if stored.responsible is None:
            stored.responsible = by.person
        seen = stored.version if expected_version is None else expected_version
        reason = f"Channel {number} of {plan.code} taken until {until}."
        save_link(stored, stations, by=by, expected_version=seen, reason=reason)
        _refuse_if_held(stored, plan, number, today)
    return stored


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Say that the register is busy when the database gave up waiting for its lock."""
    try:
        yield
    except OperationalError as error:
        if _gave_up_waiting(error):
            raise RegisterBusyError(
                "The register is busy: others are taking pairs at this moment. Try again in a few seconds; "
                "nothing was stored."
            ) from error
        raise


def _wait_for_turn() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{int(settings.RESERVATION_WAIT_S * 1000)}ms'")
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK_NUMBER])


def _gave_up_waiting(error: OperationalError) -> bool:
    """PostgreSQL: lock_not_available, deadlock_detected; SQLite: the database is locked."""
    state = getattr(error.__cause__, "sqlstate", None)
    return state in ("55P03", "40P01") or "database is locked" in str(error)


def check_last_day(until: dt.date, today: dt.date) -> None:
    """A reservation ends between today and the longest term. Raises RegisterError."""
    latest = today + dt.timedelta(days=settings.RESERVATION_MOST_DAYS)
    if not today <= until <= latest:
        raise RegisterError(
            f"A pair can be held from today, {today}, until {latest} at most; {until} was asked for.",
            field="until",
        )


def _allowed(by: Author, link: Link) -> None:
    if by.person is None:
        return
    if not by.person.has_perm("spectrum.add_link"):
        raise NotAllowedError("Taking a pair needs the role of planner or administrator.")
    if not link.holder.own and not by.person.has_perm("spectrum.what_others_hold"):
        raise NotAllowedError("Your role does not include links of other parties; ask a planner.")


def _set_to(
    link: Link,
    stations: list[Station],
    plan: ChannelPlan,
    number: int,
    polarisation: str,
    first_sends: str,
    today: dt.date,
) -> None:
    """Put the pair into the stations. A licensed channel for another frequency no longer goes with it."""
    try:
        go_hz, return_hz = plan.pair_hz(number)
    except ValueError as error:
        raise RegisterError(str(error), field="number") from error
    setting = pair_search.setting_in(link, stations, plan, first_sends=first_sends, as_of=today)
    first, second = (go_hz, return_hz) if setting.first_sends_go else (return_hz, go_hz)
    for station, mode in zip(stations, setting.modes, strict=True):
        tx, rx = (first, second) if station.role in pair_search.FIRST_ROLES else (second, first)
        station.mode = mode
        station.rx_frequency_hz = rx
        station.tx_frequency_hz = None if station.tx_power_dbm is None else tx
        station.polarisation = polarisation or station.polarisation
        licensed = station.licensed_channel
        if licensed is not None and licensed.frequency_hz != station.tx_frequency_hz:
            station.licensed_channel = None


def _refuse_if_held(link: Link, plan: ChannelPlan, number: int, today: dt.date) -> None:
    """Raise PairHeldError when the link, as it stands now, clashes with somebody's reservation."""
    network = around_link(link, today)
    drafts = interference_findings(
        network, criteria_in_force(), link_id=link.pk, terrain=terrain_in_force()
    ).drafts
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
        raise PairHeldError(_who_holds(holders, clashes, plan, number), field="number")


def _who_holds(holders: list[Link], clashes: dict[int, Draft], plan: ChannelPlan, number: int) -> str:
    first = holders[0]
    over_db = -(clashes[first.pk].margin or 0.0)
    more = f" {len(holders) - 1} more clash with it." if len(holders) > 1 else ""
    return (
        f"Channel {number} of {plan.code} clashes by {over_db:.1f} dB with {first.code}, which {holder_of(first)} "
        f"holds {until_when(first)}.{more} Take another pair, or speak with them."
    )


def holder_of(link: Link) -> str:
    """Who looks after a link: the person responsible, else whoever wrote it last."""
    if link.responsible is not None:
        return str(link.responsible)
    last = ChangeRecord.objects.filter(object_type="spectrum.link", object_id=link.pk).first()
    return last.by_name if last else "somebody"


def until_when(link: Link) -> str:
    return f"until {link.reserved_until}" if link.reserved_until else "without an end"
