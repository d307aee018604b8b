"""What may not stand in a committed file."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent

# In pieces, so that this file does not hold what it looks for.
REGISTRY_HOSTS = [
    r"py" r"pi\.org",
    r"python" r"hosted\.org",
    r"np" r"mjs\.(?:org|com)",
    r"deb\.deb" r"ian\.org",
    r"archive\.ubu" r"ntu\.com",
    r"(?:docker|ghcr|quay)\." r"io\b",
]
MACHINE_PATHS = [r"/ro" r"ot/", r"/ho" r"me/\w", r"/wo" r"rk/"]
UNFINISHED = [
    r"\bTO" r"DO\b",
    r"\bFIX" r"ME\b",
    r"\bXX" r"X\b",
    r"\bNotImpl" r"ementedError\b",
    r"coming " r"soon",
]


def committed() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    files = [ROOT / name for name in listed.decode().split("\0") if name]
    return [file for file in files if file.is_file()]


def lines_with(patterns: list[str]) -> list[str]:
    pattern = re.compile("|".join(patterns), re.IGNORECASE)
    found = []
    for file in committed():
        try:
            text = file.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # a picture
        for number, line in enumerate(text.splitlines(), start=1):
            if pattern.search(line):
                found.append(f"{file.relative_to(ROOT)}:{number}: {line.strip()[:120]}")
    return found


@pytest.mark.parametrize(
    "patterns",
    [REGISTRY_HOSTS, MACHINE_PATHS, UNFINISHED],
    ids=["registry hosts", "machine paths", "unfinished"],
)
def test_no_committed_file_holds(patterns: list[str]) -> None:
    assert lines_with(patterns) == []


def test_the_search_finds_what_it_looks_for() -> None:
    assert any(line.startswith("pyproject.toml:") for line in lines_with([r"^\[project\]"]))
    assert re.search(REGISTRY_HOSTS[0], "https://" + "py" + "pi.org/simple")
    assert re.search(MACHINE_PATHS[0], "/ro" + "ot/project")


def test_every_file_of_style_and_script_is_ours() -> None:
    """Scripts, style sheets and fonts of others come from packages."""
    minified = [
        str(file.relative_to(ROOT))
        for file in committed()
        if file.suffix in {".js", ".css"}
        and (".min." in file.name or max(map(len, file.read_text().splitlines()), default=0) > 1000)
    ]
    brought_along = [
        str(file) for file in committed() if file.suffix in {".whl", ".woff", ".woff2", ".ttf", ".otf"}
    ]
    assert minified + brought_along == []
