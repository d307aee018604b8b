"""What is asked about one link, measured on the database in use: its check, after an edit, and its pair search."""

from __future__ import annotations

import time
from typing import Any
from unittest import mock

LINKS_TRIED = 40
EDITS = 20
SEARCHES = 10
PAIRS = 400


def checks() -> dict[str, Any]:
    """The interference of single links; beside it a join by distance in the database."""
    import numpy as np
    from django.db import connection
    from django.utils import timezone

    from spectrum.conflicts.gather import criteria_in_force
    from spectrum.models import Link
    from spectrum.services.link_surroundings import interference_around, network_near
    from spectrum.services.register_columns import register_at, revision_now
    from spectrum.services.register_reading import read_register

    figures: dict[str, Any] = {}
    _, figures["reading all columns, s"] = _timed(lambda: read_register(revision_now().number))
    register_at(revision_now().name)
    _, figures["opening the kept columns, s"] = _timed(lambda: register_at(revision_now().name))
    day, criteria = timezone.localdate(), criteria_in_force()
    reading, whole, joins, rows, found = [], [], [], [], []
    for key in _some_links(LINKS_TRIED + 1):
        link = Link.objects.get(pk=key)
        network, seconds = _timed(lambda link=link: network_near(link, day))
        reading.append(seconds)
        rows.append(len(network))
        result, seconds = _timed(lambda link=link: interference_around(link, day, criteria, (), None))
        whole.append(seconds)
        found.append(len(result.drafts))
        _, seconds = _timed(lambda key=key: _distance_join(connection, key))
        joins.append(seconds)
    return (
        figures
        | _figures("what it could meet, read from the database", reading[1:])
        | _figures("reading, search, budgets, sums at its victims, findings", whole[1:])
        | _figures("distance join in the database alone", joins[1:])
        | {
            "stations read at first, median": float(np.median(rows)),
            "findings, median": float(np.median(found)),
        }
    )


def edits() -> dict[str, Any]:
    """The surroundings read right after an edit that is in them."""
    from django.utils import timezone

    from deploy.bench.registers.loading import AUTHOR
    from spectrum.models import Link
    from spectrum.services.link_surroundings import network_near
    from spectrum.services.links import save_link

    seen = []
    for key in _some_links(EDITS):
        link = Link.objects.get(pk=key)
        stations = list(link.stations.all())
        stations[0].tx_power_dbm = 11.0
        # Its check as a job is left out: it would run beside the measurement.
        with mock.patch("sites.services.jobs.in_process.enqueue"):
            save_link(link, stations, by=AUTHOR)
        network, seconds = _timed(lambda link=link: network_near(link, timezone.localdate()))
        seen.append(seconds)
        if stations[0].tx_power_dbm not in network.tx_power_dbm[network.link_id == key]:
            raise RuntimeError("The edit was not seen by the next check.")
    return _figures("what it could meet, with the edit", seen)


def pair_searches() -> dict[str, Any]:
    """Every pair of a plan of 400 channels of 12.5 kHz, for links that use that width, as the page searches them."""
    from deploy.bench.registers.loading import AUTHOR
    from sites.services import record
    from spectrum.models import ChannelPlan, Link
    from spectrum.services.pair_search import search_pairs, stations_to_search

    plan = ChannelPlan(
        code="BENCH-400", name="Invented raster", channel_width_hz=12_500, spacing_hz=12_500, first_go_hz=400_006_250,
        channel_count=PAIRS, duplex_spacing_hz=35_000_000,
    )  # fmt: skip
    record.create(plan, by=AUTHOR)
    taken = []
    fitting = Link.objects.filter(
        stations__mode__channel_width_hz=12_500,
        stations__tx_frequency_hz__gte=400_000_000,
        stations__tx_frequency_hz__lt=420_000_000,
    )
    keys = list(fitting.order_by("pk").values_list("pk", flat=True).distinct())
    for key in keys[:: max(len(keys) // SEARCHES, 1)][: SEARCHES + 1]:
        link = Link.objects.get(pk=key)
        result, seconds = _timed(lambda link=link: search_pairs(link, stations_to_search(link), [plan]))
        if len(result.found.order) < PAIRS:
            raise RuntimeError(f"{len(result.found.order)} pairs were searched, not {PAIRS}.")
        taken.append(seconds)
    return _figures(f"{PAIRS} pairs, with reading", taken[1:] or taken)


def _distance_join(connection: Any, link: int) -> int:
    """Every station within 300 km of a link's by a box of coordinates and the distance, in SQL, no frequency."""
    statement = """
        SELECT other.id FROM spectrum_station own
        JOIN places_site here ON here.id = own.site_id
        JOIN places_site there ON there.latitude_deg BETWEEN here.latitude_deg - 2.7 AND here.latitude_deg + 2.7
            AND there.longitude_deg BETWEEN here.longitude_deg - 4.1 AND here.longitude_deg + 4.1
        JOIN spectrum_station other ON other.site_id = there.id
        WHERE own.link_id = %s AND other.link_id <> own.link_id
            AND POWER((there.latitude_deg - here.latitude_deg) * 111.2, 2)
              + POWER((there.longitude_deg - here.longitude_deg) * 78.0, 2) < 90000
    """
    with connection.cursor() as cursor:
        cursor.execute(statement, [link])
        return len(cursor.fetchall())


def _some_links(count: int) -> list[int]:
    import numpy as np

    from spectrum.models import Link

    keys = list(Link.objects.order_by("pk").values_list("pk", flat=True))
    chosen: list[int] = np.random.default_rng(3).choice(keys, min(count, len(keys)), replace=False).tolist()
    return chosen


def _figures(name: str, seconds: list[float]) -> dict[str, float]:
    import numpy as np

    return {
        f"{name}, median ms": float(np.median(seconds) * 1e3),
        f"{name}, p95 ms": float(np.percentile(seconds, 95) * 1e3),
    }


def _timed(work: Any) -> tuple[Any, float]:
    begun = time.perf_counter()
    result = work()
    return result, time.perf_counter() - begun
