"""A register in a folder of mapped .npy files and one JSON file, complete or not there at all."""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import numpy as np

from spectrum.conflicts.columns import Columns
from spectrum.conflicts.network import AntennaRecord, ModeRecord, PlanRecord
from spectrum.radio.masks import Mask

from .register import LinkTable, Register, SiteTable, Tables, Words

# Changes with what the files hold or how it is worked out; a folder of another layout is not read.
LAYOUT = 2
_PARTS = {"columns": Columns, "words": Words, "links": LinkTable, "sites": SiteTable}


def save(register: Register, folder: Path) -> Path:
    """Write a register to a folder, which appears under its name only when it is complete."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    building = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        for part, kind in _PARTS.items():
            for f in fields(kind):
                np.save(building / f"{part}.{f.name}.npy", getattr(getattr(register, part), f.name))
        tables = asdict(register.tables)
        tables["assumptions"] = list(register.tables.assumptions.items())
        about = {"layout": LAYOUT, "revision": register.revision, "tables": tables}
        (building / "about.json").write_text(json.dumps(about), encoding="utf-8")
        building.replace(folder)
    except OSError:
        shutil.rmtree(building, ignore_errors=True)
        # Another process was faster; what it wrote is the same.
        if not (folder / "about.json").exists():
            raise
    return folder


def load(folder: Path) -> Register | None:
    """The register in a folder, its columns mapped and not read; None where there is none of this layout."""
    try:
        about = json.loads((folder / "about.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if about.get("layout") != LAYOUT:
        return None

    def part(name: str) -> Any:
        kind = _PARTS[name]
        return kind(**{f.name: np.load(folder / f"{name}.{f.name}.npy", mmap_mode="r") for f in fields(kind)})

    t = about["tables"]
    tables = Tables(
        **{name: t[name] for name in ("authorities", "environments", "labels", "holders", "statuses")},
        antennas=[
            AntennaRecord(**{**a, "points": tuple(tuple(p) for p in a["points"])}) for a in t["antennas"]
        ],
        modes=[
            ModeRecord(
                **{
                    **m,
                    "emission": _mask(m["emission"]),
                    "selectivity": _mask(m["selectivity"]),
                    "nominal_masks": tuple(m["nominal_masks"]),
                }
            )
            for m in t["modes"]
        ],
        plans=[PlanRecord(**p) for p in t["plans"]],
        assumptions=dict(t["assumptions"]),
    )
    return Register(
        revision=int(about["revision"]),
        columns=part("columns"),
        words=part("words"),
        links=part("links"),
        sites=part("sites"),
        tables=tables,
    )


def _mask(points: dict[str, list[float]]) -> Mask:
    return Mask(tuple(points["offset_khz"]), tuple(points["level_db"]))
