"""Where the demo stands: an invented valley with its relief, and sites on its hills and along its floor.

The coordinates lie in thinly settled country so that grids and distances are those of a real place;
the relief, the names and everything that stands there are invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from pyproj import Transformer

from sites.models import Site
from sites.positions import format_dms, parse_position
from sites.terrain.synthetic import valley_heights

#: West, south, east, north in degrees, and the seed of the relief.
BOUNDS = (97.2, 46.55, 98.6, 47.25)
SEED = 7
GRID_EPSG = 32647  # WGS 84 / UTM zone 47N

LOWER_VALLEY = "Karolund"
UPPER_VALLEY = "Tessmark"

_HILLS = (
    "Orvask Head", "Brannel Ridge", "Tholm Crest", "Kerravane", "Sulwick Top", "Dunmarrow", "Velgar Edge",
    "Pennask Knoll", "Hollrick Heights", "Mirrowfell", "Gastrel Spur", "Fennoch Saddle", "Lorrigan Peak",
    "Wethering Cap",
)  # fmt: skip
_TOWNS = (
    "Abrenwick", "Ballorne", "Carthmoor", "Dellisk", "Ebberholt", "Farnock", "Gellister", "Harrowmead",
    "Ilvestad", "Jarnholm", "Kellimore", "Lannask", "Mossalt", "Narrowdel", "Ollersby", "Pethering",
    "Quarrick", "Rennoway", "Selkhurst", "Tarrowby", "Ulmsted", "Varrickton", "Wendlesk", "Yarrowmere",
    "Zellenford", "Askerby", "Brindelow", "Corvane", "Dorrisk", "Elmhollow", "Fellinghurst", "Grathby",
    "Hestermoor", "Issenford", "Jollaby", "Kirrenmoor", "Lodderick", "Marrenholt", "Nethask", "Orrowby",
    "Pollenrick", "Rushelm", "Sandrick", "Tollisk", "Underfell", "Vennaby", "Wollask", "Arrenford",
    "Beckaslow", "Crinnow", "Dallaby", "Eskemoor",
)  # fmt: skip
_OTHERS = (
    ("Gellister signal box", 0.13, 0.02), ("Narrowdel signal box", 0.27, -0.02), ("Ulmsted signal box", 0.41, 0.02),
    ("Dorrisk signal box", 0.55, -0.03), ("Kirrenmoor signal box", 0.69, 0.02), ("Tollisk signal box", 0.83, -0.02),
    ("Kerravane rail mast", 0.20, 0.20), ("Pennask rail mast", 0.48, 0.22), ("Gastrel rail mast", 0.80, -0.17),
    ("Sulwick hut", 0.31, -0.26), ("Hollrick hut", 0.62, -0.25), ("Wethering hut", 0.93, 0.24),
    ("Carthmoor rescue station", 0.06, 0.03), ("Brindelow rescue station", 0.50, 0.03),
    ("Wollask rescue station", 0.90, 0.02), ("Upper weir", 0.88, 0.0), ("Middle weir", 0.52, 0.0),
    ("Lower weir", 0.10, 0.0), ("Mossalt waterworks", 0.24, 0.05), ("Marrenholt waterworks", 0.72, 0.05),
    ("Grathby quarry", 0.60, 0.09), ("Grathby quarry tower", 0.64, 0.24), ("Rennoway timber yard", 0.34, 0.08),
    ("Timber lookout", 0.37, 0.25),
)  # fmt: skip
_BEACONS = (
    ("Abrenwick", 0.015, 0.02),
    ("Ballorne", 0.045, -0.03),
    ("Eskemoor", 0.985, 0.02),
    ("Crinnow", 0.955, -0.02),
)
#: A transmitter far outside the valley: degrees, and its ground height in metres.
FAR_AWAY = ("Sarnev plateau transmitter", 46.9, 101.05, 640.0)

_STRUCTURE = Site.Structure
_ENVIRONMENT = Site.Environment
_SIZE = 241


@dataclass(frozen=True)
class _Relief:
    """Heights on a grid over the box, and the row of the valley floor in every column."""

    height_m: npt.NDArray[np.float64]
    floor_row: npt.NDArray[np.intp]

    @classmethod
    def of_the_valley(cls) -> _Relief:
        grid = (np.arange(_SIZE) + 0.5) / _SIZE
        height = valley_heights(grid, grid, SEED)
        middle = height[_SIZE // 4 : 3 * _SIZE // 4]
        smoothed = sum(np.roll(middle, shift, axis=1) for shift in range(-6, 7))
        return cls(height, np.argmin(smoothed, axis=0) + _SIZE // 4)

    def near_floor(self, across: float, beside: float) -> tuple[int, int]:
        """Row and column at a share of the box from the west, and a share of its height beside the river."""
        column = min(int(across * _SIZE), _SIZE - 1)
        row = int(self.floor_row[column] + beside * _SIZE)
        return min(max(row, 2), _SIZE - 3), column

    def summit_near(self, row: int, column: int, reach: int = 10) -> tuple[int, int]:
        """The highest cell around another."""
        top, left = max(row - reach, 0), max(column - reach, 0)
        part = self.height_m[top : row + reach + 1, left : column + reach + 1]
        down, right = np.unravel_index(int(np.argmax(part)), part.shape)
        return top + int(down), left + int(right)


def sites() -> list[Site]:
    """All sites of the demo, not saved: own hills (H…) and valley places (V…), and other parties' (X…)."""
    relief = _Relief.of_the_valley()
    made: list[Site] = []
    for number, name in enumerate(_HILLS):
        side = 0.22 if number % 2 else -0.22
        cell = relief.summit_near(*relief.near_floor((number + 0.5) / len(_HILLS), side))
        made.append(
            _site(
                relief, f"H{number + 1:02d}", name, cell, len(made), structure=_STRUCTURE.LATTICE,
                structure_height_m=50.0, environment=_ENVIRONMENT.QUIET_RURAL,
            )
        )  # fmt: skip
    for number, name in enumerate(_TOWNS):
        # The golden section spreads the places evenly across the floor without a pattern.
        beside = 0.10 * ((number * 0.618034) % 1.0) - 0.05
        cell = relief.near_floor((number + 0.5) / len(_TOWNS), beside)
        what, values = _valley_place(number)
        made.append(_site(relief, f"V{number + 1:02d}", f"{name} {what}", cell, len(made), **values))
    for number, (name, across, beside) in enumerate(_OTHERS):
        cell = relief.near_floor(across, beside)
        if abs(beside) > 0.15:
            cell = relief.summit_near(*cell, reach=4)
        made.append(_site(relief, f"X{number + 1:02d}", name, cell, len(made), own=False))
    for number, (name, across, beside) in enumerate(_BEACONS):
        cell = relief.near_floor(across, beside)
        made.append(_site(relief, f"X{number + 31:02d}", f"{name} flood beacon", cell, len(made), own=False))
    name, latitude, longitude, ground = FAR_AWAY
    made.append(
        Site(
            code="X40", name=name, region="beyond the valley", own=False,
            latitude_deg=latitude, longitude_deg=longitude, position_typed=f"{latitude} {longitude}",
            position_notation="decimal degrees", position_source=Site.PositionSource.REGULATOR,
            ground_height_m=ground, structure=_STRUCTURE.GUYED, structure_height_m=180.0,
        )
    )  # fmt: skip
    return made


