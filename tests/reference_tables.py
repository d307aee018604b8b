"""Read the published tables that the tests check against.

Two kinds. A *project* table was computed from a published formula, or read in a
public text, and stands in ``tests/reference``. An *outside* table belongs to
others: it is not copied into the project but read from the folder that the
environment variable ``REFERENCE_DIR`` names.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable
from pathlib import Path

import pytest

PROJECT_TABLES = Path(__file__).parent / "reference"


def _rows(lines: Iterable[str]) -> list[dict[str, str]]:
    return list(csv.DictReader(line for line in lines if line.strip() and not line.startswith("#")))


def project_table(name: str) -> list[dict[str, str]]:
    """Rows of ``tests/reference/NAME``, one dict per row; lines that start with ``#`` name the source."""
    with (PROJECT_TABLES / name).open(encoding="utf-8", newline="") as file:
        return _rows(file)


def outside_folder(reason: str = "published tables of others") -> Path:
    """The folder ``REFERENCE_DIR``; without it the test is skipped, or fails where ``CI`` is ``true``."""
    folder = os.environ.get("REFERENCE_DIR", "")
    if folder:
        return Path(folder)
    message = f"REFERENCE_DIR is not set: {reason} cannot be read. Set it to the folder that holds them."
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(message)
    pytest.skip(message)


def outside_table(name: str) -> list[dict[str, str]]:
    """Rows of ``NAME`` (a path inside ``REFERENCE_DIR``), one dict per row, ``#`` lines left out."""
    with (outside_folder(name) / name).open(encoding="utf-8", newline="") as file:
        return _rows(file)
