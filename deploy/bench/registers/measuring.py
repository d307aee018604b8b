"""Measure all that depends on a database, on one that this process is alone with: ``… measuring LINKS``; prints JSON.

Run by deploy.bench.database in a process of its own, with DATABASE_URL naming an empty database.
"""

from __future__ import annotations

import json
import os
import sys
import time
from typing import Any


def measure(links: int) -> dict[str, Any]:
    """Load a register of so many links and measure; groups of figures by name."""
    from django.core.management import call_command
    from django.db import connection

    from deploy.bench.registers import made_register, map_measuring, one_link, paging
    from deploy.bench.registers.loading import enter_findings, load_into_database
    from spectrum.roles import give_permissions

    call_command("migrate", verbosity=0)
    give_permissions()
    begun = time.perf_counter()
    load_into_database(made_register(links))
    figures: dict[str, Any] = {"entering the register, s": time.perf_counter() - begun}
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")  # as the server does by itself some minutes after so many rows
    figures["one link"] = one_link.checks()
    figures["one link right after an edit"] = one_link.edits()
    figures["search of channel pairs"] = one_link.pair_searches()
    enter_findings(links)
    figures["pages, on the server"] = paging.editor_updates() | paging.lists()
    if connection.vendor == "sqlite":
        figures["map"] = map_measuring.measure()
    return figures


if __name__ == "__main__":
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.test")
    django.setup()
    print(json.dumps(measure(int(sys.argv[1]))))
