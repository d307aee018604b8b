"""What pages cost on the server, measured on the database in use."""

from __future__ import annotations

import time
from typing import Any

TRIED = 60
LIST_TRIED = 10


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


def lists() -> dict[str, Any]:
    """The first page of the lists that are opened most, and one search."""
    import numpy as np
    from django.test import Client
    from django.urls import reverse

    from sites.models import Person

    client = Client()
    client.force_login(Person.objects.get(username="bench"))
    figures: dict[str, Any] = {}
    for words, name, query in (
        ("links", "link-list", {}),
        ("links, searched", "link-list", {"q": "000123"}),
        ("sites", "site-list", {}),
        ("findings", "finding-list", {}),
        ("licences", "licence-list", {}),
    ):
        seconds = []
        for _ in range(LIST_TRIED + 1):
            begun = time.perf_counter()
            answer = client.get(reverse(name), query)
            seconds.append(time.perf_counter() - begun)
            if answer.status_code != 200:
                raise RuntimeError(f"{name} answered {answer.status_code}.")
        figures[f"list of {words}, median ms"] = float(np.median(seconds[1:]) * 1e3)
        figures[f"list of {words}, p95 ms"] = float(np.percentile(seconds[1:], 95) * 1e3)
    return figures
