"""What a keeper should read before her trail is public: what her rules give away, in metres.

For the keeper alone: it is computed from the true places.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import geopandas as gpd
import numpy as np
import shapely

from layers.publishing.attack import METRES_PER_DEGREE, Plane, find_boxes
from layers.publishing.layout import Layout
from layers.publishing.values import Cell, PublicView
from layers.publishing.view import UNNAMED
from layers.trail.public_rules import PublicRules
from layers.words import format_length

NEAR_PATH_M = 100.0
"""A released path that passes a box nearer than this leads to it (our choice)."""

_PATHS_KM_PER_KM2 = (2.0, 4.0)
"""Length of paths in a square kilometre that is walked to look for boxes (assumed)."""
_PACE_KMH = 4.0
"""A searcher's pace (assumed)."""


def cautions(
    view: PublicView,
    layout: Layout,
    boxes: gpd.GeoDataFrame,
    rules: PublicRules,
    *,
    published_before: Mapping[str, float],
) -> tuple[str, ...]:
    """Sentences for the keeper of a trail; the first says what strangers come to know.

    Parameters
    ----------
    layout
        The square of each box in the view.
    published_before
        For boxes that were published in a smaller square before: its size in degrees.
    """
    places = _places(boxes)
    placed = {box: places[box] for box in layout.cell_of_box}
    if not view.cells or not placed:
        return ()
    return (
        *_what_is_known(view, layout, placed),
        *_of_squares(view),
        *_of_the_name(view, layout, rules),
        *_of_paths(view, places),
        *_of_earlier_releases(published_before),
    )


def _places(boxes: gpd.GeoDataFrame) -> dict[str, tuple[float, float]]:
    return {
        box: (point.x, point.y)
        for box, point in zip(boxes["box"], boxes.geometry, strict=True)
        if point is not None and not point.is_empty
    }


def _what_is_known(
    view: PublicView, layout: Layout, placed: Mapping[str, tuple[float, float]]
) -> Iterator[str]:
    names = {box: cell.name for box, cell in layout.cell_of_box.items()}
    found = find_boxes(view.cells, placed, names, view.paths)
    cell = max(view.cells, key=lambda one: one.uncertainty_m)
    number = f"your {len(placed)} boxes are" if len(placed) > 1 else "your box is"
    where = (
        f"within {format_length(cell.uncertainty_m)} of one point"
        if layout.reach_m is not None
        else f"each within {format_length(cell.uncertainty_m)} of the middle of its square"
    )
    yield (
        f"Strangers will know that {number} {where}. A square is {_sides(cell)}: about "
        f"{walking_time(cell)} of walking along all of its paths. The best guess from all that is "
        f"published ({found.way}) misses a box by {format_length(found.error_m)} in the median; "
        f"with the square alone it would be {format_length(found.alone_m)}."
    )
    if view.paths and found.gives_away:
        yield (
            "Take care: the released paths lead strangers to your boxes. Release no paths, or "
            "larger squares."
        )
    if layout.reach_m is not None:
        yield (
            "Your trail is short beside a square, so it is shown as one square, and all of its "
            "numbers are for the whole trail."
        )


def _of_squares(view: PublicView) -> Iterator[str]:
    single = sum(cell.boxes == 1 for cell in view.cells)
    if single:
        squares = "one square holds" if single == 1 else f"{single} squares hold"
        yield (
            f"Take care: {squares} a single box: what is published of it is of that box. "
            "A larger square (--public cell=…) or hiding it (--public-box BOX=hidden) ends that."
        )
    if view.cell_deg <= 0.001:
        yield (
            "Take care: in a square of 0.001° the middle is about 35 m from a box in the median: "
            "who walks there sees it. Use this only for boxes that everybody may find."
        )


def _of_the_name(view: PublicView, layout: Layout, rules: PublicRules) -> Iterator[str]:
    if layout.hides_ground:
        yield (
            f"The public pages are called '{view.trail}'. "
            + ("Give them a name with --public name=…; " if view.trail == UNNAMED else "")
            + "A name of a reserve, a wood or a village can be looked up and is then finer than "
            "the square: choose one that holds for the whole square."
        )
        if rules.released:
            yield (
                "The map's released paths, places and zones are not shown while the trail is "
                "coarse: they would show where in its square it is."
            )


def _of_paths(view: PublicView, places: Mapping[str, tuple[float, float]]) -> Iterator[str]:
    if not view.paths:
        return
    plane = Plane(view.cells[0].lon, view.cells[0].lat)
    points = shapely.points(plane.metres(*np.array(list(places.values())).T))
    near = [
        (path.name or "a path without a name", int(count))
        for path in view.paths
        for line in [shapely.linestrings(plane.metres(*np.array(path.line.coords).T))]
        if (count := np.count_nonzero(shapely.distance(points, line) < NEAR_PATH_M))
    ]
    if near:
        listed = ", ".join(f"{name} ({count})" for name, count in near)
        yield (
            f"Take care: released paths pass within {format_length(NEAR_PATH_M)} of boxes, hidden "
            f"ones counted too: {listed}. Whoever walks them comes past these boxes."
        )


def _of_earlier_releases(published_before: Mapping[str, float]) -> Iterator[str]:
    if published_before:
        finest_deg = min(published_before.values())
        # Half the diagonal of a square on the equator, the longest there is.
        near_m = finest_deg * METRES_PER_DEGREE * 0.5**0.5
        boxes = "1 box was" if len(published_before) == 1 else f"{len(published_before)} boxes were"
        yield (
            f"Take care: {boxes} published earlier to within {format_length(near_m)}. Copies of "
            "those pages cannot be taken back: move these boxes if they must not be found."
        )


def _sides(cell: Cell) -> str:
    plane = Plane(cell.lon, cell.lat)
    half = cell.size_deg / 2
    east, north = plane.metres(np.array([cell.lon + half]), np.array([cell.lat + half]))[0] * 2
    return f"{format_length(east)} by {format_length(north)}"


def walking_time(cell: Cell) -> str:
    """How long all paths of a square take to walk, as `30 to 60 minutes`."""
    plane = Plane(cell.lon, cell.lat)
    half = cell.size_deg / 2
    east, north = plane.metres(np.array([cell.lon + half]), np.array([cell.lat + half]))[0] * 2
    hours = [east * north / 1e6 * density / _PACE_KMH for density in _PATHS_KM_PER_KM2]
    if hours[1] < 2:
        return " to ".join(f"{max(1, round(hour * 60))}" for hour in hours) + " minutes"
    return " to ".join(f"{hour:.0f}" for hour in hours) + " hours"
