"""Places along paths, and which of them lie farthest from what is there already."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from layers.errors import BadValue
from layers.walking.nearest import WGS84, NearestBoxes


@dataclass(frozen=True)
class Candidates:
    """Places on paths, in degrees on WGS84, and the position of the path of each."""

    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    path: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.lon)

    def take(self, chosen: NDArray[np.bool_]) -> Candidates:
        """Some of them."""
        return Candidates(self.lon[chosen], self.lat[chosen], self.path[chosen])


def candidates_along(paths: Iterable[LineString | None], *, every_m: float) -> Candidates:
    """Places along paths, `every_m` apart on the ground and one at each end.

    Raises
    ------
    BadValue
        `every_m` is not above 0.
    """
    if not every_m > 0:
        raise BadValue("a distance above 0 m", repr(every_m), column="every_m")
    lons, lats, of = [], [], []
    for position, line in enumerate(paths):
        if line is None or line.is_empty:
            continue
        lon, lat = np.asarray(line.coords)[:, :2].T
        _, _, steps = WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
        along = np.concatenate([[0.0], np.cumsum(steps)])
        wanted = np.append(np.arange(0.0, along[-1], every_m), along[-1])
        # Between two points of a path a straight line in degrees is near enough for a candidate.
        lons.append(np.interp(wanted, along, lon))
        lats.append(np.interp(wanted, along, lat))
        of.append(np.full(len(wanted), position))
    if not lons:
        return Candidates(np.empty(0), np.empty(0), np.empty(0, np.int64))
    return Candidates(np.concatenate(lons), np.concatenate(lats), np.concatenate(of))


def farthest_first(
    candidates: Candidates, taken: NearestBoxes, *, apart_m: float, most: int
) -> list[tuple[int, float]]:
    """Candidates at least `apart_m` from every taken place and from each other, farthest first.

    Each is the one farthest from what is taken, those chosen before it among them (the first
    of several as far). Choosing so, no candidate that is left lies farther from all of them than
    the last one chosen did (Gonzalez 1985, Theoretical Computer Science 38:293-306; from memory).

    Parameters
    ----------
    taken
        Places that are taken; may be none.
    most
        How many candidates at most.

    Returns
    -------
    list of (int, float)
        Position in `candidates`, and distance in metres to the nearest place taken or chosen
        before; infinite for the first where nothing is taken.
    """
    away_m = np.full(len(candidates), np.inf)
    if len(taken):
        away_m = np.array(
            [
                taken.query(x, y, k=1).distance_m[0]
                for x, y in zip(candidates.lon.tolist(), candidates.lat.tolist(), strict=True)
            ]
        )
    chosen: list[tuple[int, float]] = []
    while len(chosen) < most and len(candidates):
        best = int(np.argmax(away_m))
        if away_m[best] < apart_m:
            break
        chosen.append((best, float(away_m[best])))
        here = (
            np.full(len(candidates), candidates.lon[best]),
            np.full(len(candidates), candidates.lat[best]),
        )
        _, _, distance = WGS84.inv(*here, candidates.lon, candidates.lat)
        # A candidate is taken once, also where two lie on one place.
        away_m = np.minimum(away_m, np.where(distance == 0.0, -1.0, distance))
    return chosen
