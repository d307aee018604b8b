"""The relief of the invented valley as terrain tiles, so that the demo's paths run over hills."""

from __future__ import annotations

from pathlib import Path

from sites.terrain.synthetic import write_synthetic_terrain

from .places import BOUNDS, SEED


def write_tiles(folder: Path) -> bool:
    """Write the tiles into a folder that holds none yet; whether any were written."""
    if folder.is_dir() and any(folder.iterdir()):
        return False
    write_synthetic_terrain(folder, BOUNDS, SEED)
    return True
