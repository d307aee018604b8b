"""The demo, built and checked once for all tests of this folder that only read it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings

from spectrum.demo.build import Built, build
from spectrum.demo.terrain import write_tiles
from spectrum.models import Check
from spectrum.services.checks import check_network

#: Any day will do, the last of a February among them.
DAYS = (dt.date(2026, 6, 1), dt.date(2028, 2, 29))


class Demo:
    """What was built, on which day, and its first check."""

    def __init__(self, today: dt.date) -> None:
        self.today = today
        self.built: Built = build(today)
        self.check: Check = check_network(as_of=today)


@pytest.fixture(scope="session")
def valley(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The terrain that the demo makes for itself."""
    folder = tmp_path_factory.mktemp("terrain")
    assert write_tiles(folder)
    assert not write_tiles(folder)
    return str(folder)


@pytest.fixture(scope="package", params=DAYS, ids=str)
def demo(
    request: pytest.FixtureRequest, valley: str, django_db_setup: None, django_db_blocker: Any
) -> Iterator[Demo]:
    with django_db_blocker.unblock(), override_settings(TERRAIN_DIR=valley), transaction.atomic():
        yield Demo(request.param)
        transaction.set_rollback(True)
