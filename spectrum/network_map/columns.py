"""Places and lines as columns: a line is one path, from end A to end B or from a hub to one remote.

A link of which one station only is in the register (another party's, say) is a line from its site to itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .projection import map_x, map_y

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
StrArray = npt.NDArray[np.str_]

#: How far a link is on its way, for the line's stroke.
ON_AIR, NOT_YET, ENDED = 0, 1, 2
#: The rank of a finding (0 must fix, 1 decide, 2 note), or nothing open.
NONE_OPEN = 3


@dataclass(frozen=True)
class MapColumns:
    """Every place and every line.

    Attributes
    ----------
    site_id, site_code, site_own, latitude_deg, longitude_deg : one entry a site
    x, y : the site on the map's square of side 1
    line_link, line_code : id and code of the link that a line belongs to
    line_from, line_to : places in the columns of sites
    line_own, line_stage : whose it is; ON_AIR, NOT_YET or ENDED
    """

    site_id: IntArray
    site_code: StrArray
    site_own: BoolArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    x: FloatArray
    y: FloatArray
    line_link: IntArray
    line_code: StrArray
    line_from: IntArray
    line_to: IntArray
    line_own: BoolArray
    line_stage: IntArray


def map_columns(
    sites: tuple[IntArray, StrArray, FloatArray, FloatArray, BoolArray],
    links: tuple[IntArray, StrArray, IntArray, BoolArray],
    stations: tuple[IntArray, IntArray, BoolArray],
) -> MapColumns:
    """Draw lines between the stations of each link.

    Parameters
    ----------
    sites : id, code, latitude, longitude (degrees), own
    links : id, code, stage, own
    stations : id of the link, id of the site, whether it is the end that lines begin at (A, or the hub)

    Returns
    -------
    MapColumns
        Lines in the order of their links' ids. A link without a station gives no line.
    """
    site_order, link_order = np.argsort(sites[0]), np.argsort(links[0])
    site_id, link_id = sites[0][site_order], links[0][link_order]
    order = np.lexsort(
        (~stations[2], stations[0])
    )  # of each link the station that lines begin at comes first
    station_link, station_site = stations[0][order], stations[1][order]
    place = site_order[np.searchsorted(site_id, station_site)] if len(site_id) else station_site
    row = np.searchsorted(link_id, station_link)
    _, first, of_first, count = np.unique(
        station_link, return_index=True, return_inverse=True, return_counts=True
    )
    begin = first[of_first]
    ends = np.flatnonzero((begin != np.arange(len(row))) | (count[of_first] == 1))
    of_link = link_order[row[ends]]
    return MapColumns(
        site_id=sites[0],
        site_code=sites[1],
        site_own=sites[4],
        latitude_deg=sites[2],
        longitude_deg=sites[3],
        x=map_x(sites[3]),
        y=map_y(sites[2]),
        line_link=links[0][of_link],
        line_code=links[1][of_link],
        line_from=place[begin[ends]],
        line_to=place[ends],
        line_own=links[3][of_link],
        line_stage=links[2][of_link],
    )
