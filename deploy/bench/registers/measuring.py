"""Measure the check of one link on a database that this process is alone with: ``… measuring LINKS``; prints JSON.

Run by deploy.bench.database in a process of its own, with DATABASE_URL naming an empty database.
"""

from __future__ import annotations

import json
import sys
import time
from typing import Any
from unittest import mock


def measure(links: int) -> dict[str, Any]:  # noqa: PLR0915 - one measurement after the other
    """Load a register of so many links and measure; figures by name."""
    import numpy as np
    from django.core.management import call_command
    from django.db import connection
    from django.utils import timezone

    from deploy.bench.registers import made_register
    from deploy.bench.registers.loading import AUTHOR, load_into_database
    from spectrum.conflicts.gather import criteria_in_force
    from spectrum.models import Link
    from spectrum.services.link_surroundings import interference_around, network_near
    from spectrum.services.links import save_link
    from spectrum.services.register_columns import register_at, revision_now
    from spectrum.services.register_reading import read_register

    call_command("migrate", verbosity=0)
    figures: dict[str, Any] = {"database": connection.vendor}
    begun = time.perf_counter()
    load_into_database(made_register(links))
    figures["entering the register, s"] = time.perf_counter() - begun
    begun = time.perf_counter()
    read_register(revision_now().number)
    figures["reading all columns, s"] = time.perf_counter() - begun
    register_at(revision_now().name)
    begun = time.perf_counter()
    register_at(revision_now().name)
    figures["opening the kept columns, s"] = time.perf_counter() - begun
    day, criteria = timezone.localdate(), criteria_in_force()
    keys = list(Link.objects.order_by("pk").values_list("pk", flat=True))
    chosen = np.random.default_rng(3).choice(keys, min(40, len(keys)), replace=False).tolist()
    reading, whole, joins, rows = [], [], [], []
    for key in chosen:
        link = Link.objects.get(pk=key)
        begun = time.perf_counter()
        network = network_near(link, day)
        reading.append(time.perf_counter() - begun)
        rows.append(len(network))
        begun = time.perf_counter()
        interference_around(link, day, criteria, (), None)
        whole.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        _distance_join(connection, key)
        joins.append(time.perf_counter() - begun)
    seen = []
    for key in chosen[:20]:
        link = Link.objects.get(pk=key)
        stations = list(link.stations.all())
        stations[0].tx_power_dbm = 11.0
        # Its check as a job is left out: it would run beside the measurement.
        with mock.patch("sites.services.jobs.in_process.enqueue"):
            save_link(link, stations, by=AUTHOR)
        begun = time.perf_counter()
        network = network_near(link, day)
        seen.append(time.perf_counter() - begun)
        if stations[0].tx_power_dbm not in network.tx_power_dbm[network.link_id == key]:
            raise RuntimeError("The edit was not seen by the next check.")
    for name, seconds in (
        ("one link, what it could meet read from the database", reading),
        ("one link: reading, search, budgets, sums at its victims, findings", whole),
        ("one link, distance join in the database alone", joins),
        ("the surroundings right after an edit, which they show", seen),
    ):
        figures[f"{name}, median ms"] = float(np.median(seconds) * 1e3)
        figures[f"{name}, p95 ms"] = float(np.percentile(seconds, 95) * 1e3)
    figures["stations read for one link, median"] = float(np.median(rows))
    return figures


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


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(measure(int(sys.argv[1]))))
