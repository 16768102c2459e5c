"""Where boxes stand: beside paths, apart from each other, on firm and open ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from random import Random

import shapely

from data_demo.land import Zone
from data_demo.ways import DrawnWay

# Boxes stand at least so far apart, pairs aside, and so far from paths.
_APART_M = 55.0
_PAIR_APART_M = 7.0
_NEAREST_TO_PATH_M = 2.0
_FARTHEST_FROM_PATH_M = 25.0
_USUAL_FROM_PATH_M = 5.0
_TRIES = 400


class Sites:
    """Finds sites one section after another, each apart from all before."""

    def __init__(self, ways: Sequence[DrawnWay], zones: Sequence[Zone], *, random: Random) -> None:
        self._random = random
        self._paths = shapely.union_all([shapely.force_2d(drawn.line) for drawn in ways])
        self._no_box = shapely.union_all(
            [shapely.buffer(zone.shape, 3.0) for zone in zones if zone.kind != "habitat"]
        )
        self._taken: list[shapely.Point] = []

    def along(self, ways: Sequence[DrawnWay], *, count: int) -> list[shapely.Point]:
        """`count` sites spread evenly along paths, in walking order; metres."""
        lines = [shapely.force_2d(drawn.line) for drawn in ways]
        step_m = sum(line.length for line in lines) / count
        return [self._site(lines, (i + 0.5) * step_m, step_m) for i in range(count)]

    def beside(self, site: shapely.Point) -> shapely.Point:
        """The site of a second box that makes a pair with another."""
        for _ in range(_TRIES):
            turn = self._random.uniform(0.0, 2 * math.pi)
            point = shapely.Point(
                site.x + _PAIR_APART_M * math.cos(turn), site.y + _PAIR_APART_M * math.sin(turn)
            )
            if self._fits(point):
                self._taken.append(point)
                return point
        raise RuntimeError(f"no ground for a second box beside {site.wkt}")

    def _site(
        self, lines: Sequence[shapely.LineString], at_m: float, step_m: float
    ) -> shapely.Point:
        for attempt in range(_TRIES):
            # The longer the search, the farther along the path it may wander.
            wander_m = step_m * (0.15 + 0.6 * attempt / _TRIES)
            point = self._beside_path(lines, at_m + self._random.uniform(-wander_m, wander_m))
            if self._fits(point) and all(
                point.distance(other) >= _APART_M for other in self._taken
            ):
                self._taken.append(point)
                return point
        raise RuntimeError(f"no ground for a box {at_m:.0f} m along {len(lines)} paths")

    def _beside_path(self, lines: Sequence[shapely.LineString], at_m: float) -> shapely.Point:
        left_m = max(0.0, at_m)
        for line in lines:
            if left_m <= line.length:
                break
            left_m -= line.length
        left_m = min(left_m, line.length - 1.0)
        here, ahead = line.interpolate(left_m), line.interpolate(left_m + 1.0)
        away_m = self._random.triangular(
            _NEAREST_TO_PATH_M, _FARTHEST_FROM_PATH_M, _USUAL_FROM_PATH_M
        ) * self._random.choice((-1, 1))
        east, north = ahead.x - here.x, ahead.y - here.y
        length = math.hypot(east, north)
        return shapely.Point(here.x - away_m * north / length, here.y + away_m * east / length)

    def _fits(self, point: shapely.Point) -> bool:
        away_m = point.distance(self._paths)
        beside_a_path = _NEAREST_TO_PATH_M <= away_m <= _FARTHEST_FROM_PATH_M
        return beside_a_path and not point.intersects(self._no_box)
