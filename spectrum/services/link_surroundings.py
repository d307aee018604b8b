"""One link with all that could disturb it and all that it could disturb; then what disturbs those, from the database.

Narrow queries on the indexed frequencies, a window for each two modes, read column by column. What could not
share a frequency is left out and nothing else; distance is for the search. The interferers of the
victims are read when it is known which they are: few of all that share a frequency.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable

import numpy as np
from django.db.models import Q

from sites.models import ChangeRecord
from sites.terrain import TerrainStore
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.gather import Shared, shared_in_force
from spectrum.conflicts.interference import Interference, Prepared
from spectrum.conflicts.neighbours import window_hz
from spectrum.conflicts.network import ModeRecord, Network
from spectrum.conflicts.one_link import entries_of, sums_at
from spectrum.conflicts.snapshot import Register
from spectrum.models import Link, Station
from spectrum.services.register_reading import joined, link_numbers_in, links_with_station_in, read_register

Tuned = tuple[int | None, int | None, int]  # transmit and receive frequency in Hz, key of the mode
Heard = tuple[int, int]  # receive frequency in Hz, key of the mode
_BATCH = 200


def network_near(link: Link, as_of: dt.date) -> Network:
    """The link, the receivers that it could reach and the transmitters that could reach it, as columns."""
    stations = link.stations.values_list("tx_frequency_hz", "rx_frequency_hz", "mode_id")
    return network_of(list(stations), {link.pk}, as_of)


def network_of(stations: Collection[Tuned], links: Collection[int], as_of: dt.date) -> Network:
    """Links whose stations share a frequency with one of those given, and ``links``.

    Of these the register reads those that are live, and the network keeps those that do not end before the day.
    """
    return _near(stations, links, shared_in_force()).network(as_of)


def interference_around(
    link: Link,
    as_of: dt.date,
    criteria: Criteria,
    also_victims: Collection[int],
    terrain: TerrainStore | None,
) -> Interference:
    """Interference in which a link has a part, read from the register in two steps: its pairs, then its victims' sums."""
    shared = shared_in_force()
    stations = link.stations.values_list("tx_frequency_hz", "rx_frequency_hz", "mode_id")
    near = _near(list(stations), {link.pk}, shared)
    entries = entries_of(Prepared(near.network(as_of), criteria, terrain), link.pk)
    victims = entries.victims | set(also_victims)
    whole = _with_interferers(near, victims, shared).network(as_of)
    return Interference([*entries.drafts, *sums_at(Prepared(whole, criteria, terrain), victims)], victims)


def _near(stations: Collection[Tuned], links: Collection[int], shared: Shared) -> Register:
    sent = {(tx, mode) for tx, _, mode in stations if tx}
    heard = {(rx, mode) for _, rx, mode in stations if rx}
    ranges = [*_receptions_of(sent, shared.modes), *_emissions_heard(heard, shared.modes)]
    return read_register(0, links_with_station_in(ranges, links), shared)


def _with_interferers(near: Register, victims: Collection[int], shared: Shared) -> Register:
    """The register with the links named and with everything that their receivers could hear."""
    known = set(near.columns.link_id.tolist())
    columns, keys = near.columns, list(shared.modes)
    listening = np.isin(columns.link_id, list(victims)) & (columns.rx_hz > 0)
    pairs = zip(columns.rx_hz[listening].tolist(), columns.mode[listening].tolist(), strict=True)
    heard = {(rx, keys[mode]) for rx, mode in pairs}
    elsewhere = set(victims) - known
    if elsewhere:
        others = Station.objects.filter(link__in=elsewhere, rx_frequency_hz__isnull=False).order_by()
        heard |= {(rx, mode) for rx, mode in others.values_list("rx_frequency_hz", "mode_id") if rx}
    more = (elsewhere | link_numbers_in(_emissions_heard(heard, shared.modes))) - known
    return near.with_changes((), read_register(0, sorted(more), shared)) if more else near


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
    for condition in joined(_receptions_of(sent, modes)):
        for start in range(0, len(chosen), _BATCH):
            part = Station.objects.filter(condition, link__in=chosen[start : start + _BATCH])
            found.update(part.values_list("link_id", flat=True))
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
