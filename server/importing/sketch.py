"""A sketch map of what a file holds, beside what the trail has: an SVG in the page.

What is odd is marked by its shape and a word, not by colour alone; what is far away is drawn at
the edge, in its direction.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from layers.trail.importing.proposing.feature_questions import OUTLIER_M
from layers.trail.importing.proposing.features import Feature, FeatureProposal
from server.live.trail import LiveTrail

WIDTH, HEIGHT, MARGIN = 720, 480, 24
_M_PER_DEGREE = 111_320
"""At the equator; a sketch needs no better."""
MOST_SHOWN = 2000
BESIDE_DEGREES = 0.01
"""About a kilometre: boxes of the trail within it are on the sketch too."""


@dataclass(frozen=True)
class Mark:
    """A point of the sketch: `shape` is box, start, landmark or there (in the trail already)."""

    x: float
    y: float
    shape: str
    name: str
    odd: str


@dataclass(frozen=True)
class Line:
    """A path of the sketch."""

    points: str
    name: str
    new: bool
    odd: str


@dataclass(frozen=True)
class Sketch:
    """Marks and lines on a sheet of `WIDTH` by `HEIGHT`; `metres` is the length of its bar."""

    marks: tuple[Mark, ...]
    lines: tuple[Line, ...]
    metres: int
    bar: float
    width: int = WIDTH
    height: int = HEIGHT


def placed_boxes(live: LiveTrail) -> list[tuple[str, Any]]:
    """Id and point of the trail's boxes that have a place."""
    boxes = live.contents().ground.boxes
    pairs = zip(boxes["box"], boxes.geometry, strict=True)
    return [(box, point) for box, point in pairs if point is not None and not point.is_empty]


def sketch_of(
    proposal: FeatureProposal, *, boxes: Sequence[tuple[str, Any]], paths: Sequence[Any]
) -> Sketch | None:
    """The sketch; None where no place of the file could be read.

    Parameters
    ----------
    boxes
        Id and point of the trail's boxes.
    paths
        Lines of the trail's paths.
    """
    placed = [one for one in proposal.features if one.shapes][:MOST_SHOWN]
    near = [one for one in placed if "km away" not in one.odd] or placed
    if not near:
        return None
    shapes = [shape for one in near for shape in one.shapes]
    around = shapely.box(*shapely.GeometryCollection(shapes).bounds).buffer(BESIDE_DEGREES)
    shapes += [point for _, point in boxes if around.contains(point)]
    sheet = _Sheet(*shapely.GeometryCollection(shapes).bounds)
    shown = {one.name for one in placed}
    return Sketch(
        marks=(
            *(
                Mark(*sheet.at(point.x, point.y), "there", box, "")
                for box, point in boxes
                if box not in shown and sheet.holds(point.x, point.y)
            ),
            *_marks(placed, sheet),
        ),
        lines=(
            *(Line(sheet.line(path), "", False, "") for path in paths if sheet.meets(path)),
            *(
                Line(sheet.line(shape), one.name, True, one.odd)
                for one in placed
                for shape in one.shapes
                if shape.geom_type == "LineString"
            ),
        ),
        metres=sheet.bar_m,
        bar=round(sheet.bar_m * sheet.per_metre, 1),
    )


def sketch_of_visits(
    boxes: Sequence[tuple[str, Any]], *, visited: Collection[str]
) -> Sketch | None:
    """The trail's boxes, those with visits in a file marked; None where none has a place."""
    if not boxes:
        return None
    sheet = _Sheet(*shapely.GeometryCollection([point for _, point in boxes]).bounds)
    marks = (
        Mark(*sheet.at(point.x, point.y), "box" if box in visited else "there", box, "")
        for box, point in boxes[:MOST_SHOWN]
    )
    return Sketch(tuple(marks), (), sheet.bar_m, round(sheet.bar_m * sheet.per_metre, 1))


def _marks(placed: Sequence[Feature], sheet: _Sheet) -> Iterator[Mark]:
    for one in placed:
        for shape in one.shapes:
            if isinstance(shape, shapely.Point):
                kind = str(one.raw.get("kind")) if one.kind == "places" else "box"
                yield Mark(*sheet.at(shape.x, shape.y), kind, one.name, one.odd)


class _Sheet:
    """Places to points of the sheet, with equal scales in both directions."""

    def __init__(self, west: float, south: float, east: float, north: float) -> None:
        self._lon, self._lat = (west + east) / 2, (south + north) / 2
        self._across = _M_PER_DEGREE * max(math.cos(math.radians(self._lat)), 0.01)
        wide_m = max((east - west) * self._across, 100)
        high_m = max((north - south) * _M_PER_DEGREE, 100)
        self.per_metre = min((WIDTH - 4 * MARGIN) / wide_m, (HEIGHT - 4 * MARGIN) / high_m)
        longest_m = WIDTH / 4 / self.per_metre
        size = 10 ** math.floor(math.log10(longest_m))
        self.bar_m = int(max(n * size for n in (1, 2, 5) if n * size <= longest_m) or 1)

    def at(self, lon: float, lat: float) -> tuple[float, float]:
        """A point; at the edge where the place is outside."""
        x, y = self._free(lon, lat)
        return (
            round(min(max(x, MARGIN), WIDTH - MARGIN), 1),
            round(min(max(y, MARGIN), HEIGHT - MARGIN), 1),
        )

    def holds(self, lon: float, lat: float) -> bool:
        x, y = self._free(lon, lat)
        return 0 <= x <= WIDTH and 0 <= y <= HEIGHT

    def meets(self, line: Any) -> bool:
        return any(self.holds(lon, lat) for lon, lat, *_ in line.coords)

    def line(self, shape: Any) -> str:
        """The points of a line, as SVG has them."""
        found = (self._free(lon, lat) for lon, lat, *_ in shape.coords)
        limit = OUTLIER_M * self.per_metre
        return " ".join(f"{_kept(x, limit):.1f},{_kept(y, limit):.1f}" for x, y in found)

    def _free(self, lon: float, lat: float) -> tuple[float, float]:
        return (
            WIDTH / 2 + (lon - self._lon) * self._across * self.per_metre,
            HEIGHT / 2 - (lat - self._lat) * _M_PER_DEGREE * self.per_metre,
        )


def _kept(value: float, limit: float) -> float:
    return min(max(value, -limit), limit)
