"""The paths of the invented reserve, drawn as a keeper would draw them.

Some ends stop half a metre to three metres short of the path they should meet, paths
cross without a common point, one line loops back onto itself, and a footbridge passes
over a lane.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from data_demo.ground import BRIDGE_XY, drawn, height_m, sunken_m

Corner = tuple[float, float]

_BRIDGE_HALF_M = 16.0


@dataclass(frozen=True)
class Way:
    """One path.

    Attributes
    ----------
    corners
        What the line is drawn through.
    starts_on, ends_on
        The path that an end should meet: the end goes to its nearest point.
    start_gap_m, end_gap_m
        How far short of that point the line stops.
    """

    name: str
    corners: tuple[Corner, ...]
    kind: str = "path"
    open_to: str = "all"
    level: int = 0
    ring: bool = False
    starts_on: str | None = None
    ends_on: str | None = None
    start_gap_m: float = 0.0
    end_gap_m: float = 0.0


_BX, _BY = BRIDGE_XY

WAYS = (
    Way(
        "County Road",
        ((-700, -486), (-420, -500), (-150, -478), (60, -492), (330, -505), (700, -470)),
        kind="road",
    ),
    Way(
        "Hollow Lane",
        (
            (52, -470),
            (62, -400),
            (118, -300),
            (188, -205),
            (196, -90),
            (232, 20),
            (_BX, _BY),
            (262, 245),
            (348, 345),
            (362, 450),
            (430, 556),
        ),
        kind="track",
        starts_on="County Road",
    ),
    Way(
        "Pond Loop",
        (
            (-86, -150),
            (-70, -70),
            (-128, -8),
            (-224, 8),
            (-316, -14),
            (-384, -74),
            (-398, -158),
            (-340, -232),
            (-236, -262),
            (-138, -234),
        ),
        ring=True,
    ),
    Way(
        "Pond Approach",
        ((66, -390), (10, -352), (-46, -290), (-100, -236)),
        starts_on="Hollow Lane",
        ends_on="Pond Loop",
        end_gap_m=1.6,
    ),
    Way(
        "Hide Spur",
        ((-388, -90), (-352, -98), (-330, -116)),
        starts_on="Pond Loop",
        start_gap_m=0.8,
    ),
    Way(
        "Hedge Walk West",
        (
            (-628, 172),
            (-520, 142),
            (-400, 156),
            (-270, 138),
            (-140, 152),
            (-10, 134),
            (110, 152),
            (_BX - _BRIDGE_HALF_M, _BY - 1),
        ),
    ),
    Way(
        "Footbridge",
        ((_BX - _BRIDGE_HALF_M, _BY - 1), (_BX, _BY), (_BX + _BRIDGE_HALF_M, _BY + 1)),
        kind="bridge",
        level=1,
    ),
    Way(
        "Hedge Walk East",
        (
            (_BX + _BRIDGE_HALF_M, _BY + 1),
            (330, 168),
            (430, 150),
            (520, 172),
            (634, 150),
        ),
    ),
    Way(
        "Meadow Path",
        ((-84, -40), (-40, 10), (-58, 66), (-20, 132)),
        starts_on="Pond Loop",
        ends_on="Hedge Walk West",
        end_gap_m=2.4,
    ),
    Way(
        "West Path",
        ((-470, 150), (-436, 70), (-452, 0), (-420, -70), (-396, -118)),
        starts_on="Hedge Walk West",
        ends_on="Pond Loop",
        start_gap_m=1.1,
    ),
    Way(
        "Brook Path",
        ((-262, -262), (-330, -318), (-352, -392), (-436, -438)),
        starts_on="Pond Loop",
        start_gap_m=0.6,
    ),
    Way(
        "Orchard Loop",
        (
            (520, 168),
            (566, 92),
            (548, -10),
            (582, -110),
            (540, -212),
            (440, -252),
            (352, -214),
            (318, -120),
            (336, -20),
            (302, 60),
            (352, 162),
        ),
        starts_on="Hedge Walk East",
        ends_on="Hedge Walk East",
        end_gap_m=2.8,
    ),
    Way(
        "Orchard Row",
        ((206, -60), (290, -82), (400, -52), (500, -86), (640, -58)),
        starts_on="Hollow Lane",
    ),
    Way(
        "Orchard Link",
        ((190, -190), (250, -212), (352, -214)),
        starts_on="Hollow Lane",
        ends_on="Orchard Loop",
        start_gap_m=0.9,
        end_gap_m=1.9,
    ),
    Way(
        "Barn Path",
        ((98, -334), (160, -350), (250, -330), (340, -308), (432, -256)),
        open_to="team",
        starts_on="Hollow Lane",
        ends_on="Orchard Loop",
    ),
    Way(
        "Mill Wood Round",
        (
            (-256, 140),
            (-236, 208),
            (-262, 286),
            (-348, 322),
            (-420, 386),
            (-392, 470),
            (-290, 498),
            (-190, 466),
            (-148, 390),
            (-188, 318),
            (-262, 286),
        ),
        starts_on="Hedge Walk West",
    ),
    Way(
        "Wood Walk",
        ((330, 326), (252, 356), (176, 330), (92, 382), (0, 408), (-76, 372), (-150, 384)),
        starts_on="Hollow Lane",
        ends_on="Mill Wood Round",
        start_gap_m=1.3,
        end_gap_m=2.2,
    ),
    Way(
        "Ridge Path",
        ((130, 356), (150, 430), (240, 478), (360, 462)),
        starts_on="Wood Walk",
        ends_on="Hollow Lane",
        start_gap_m=0.7,
    ),
    Way(
        "Mill Spur",
        ((56, 396), (70, 330), (58, 270), (84, 222)),
        starts_on="Wood Walk",
    ),
    Way(
        "Old Bobolink Path",
        ((-444, 44), (-520, 30), (-604, 52)),
        open_to="closed",
        starts_on="West Path",
    ),
)


@dataclass(frozen=True)
class DrawnWay:
    """A path with its line: x, y and height in metres, shape (n, 3)."""

    way: Way
    line: shapely.LineString


def draw_ways(random: np.random.Generator) -> dict[str, DrawnWay]:
    """Every path by name, in the order of `WAYS`."""
    lines: dict[str, shapely.LineString] = {}
    for way in WAYS:
        corners = list(way.corners)
        if way.starts_on is not None:
            corners[0] = _nearest(lines[way.starts_on], corners[0])
        if way.ends_on is not None:
            corners[-1] = _nearest(lines[way.ends_on], corners[-1])
        line = shapely.LineString(drawn(corners, random=random, ring=way.ring))
        if way.starts_on is not None:
            line = _stopping_short(line, of=lines[way.starts_on], gap_m=way.start_gap_m)
        if way.ends_on is not None:
            line = _stopping_short(line, of=lines[way.ends_on], gap_m=way.end_gap_m)
        lines[way.name] = line
    return {way.name: DrawnWay(way, _with_heights(way, lines[way.name])) for way in WAYS}


def _nearest(line: shapely.LineString, corner: Corner) -> Corner:
    x, y = shapely.get_coordinates(line.interpolate(line.project(shapely.Point(corner))))[0]
    return float(x), float(y)


def _stopping_short(
    line: shapely.LineString, *, of: shapely.LineString, gap_m: float
) -> shapely.LineString:
    """The line without what lies nearer than `gap_m` to the path at its end."""
    if gap_m == 0.0:
        return line
    parts: list[shapely.LineString] = shapely.get_parts(line.difference(of.buffer(gap_m))).tolist()
    return max(parts, key=lambda part: part.length)


def _with_heights(way: Way, line: shapely.LineString) -> shapely.LineString:
    xy: NDArray[Any] = shapely.get_coordinates(line)
    heights = height_m(xy)
    if way.name == "Hollow Lane":
        heights = heights - sunken_m(xy)
    return shapely.LineString(np.column_stack([xy, np.round(heights, 1)]))
