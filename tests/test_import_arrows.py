"""Which part may import which: deploy → spectrum → licences → sites, and calculation without Django."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
ORDER = ["sites", "licences", "spectrum", "deploy"]  # each may import those before it
FRAMEWORK = {"django", "rest_framework", "celery", "environ", "structlog"}
PURE = [
    "spectrum/radio",
    "spectrum/conflicts",
    "licences/emissions",
    "licences/limits",
    "sites/positions",
    "sites/tables",
]
CROSSING = "spectrum/conflicts/gather"  # where register rows become arrays
STANDARD_LIBRARY_ONLY = "deploy/bootstrap"


def modules(part: str) -> list[Path]:
    """The files of a part, which is a folder or a single module."""
    folder, single = ROOT / part, ROOT / f"{part}.py"
    return sorted(folder.rglob("*.py")) + ([single] if single.exists() else [])


def imports(file: Path) -> Iterator[tuple[int, str]]:
    """Line and full name of everything that a file imports, also inside functions."""
    package = file.relative_to(ROOT).parent.parts
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else ()
            base = ".".join([*above, *([node.module] if node.module else [])])
            for alias in node.names:
                yield node.lineno, f"{base}.{alias.name}"


def offences(files: list[Path], forbidden: set[str]) -> list[str]:
    return [
        f"{file.relative_to(ROOT)}:{line} imports {name}"
        for file in files
        for line, name in imports(file)
        if name.split(".")[0] in forbidden
    ]


@pytest.mark.parametrize("part", ORDER)
def test_no_part_imports_one_that_stands_above_it(part: str) -> None:
    files = modules(part)
    above = set(ORDER[ORDER.index(part) + 1 :]) | {"tests"}
    assert files
    assert offences(files, above) == []


@pytest.mark.parametrize("part", PURE)
def test_calculation_knows_no_framework(part: str) -> None:
    files = [file for file in modules(part) if not file.is_relative_to(ROOT / CROSSING)]
    assert files, f"{part} is neither a folder nor a module; name the right one in PURE"
    assert offences(files, FRAMEWORK) == []


@pytest.mark.parametrize("part", PURE)
def test_calculation_reaches_the_models_nowhere(part: str) -> None:
    rooms = {"models", "selectors", "services", "views", "api", "forms", "admin"}
    reached = [
        f"{file.relative_to(ROOT)}:{line} imports {name}"
        for file in modules(part)
        if not file.is_relative_to(ROOT / CROSSING)
        for line, name in imports(file)
        if name.split(".")[0] in ORDER and rooms & set(name.split(".")[1:2])
    ]
    assert reached == []


def test_the_bootstrap_runs_before_anything_is_installed() -> None:
    import sys

    allowed = set(sys.stdlib_module_names) | {"__future__"}
    foreign = [
        f"{file.relative_to(ROOT)}:{line} imports {name}"
        for file in modules(STANDARD_LIBRARY_ONLY)
        for line, name in imports(file)
        if name.split(".")[0] not in allowed and not name.startswith("deploy.bootstrap")
    ]
    assert foreign == []


def test_the_reader_of_imports_sees_every_form(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "spectrum" / "radio"
    package.mkdir(parents=True)
    file = package / "noise.py"
    file.write_text(
        "import numpy as np\n"
        "from . import masks\n"
        "from ..models import Link\n"
        "def late():\n"
        "    from django.db import models\n"
    )
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    assert list(imports(file)) == [
        (1, "numpy"),
        (2, "spectrum.radio.masks"),
        (3, "spectrum.models.Link"),
        (5, "django.db.models"),
    ]
    assert offences([file], {"django"}) == ["spectrum/radio/noise.py:5 imports django.db.models"]
