"""Straight legs around barriers: the network of a trail without paths."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from layers.walking.nearest import WGS84
from layers.walking.network.barriers import Ground
from layers.walking.network.graph import Network
from layers.walking.network.lines import Line
from layers.walking.network.plane import Plane

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OFF_PATH = "off path"
"""Kind of the one line that stands for all straight legs."""

CLEARANCE_M = 1.0
"""Legs turn at this distance from the corners of a barrier."""


def straight_network(
    lon: Floats, lat: Floats, reasons: Sequence[str], *, ground: Ground, plane: Plane
) -> tuple[Network, Ints]:
    """Every straight leg in the clear between spots and corners of barriers.

    The second value is the node of each spot, -1 where `reasons` says that it cannot
    be reached.
    """
    corners = np.concatenate(
        [
            np.empty((0, 2)),
            *(
                shapely.get_coordinates(shapely.buffer(shape, CLEARANCE_M, join_style="mitre"))
                for shape in ground.shapes
            ),
        ]
    )
    open_spots = np.flatnonzero([not reason for reason in reasons])
    node = np.full(len(reasons), -1)
    node[open_spots] = np.arange(len(open_spots))
    corner_lon, corner_lat = plane.lonlat(*corners.T)
    all_xy = np.concatenate([plane.xy(lon, lat)[open_spots], corners])
    all_lon, all_lat = np.r_[lon[open_spots], corner_lon], np.r_[lat[open_spots], corner_lat]
    u, v = np.triu_indices(len(all_xy), k=1)
    clear = np.array(ground.crossed(all_xy[u], all_xy[v]), np.int64) < 0
    u, v = u[clear].astype(np.int64), v[clear].astype(np.int64)
    length_m = np.asarray(WGS84.inv(all_lon[u], all_lat[u], all_lon[v], all_lat[v])[2])
    nothing = np.full(2, np.nan)
    line = Line("", OFF_PATH, "all", None, False, nothing, nothing, nothing)
    pairs = np.column_stack([u, v]).ravel()
    network = Network(
        lines=(line,),
        lon=all_lon,
        lat=all_lat,
        height_m=np.full(len(all_lon), np.nan),
        u=u,
        v=v,
        line=np.zeros(len(u), np.int64),
        one_way=np.zeros(len(u), bool),
        length_m=length_m,
        up_m=np.zeros(len(u)),
        down_m=np.zeros(len(u)),
        offset=2 * np.arange(len(u) + 1),
        vertex_lon=all_lon[pairs],
        vertex_lat=all_lat[pairs],
        vertex_height_m=np.full(2 * len(u), np.nan),
    )
    return network, node
