"""Taking a pair for a planned link: the check and the taking are one transaction, one taker at a time."""

from __future__ import annotations

import datetime as dt
from typing import Final

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from sites.errors import NotAllowedError, RegisterError
from sites.reading import written_day
from sites.services.record import Author
from spectrum.models import ChannelPlan, Link, Station
from spectrum.services import held_pairs, pair_search
from spectrum.services.links import save_link

from .applied import filed_application

TAKEABLE: Final = (*Link.RESERVING, Link.Status.LAPSED)


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
            gettext("{polarisation!r} is no polarisation; V or H was expected.").format(
                polarisation=polarisation
            ),
            field="polarisation",
        )
    with held_pairs.one_at_a_time(), transaction.atomic():
        held_pairs.wait_for_turn()
        stored = Link.objects.select_related("holder", "responsible").get(pk=link.pk)
        if stored.status not in TAKEABLE:
            raise RegisterError(
                gettext("{link} is {status}; only a planned, filed or lapsed link takes a pair.").format(
                    link=stored.code, status=stored.get_status_display()
                ),
                field="status",
            )
        if (filed := filed_application(stored)) is not None:
            raise RegisterError(
                gettext(
                    "{link} is filed in application {application}, with the pair that stands there; withdraw the "
                    "application before it takes another."
                ).format(link=stored.code, application=filed),
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
        # Whoever asks for a pair by its number is told, even where the link stands on it already.
        save_link(stored, stations, by=by, expected_version=seen, reason=reason, clashes_are_findings=True)
        held_pairs.refuse_if_held(
            stored,
            today,
            pair=gettext("Channel {number} of {plan}").format(number=number, plan=plan.code),
            field="number",
        )
    return stored


def check_last_day(until: dt.date, today: dt.date) -> None:
    """A reservation ends between today and the longest term. Raises RegisterError."""
    latest = today + dt.timedelta(days=settings.RESERVATION_MOST_DAYS)
    if not today <= until <= latest:
        raise RegisterError(
            gettext(
                "A pair can be held from today, {today}, until {latest} at most; {until} was asked for."
            ).format(today=written_day(today), latest=written_day(latest), until=written_day(until)),
            field="until",
        )


def _allowed(by: Author, link: Link) -> None:
    if by.person is None:
        return
    if not by.person.has_perm("spectrum.add_link"):
        raise NotAllowedError(gettext("Taking a pair needs the role of planner or administrator."))
    if not link.holder.own and not by.person.has_perm("spectrum.what_others_hold"):
        raise NotAllowedError(gettext("Your role does not include links of other parties; ask a planner."))


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
