"""The texts that extraction (xgettext) would find in our Python: constants given to a function that it knows."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
#: Of those that ``manage.py makemessages`` and xgettext know for Python, the ones in use here with one text.
KNOWN = frozenset(("_", "gettext", "gettext_lazy", "gettext_noop"))
#: Those with a text for one and another for many.
COUNTED = frozenset(("ngettext", "ngettext_lazy"))


@cache
def marked_texts(*folders: str) -> frozenset[str]:
    """Every text that is marked for translation in the Python of some folders."""
    return texts_with_one_form(*folders) | frozenset(
        text for file in _files(folders) for text in _of(file, COUNTED, 2)
    )


@cache
def texts_with_one_form(*folders: str) -> frozenset[str]:
    """Those of them that are the same for any number."""
    return frozenset(text for file in _files(folders) for text in _of(file, KNOWN, 1))


def _files(folders: tuple[str, ...]) -> Iterator[Path]:
    for folder in folders:
        yield from sorted((ROOT / folder).rglob("*.py"))


def _of(file: Path, functions: frozenset[str], forms: int) -> Iterator[str]:
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in functions:
            for text in node.args[:forms]:
                if isinstance(text, ast.Constant) and isinstance(text.value, str):
                    yield text.value
