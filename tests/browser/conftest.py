"""The demo network behind the live server, for the tests that walk through it or look over all its pages."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from spectrum.demo.build import build
from spectrum.demo.terrain import write_tiles
from spectrum.services.checks import check_network


@pytest.fixture(scope="session")
def valley(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The terrain that the demo makes for itself."""
    folder = tmp_path_factory.mktemp("terrain")
    write_tiles(folder)
    return str(folder)


@pytest.fixture
def demo(valley: str, settings: Any, transactional_db: None) -> dt.date:
    """The demo, entered and checked as a whole; returns its day."""
    settings.TERRAIN_DIR = valley
    today = timezone.localdate()
    build(today)
    check_network(as_of=today)
    return today
