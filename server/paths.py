"""The paths of a trail as a network, built once for as long as the paths stay as they are."""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from typing import Any
from weakref import WeakKeyDictionary

import geopandas as gpd
import numpy as np

from layers.errors import BadValue
from layers.walking.distances import Walking
from layers.walking.network.attach import Spot, attach
from layers.walking.network.barriers import Barrier, barriers_from
from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.network.lines import lines_from
from layers.walking.network.report import Report
from layers.walking.pace import Pace
from server.contents import Ground
from server.near import near


@dataclass(frozen=True, eq=False)
class Paths:
    """The network, what building it did, and what no leg off the path crosses."""

    network: Network
    report: Report
    barriers: tuple[Barrier, ...]

    @property
    def notes(self) -> list[str]:
        """What a walker should know of the paths; what was joined is the keeper's matter."""
        return replace(self.report, ends=(), merged=(), apart=()).sentences()


_BUILT: WeakKeyDictionary[Ground, Paths] = WeakKeyDictionary()
_BUILDING = threading.Lock()


def paths_of(ground: Ground) -> Paths:
    """The paths of a trail's ground.

    Kept with the ground, which a saved visit leaves as it is.
    """
    with _BUILDING:
        if ground not in _BUILT:
            barriers = barriers_from(ground.zones.to_dict("records"))
            _BUILT[ground] = Paths(*built(ground.paths), barriers)
        return _BUILT[ground]


def built(paths: gpd.GeoDataFrame) -> tuple[Network, Report]:
    """The network of a table of paths, and what building it did."""
    lines, unused = lines_from(paths.to_dict("records"))
    return build_network(lines, unused=unused)


def near_walking(
    ground: Ground, *, lon: float, lat: float, k: int, pace: Pace
) -> list[dict[str, Any]]:
    """The `k` boxes nearest to a place along the paths, nearest first.

    Boxes that cannot be reached are left out, so there may be fewer.

    Returns
    -------
    list of dict
        `box`, `walk_m` and `minutes` of the quickest way at the pace.

    Raises
    ------
    BadValue
        The place cannot be reached from the paths.
    """
    if not ground.placed:
        return []
    paths = paths_of(ground)
    number = k
    while True:
        straight = near(ground, lon=lon, lat=lat, k=number)
        at = [ground.box(each["box"]) for each in straight]
        spots = [Spot("here", lon, lat), *(Spot(box["box"], box["lon"], box["lat"]) for box in at)]
        attached = attach(paths.network, spots, barriers=paths.barriers)
        if attached.reasons[0]:
            came = f"{lat}, {lon}: {attached.reasons[0]}"
            raise BadValue("a place that the paths can be reached from", came)
        walking = Walking(attached, pace)
        length_m, minutes = walking.length_m[0].tolist(), walking.minutes[0].tolist()
        found = [
            {"box": spots[n].name, "walk_m": round(length_m[n], 1), "minutes": round(minutes[n], 2)}
            for n in sorted(range(1, len(spots)), key=lambda n: length_m[n])
            if np.isfinite(length_m[n])
        ][:k]
        # No walk is shorter than the straight line, so no box beyond these can be nearer.
        enough = len(found) == k and found[-1]["walk_m"] <= straight[-1]["distance_m"]
        if enough or len(straight) < number:
            return found
        number *= 2
