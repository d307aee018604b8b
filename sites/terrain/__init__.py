"""Terrain: tiles in a folder become profiles along the geodesic, with what is not known said."""

from sites.terrain.curvature import earth_bulge_m
from sites.terrain.landcover import LandCover
from sites.terrain.rasters import Samples
from sites.terrain.store import Profile, Profiles, TerrainStore, shared_store
from sites.terrain.tiles import TerrainError

__all__ = [
    "LandCover",
    "Profile",
    "Profiles",
    "Samples",
    "TerrainError",
    "TerrainStore",
    "earth_bulge_m",
    "shared_store",
]