def _valley_place(number: int) -> tuple[str, dict[str, object]]:
    """What stands at a place on the valley floor."""
    if number == 0:
        values = {
            "structure": _STRUCTURE.BUILDING,
            "structure_height_m": 32.0,
            "environment": _ENVIRONMENT.CITY,
        }
        return "control centre", values
    if number % 12 == 5:
        return "power station", {"structure": _STRUCTURE.LATTICE, "structure_height_m": 40.0}
    environment = _ENVIRONMENT.RESIDENTIAL if number % 3 == 0 else _ENVIRONMENT.RURAL
    values = {"structure": _STRUCTURE.POLE, "structure_height_m": 25.0, "environment": environment}
    return "substation", values


def _site(
    relief: _Relief, code: str, name: str, cell: tuple[int, int], number: int, **values: object
) -> Site:
    row, column = cell
    west, south, east, north = BOUNDS
    longitude = round(west + (column + 0.5) / _SIZE * (east - west), 5)
    latitude = round(north - (row + 0.5) / _SIZE * (north - south), 5)
    typed, epsg = _as_typed(latitude, longitude, number)
    position = parse_position(typed, epsg=epsg)
    own = bool(values.get("own", True))
    return Site(
        **{
            "code": code,
            "name": name,
            "region": LOWER_VALLEY if column < _SIZE / 2 else UPPER_VALLEY,
            "latitude_deg": position.latitude_deg,
            "longitude_deg": position.longitude_deg,
            "position_typed": typed,
            "position_notation": str(position.notation),
            "position_epsg": epsg,
            "position_source": Site.PositionSource.SURVEY if own else Site.PositionSource.REGULATOR,
            "position_accuracy_m": 2.0 if own else 50.0,
            "ground_height_m": round(float(relief.height_m[row, column])),
            **values,
        }
    )


def _as_typed(latitude: float, longitude: float, number: int) -> tuple[str, int | None]:
    """The three ways in which people enter a position, in turn."""
    if number % 3 == 0:
        return f"{latitude} {longitude}", None
    if number % 3 == 1:
        return format_dms(latitude, longitude, decimals=1), None
    easting, northing = _to_grid().transform(longitude, latitude)
    return f"{easting:.0f} {northing:.0f}", GRID_EPSG


def _to_grid() -> Transformer:
    return Transformer.from_crs("EPSG:4326", f"EPSG:{GRID_EPSG}", always_xy=True)
