"""Measure pages on a database that this process is alone with: ``… paging LINKS``; prints JSON.

Run by deploy.bench.pages in a process of its own, with DATABASE_URL naming an empty database.
"""

from __future__ import annotations

import json
import sys
import time
from typing import Any

TRIED = 60


def measure(links: int) -> dict[str, Any]:
    """Load a register of so many links and measure; figures by name."""
    from django.core.management import call_command
    from django.db import connection

    from deploy.bench.registers import made_register
    from deploy.bench.registers.loading import load_into_database

    call_command("migrate", verbosity=0)
    load_into_database(made_register(links))
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")  # as the server does by itself some minutes after so many rows
    return {"database": connection.vendor, **editor_updates()}


def editor_updates() -> dict[str, Any]:
    """One answer of the link editor: form read, profile, budget, findings and their page, a power changed each time."""
    import numpy as np
    from django.test import Client
    from django.urls import reverse

    from sites.models import Person
    from spectrum.forms.links import LinkEntry
    from spectrum.models import Link

    person = Person.objects.create_superuser("bench", "bench@example.org", "a password for measuring 1")
    client = Client()
    client.force_login(person)
    keys = list(Link.objects.order_by("pk").values_list("pk", flat=True))
    chosen = np.random.default_rng(5).choice(keys, min(TRIED + 1, len(keys)), replace=False).tolist()
    seconds, sizes = [], []
    for number, key in enumerate(chosen):
        typed = {
            field.html_name: "" if field.value() is None else str(field.value())
            for form in LinkEntry(Link.objects.get(pk=key)).all_forms
            for field in form
        }
        typed |= {"a-tx_power_dbm": "21.5", "preview": "1"}
        begun = time.perf_counter()
        answer = client.post(reverse("link-change", args=[key]), typed, headers={"HX-Request": "true"})
        took = time.perf_counter() - begun
        if answer.status_code != 200 or "findings not judged yet" in answer.content.decode():
            raise RuntimeError(f"Link {key} was not judged: {answer.content.decode()}")
        if number:  # the first one loads what every later one finds loaded
            seconds.append(took)
            sizes.append(len(answer.content))
    return {
        "editor update, median ms": float(np.median(seconds) * 1e3),
        "editor update, p95 ms": float(np.percentile(seconds, 95) * 1e3),
        "editor update, greatest ms": float(np.max(seconds) * 1e3),
        "editor update, kB sent, median": float(np.median(sizes) / 1e3),
    }


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(measure(int(sys.argv[1]))))
