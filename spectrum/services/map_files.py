"""The map's tables in one file, complete or not there at all."""

from __future__ import annotations

import datetime as dt
import logging
import tempfile
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from spectrum.services.register_columns import Revision

# Changes with what the columns hold; a file of another layout is not read.
LAYOUT = 1
_ABOUT = "about"
log = logging.getLogger(__name__)


def save(file: Path, revision: Revision, tables: Mapping[str, Mapping[str, np.ndarray]]) -> None:
    """Write the tables of a revision; the file appears under its name only when it is complete.

    The file spares reading; where it cannot be written, the map goes on without it and the log says so.
    """
    about = np.array([str(LAYOUT), str(revision.number), str(revision.changes), _text(revision.at)])
    columns: dict[str, Any] = {_ABOUT: about}
    for name, table in tables.items():
        columns |= {f"{name}.{column}": values for column, values in table.items()}
    building = None
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=file.parent, prefix=f".{file.name}-", delete=False) as opened:
            building = Path(opened.name)
            np.savez(opened, **columns)
        building.replace(file)
    except OSError as error:
        log.warning("the map's tables were not kept", extra={"file": str(file), "problem": str(error)})
        if building is not None:
            building.unlink(missing_ok=True)


def load(
    file: Path, expected: Mapping[str, Sequence[str]]
) -> tuple[Revision, dict[str, dict[str, np.ndarray]]] | None:
    """The revision and the tables in a file; None where there is none, or not one of this layout, or a broken one."""
    try:
        with np.load(file, allow_pickle=False) as kept:
            layout, number, changes, at = kept[_ABOUT].tolist()
            if layout != str(LAYOUT):
                return None
            tables = {
                name: {column: kept[f"{name}.{column}"] for column in columns}
                for name, columns in expected.items()
            }
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile) as error:
        log.warning("the map's kept tables cannot be read", extra={"file": str(file), "problem": str(error)})
        return None
    return Revision(int(number), int(changes), dt.datetime.fromisoformat(at) if at else None), tables


def _text(moment: dt.datetime | None) -> str:
    return moment.isoformat() if moment else ""
