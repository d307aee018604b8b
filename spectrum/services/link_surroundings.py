"""One link with all that could disturb it, all that it could disturb, and what disturbs those, read from the database.

Narrow queries on the indexed frequencies, a window for each two modes; then the links found are read column by
column. What could not share a frequency is left out and nothing else; distance is for the search.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable

from django.db.models import Q

from sites.models import ChangeRecord
from spectrum.conflicts.gather import shared_in_force
from spectrum.conflicts.neighbours import window_hz
from spectrum.conflicts.network import ModeRecord, Network
from spectrum.models import Link, Station
from spectrum.services.register_columns import Revision, read_register

Heard = tuple[int, int]  # receive frequency in Hz, key of the mode
_BATCH = 200


def network_around(link: Link, as_of: dt.date, also_victims: Collection[int] = ()) -> Network:
    """The link, the receivers it reaches and ``also_victims``, each with all its interferers, as columns."""
    shared = shared_in_force()
    modes = shared.modes
    own = list(link.stations.values_list("tx_frequency_hz", "rx_frequency_hz", "mode_id"))
    reached = _reached(((tx, mode) for tx, _, mode in own if tx), modes)
    heard: set[Heard] = {(rx, mode) for rx, mode, _ in reached if rx}
    heard |= {(rx, mode) for _, rx, mode in own if rx}
    if also_victims:
        others = Station.objects.filter(link__in=also_victims, rx_frequency_hz__isnull=False)
        heard |= {(rx, mode) for rx, mode in others.values_list("rx_frequency_hz", "mode_id") if rx}
    links = {link.pk, *also_victims, *(number for *_, number in reached)}
    for condition in _batches(_emissions_heard(heard, modes)):
        links.update(Station.objects.filter(condition).order_by().values_list("link_id", flat=True))
    # Of these the register reads those that are live, and the network keeps those that do not end before the day.
    return read_register(Revision(0, 0), links, shared).network(as_of)


def network_of(
    stations: Collection[tuple[int | None, int | None, int]], links: Collection[int], as_of: dt.date
) -> Network:
    """Links whose stations share a frequency with one of those given (transmit, receive frequency, mode), and ``links``.

    Of these the register reads those that are live, and the network keeps those that do not end before the day.
    """
    shared = shared_in_force()
    sent = {(tx, mode) for tx, _, mode in stations if tx}
    heard = {(rx, mode) for _, rx, mode in stations if rx}
    found = set(links)
    ranges = [*_receptions_of(sent, shared.modes), *_emissions_heard(heard, shared.modes)]
    for condition in _batches(ranges):
        found.update(Station.objects.filter(condition).order_by().values_list("link_id", flat=True))
    return read_register(Revision(0, 0), found, shared).network(as_of)


def victims_of(link: Link, among: Collection[int]) -> set[int]:
    """Those of some links whose receivers share a frequency with what the link sends or ever sent, by the record."""
    modes = shared_in_force().modes
    sent: set[tuple[int, int]] = set()
    stations = list(link.stations.values_list("id", "tx_frequency_hz", "mode_id"))
    changes = ChangeRecord.objects.filter(
        Q(object_id__in=[key for key, *_ in stations]) | Q(object_label__startswith=f"{link.code}/"),
        object_type="spectrum.station",
    )
    hertz = {tx for _, tx, _ in stations if tx}
    keys = {mode for *_, mode in stations}
    for values in changes.values_list("changes", flat=True):
        hertz |= {f for f in values.get("tx_frequency_hz", ()) if isinstance(f, int)}
        keys |= {m for m in values.get("mode_id", ()) if isinstance(m, int)}
    sent = {(f, m) for f in hertz for m in keys & modes.keys()}
    found: set[int] = set()
    chosen = sorted(among)
    for condition in _batches(_receptions_of(sent, modes)):
        for start in range(0, len(chosen), _BATCH):
            part = Station.objects.filter(condition, link__in=chosen[start : start + _BATCH])
            found.update(part.values_list("link_id", flat=True))
    return found


def _reached(
    sent: Iterable[tuple[int, int]], modes: dict[int, ModeRecord]
) -> set[tuple[int | None, int, int]]:
    """Receivers that share a frequency with an emission, live or not: frequency, mode, link."""
    found: set[tuple[int | None, int, int]] = set()
    for condition in _batches(_receptions_of(set(sent), modes)):
        rows = Station.objects.filter(condition).order_by()
        found.update(rows.values_list("rx_frequency_hz", "mode_id", "link_id"))
    return found


def _receptions_of(sent: Collection[tuple[int, int]], modes: dict[int, ModeRecord]) -> list[Q]:
    conditions = []
    for key, other in modes.items():
        windows = []
        for hertz, mode in sent:
            low, high = window_hz(modes[mode], other)
            windows.append((hertz - high, hertz - low))
        conditions += [Q(mode=key, rx_frequency_hz__range=window) for window in _united(windows)]
    return conditions


def _emissions_heard(heard: Collection[Heard], modes: dict[int, ModeRecord]) -> list[Q]:
    conditions = []
    for key, other in modes.items():
        windows = []
        for hertz, mode in heard:
            low, high = window_hz(other, modes[mode])
            windows.append((hertz + low, hertz + high))
        conditions += [Q(mode=key, tx_frequency_hz__range=window) for window in _united(windows)]
    return conditions


def _united(windows: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """The same frequencies in as few windows as there are gaps."""
    united: list[tuple[int, int]] = []
    for low, high in sorted(windows):
        if united and low <= united[-1][1]:
            united[-1] = (united[-1][0], max(high, united[-1][1]))
        else:
            united.append((low, high))
    return united


def _batches(conditions: list[Q]) -> Iterable[Q]:
    """Conditions joined by "or", not too many to a query."""
    for start in range(0, len(conditions), _BATCH):
        joined = Q()
        for condition in conditions[start : start + _BATCH]:
            joined |= condition
        yield joined
