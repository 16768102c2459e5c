"""The boxes nearest to a place along the paths, as records."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from layers.errors import BadValue
from layers.walking.distances import Walking
from layers.walking.network.attach import Site, attach
from layers.walking.pace import Pace
from server.live.contents import Contents
from server.nearest.view import near
from server.rounds.paths import paths_of


def near_walking(
    contents: Contents, *, lon: float, lat: float, k: int, pace: Pace, on: date
) -> list[dict[str, Any]]:
    """The `k` boxes nearest to a place along the paths open on a day, nearest first.

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
    ground = contents.ground
    if not ground.placed:
        return []
    paths = paths_of(ground, on)
    number = k
    while True:
        straight = near(ground, lon=lon, lat=lat, k=number)
        at = [ground.box(each["box"]) for each in straight]
        sites = [Site("here", lon, lat), *(Site(box["box"], box["lon"], box["lat"]) for box in at)]
        attached = attach(
            paths.network,
            sites,
            barriers=paths.barriers,
            open_ground=paths.open_ground(contents.settings),
        )
        if attached.reasons[0]:
            came = f"{lat}, {lon}: {attached.reasons[0]}"
            raise BadValue("a place that the paths can be reached from", came)
        walking = Walking(attached, pace)
        length_m, minutes = walking.length_m[0].tolist(), walking.minutes[0].tolist()
        found = [
            {"box": sites[n].name, "walk_m": round(length_m[n], 1), "minutes": round(minutes[n], 2)}
            for n in sorted(range(1, len(sites)), key=lambda n: length_m[n])
            if np.isfinite(length_m[n])
        ][:k]
        # No walk is shorter than the straight line, so no box beyond these can be nearer.
        enough = len(found) == k and found[-1]["walk_m"] <= straight[-1]["distance_m"]
        if enough or len(straight) < number:
            return found
        number *= 2
