"""The command says what it did, writes its report, and refuses with a sentence."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from spectrum.models import ExtractRun, Link
from tests.spectrum.extracts.made import csv_bytes, description, row

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "mapping.json").write_text(json.dumps(description()), encoding="utf-8")
    (tmp_path / "extract.csv").write_bytes(csv_bytes(row(), row(Number="F-101")))
    (tmp_path / "bad.csv").write_bytes(csv_bytes(row(MHz="six")))
    return tmp_path


def run(*arguments: Any) -> str:
    out = io.StringIO()
    call_command("import_extract", *map(str, arguments), stdout=out)
    return out.getvalue()


def test_trial_import_and_repeat(folder: Path) -> None:
    by_file = (folder / "extract.csv", "--mapping-file", folder / "mapping.json", "--as-of", "2026-06-01")
    said = run(*by_file, "--dry-run")
    assert said.startswith("Trial, nothing written: 2 rows of extract.csv")
    assert Link.objects.count() == ExtractRun.objects.count() == 0
    said = run(*by_file, "--report", folder / "report.csv")
    assert said.startswith("Imported 2 rows")
    assert "links                   2 new" in said
    assert "1      2  one position and frequency under several licences  2" in said
    assert "quality,shared_frequency,2 3," in (folder / "report.csv").read_text()
    said = run(folder / "extract.csv", "--mapping", "valley_fixed")
    assert "links                   0 new      0 changed      2 unchanged" in said


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("bad.csv", "--mapping-file", "mapping.json"), "Row 2, column MHz: found “six”"),
        (("gone.csv", "--mapping-file", "mapping.json"), "gone.csv cannot be read"),
        (("extract.csv", "--mapping-file", "extract.csv"), "is not JSON"),
        (
            ("extract.csv", "--mapping", "nothing"),
            "There is no mapping 'nothing'; there are us_fixed_microwave.",
        ),
        (("extract.csv", "--mapping", "us_fixed_microwave"), "Row 1, column callsign: found no column"),
        (("extract.csv", "--mapping-file", "mapping.json", "--as-of", "1.6.2026"), "a date was expected"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(
    folder: Path, arguments: tuple[str, ...], said: str
) -> None:
    paths = [folder / a if a.endswith((".csv", ".json")) else a for a in arguments]
    with pytest.raises(CommandError) as caught:
        run(*paths)
    assert said in str(caught.value)
    assert Link.objects.count() == 0


def test_the_report_lists_the_errors(folder: Path) -> None:
    with pytest.raises(CommandError):
        run(folder / "bad.csv", "--mapping-file", folder / "mapping.json", "--report", folder / "report.csv")
    assert "error,MHz,2," in (folder / "report.csv").read_text()
