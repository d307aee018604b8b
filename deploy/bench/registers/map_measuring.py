"""The map of a large network: the server's answers, and the time until a browser shows the first picture.

The aim is a first picture within 1.5 s, server and browser together.
"""

from __future__ import annotations

import os
import statistics
import threading
import time
from collections.abc import Callable
from typing import Any
from unittest import mock

AGAIN = 5


def measure() -> dict[str, Any]:
    """Figures by name."""
    from sites.models import Person

    person = Person.objects.create_superuser("bench-map", "bench@example.org", "bench")
    return _answers(person) | _in_browser(person)


def _answers(person: Any) -> dict[str, Any]:
    from django.test import Client

    from deploy.bench.registers.loading import AUTHOR
    from sites.models import Site
    from sites.services import record
    from spectrum.services import map_columns
    from spectrum.views import map as pages

    client = Client()
    client.force_login(person)

    def seconds(address: str, query: dict[str, Any], forget: Callable[[], None]) -> list[float]:
        taken = []
        for _ in range(AGAIN):
            forget()
            begun = time.perf_counter()
            answer = client.get(address, query)
            taken.append(time.perf_counter() - begun)
            if answer.status_code != 200:
                raise RuntimeError(f"{address} answered {answer.status_code}.")
        return taken

    def picture() -> None:
        pages._pictures._values.clear()

    def memory() -> None:
        map_columns._kept = None
        picture()

    def everything() -> None:
        map_columns._file().unlink(missing_ok=True)
        memory()

    def one_site() -> None:
        site = Site.objects.order_by("?")[0]
        site.latitude_deg += 1e-4
        with mock.patch("sites.services.jobs.in_process.enqueue"):
            record.change(site, by=AUTHOR)

    near = {"west": 14.0, "south": 47.0, "east": 14.5, "north": 47.3, "width": 1440}
    measured = {
        "data of the whole network, nothing kept": seconds("/map/data/", {}, everything),
        "data of the whole network, columns on file": seconds("/map/data/", {}, memory),
        "data of the whole network, columns kept": seconds("/map/data/", {}, picture),
        "data of the whole network, after an edit": seconds("/map/data/", {}, one_site),
        "data of a part, columns kept": seconds("/map/data/", near, picture),
        "data under a filter, columns kept": seconds("/map/data/", {"whose": "no"}, picture),
        "the page with its list": seconds("/map/", {}, picture),
    }
    figures: dict[str, Any] = {
        f"{name}, median ms": statistics.median(taken) * 1e3 for name, taken in measured.items()
    }
    figures["data of the whole network, kB"] = len(client.get("/map/data/").content) / 1e3
    return figures


def _in_browser(person: Any) -> dict[str, Any]:
    """From the call of the page to the first picture, as the browser's own clock has it."""
    from django.conf import settings
    from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
    from django.core.wsgi import get_wsgi_application
    from django.test import Client

    from deploy.bootstrap import servers
    from spectrum.services import map_columns
    from spectrum.views import map as pages

    program = servers.find_chromium()
    if not program:
        return {"first picture": "not measured: there is no Chromium"}
    from playwright.sync_api import sync_playwright

    client = Client()
    client.force_login(person)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    server = ThreadedWSGIServer(("127.0.0.1", 0), WSGIRequestHandler)
    server.set_app(get_wsgi_application())
    threading.Thread(target=server.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_port}"
    first: dict[str, list[float]] = {"nothing kept": [], "columns on file": [], "columns kept": []}
    with sync_playwright() as playwright:
        sandbox = ["--no-sandbox"] if os.geteuid() == 0 else []
        browser = playwright.chromium.launch(executable_path=program, args=sandbox)
        for name, times in first.items():
            for _ in range(AGAIN):
                pages._pictures._values.clear()
                if name != "columns kept":
                    map_columns._kept = None
                if name == "nothing kept":
                    map_columns._file().unlink(missing_ok=True)
                context = browser.new_context(viewport={"width": 1440, "height": 900})
                context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": address}])
                page = context.new_page()
                page.goto(f"{address}/map/")
                page.wait_for_selector("#map[data-drawn]", timeout=60_000)
                times.append(page.evaluate("performance.getEntriesByName('map-picture')[0].startTime"))
                context.close()
        browser.close()
    server.shutdown()
    figures: dict[str, Any] = {}
    for name, times in first.items():
        figures[f"first picture, {name}, median ms"] = statistics.median(times)
        figures[f"first picture, {name}, longest of {AGAIN}, ms"] = max(times)
    return figures
