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
    files = (file for folder in folders for file in sorted((ROOT / folder).rglob("*.py")))
    return frozenset(text for file in files for text in _of(file))


def _of(file: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
            continue
        forms = 1 if node.func.id in KNOWN else 2 if node.func.id in COUNTED else 0
        for text in node.args[:forms]:
            if isinstance(text, ast.Constant) and isinstance(text.value, str):
                yield text.value
