"""What lies between the paths of the invented reserve: water, woods, fields, buildings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import shapely.affinity

from data_demo.ground import drawn
from data_demo.ways import Corner


@dataclass(frozen=True)
class Zone:
    """One area; `shape` is a polygon in metres."""

    name: str
    kind: str
    detail: str | None
    shape: shapely.Geometry


@dataclass(frozen=True)
class Place:
    """One place; metres east and north."""

    name: str
    kind: str
    xy: Corner


PLACES = (
    Place("Car park", "start", (24, -474)),
    Place("Alder Barn", "start", (172, -338)),
    Place("Steep bank", "hazard", (40, 300)),
    Place("Bull field", "hazard", (330, -400)),
    Place("Deep mud", "hazard", (-300, -12)),
    Place("Hide", "landmark", (-328, -117)),
    Place("Old oak", "landmark", (60, 40)),
    Place("Footbridge", "landmark", (228, 148)),
    Place("Old mill", "landmark", (96, 214)),
)

_POND = (
    (-148, -52),
    (-112, -100),
    (-128, -168),
    (-184, -200),
    (-244, -186),
    (-296, -208),
    (-336, -176),
    (-322, -122),
    (-268, -104),
    (-240, -62),
    (-196, -36),
)
_ISLAND = ((-196, -118), (-174, -130), (-188, -150), (-214, -140))
_REEDS = (
    (-322, -52),
    (-282, -26),
    (-236, -24),
    (-200, -22),
    (-226, -60),
    (-256, -98),
    (-316, -116),
    (-346, -160),
    (-364, -120),
)
_BROOK = (
    (30, 600),
    (52, 520),
    (20, 450),
    (46, 372),
    (24, 300),
    (64, 226),
    (30, 150),
    (-4, 84),
    (-66, 40),
    (-96, -14),
    (-150, -64),
)
_OUTFLOW = ((-254, -184), (-300, -270), (-372, -330), (-390, -420), (-470, -520))
_WOOD = (
    (-610, 236),
    (-470, 206),
    (-330, 222),
    (-180, 196),
    (-40, 216),
    (60, 196),
    (150, 232),
    (300, 226),
    (440, 268),
    (500, 360),
    (470, 470),
    (340, 540),
    (150, 522),
    (-40, 556),
    (-240, 548),
    (-440, 530),
    (-560, 450),
    (-640, 340),
)
_CARR = (
    (-330, -300),
    (-296, -350),
    (-322, -430),
    (-396, -468),
    (-456, -440),
    (-440, -360),
    (-386, -306),
)
_BOBOLINK = ((-634, 88), (-566, 104), (-506, 74), (-500, 6), (-530, -62), (-590, -70), (-642, -14))

# Fields have corners.
_ORCHARD = ((350, 112), (526, 124), (546, -30), (540, -176), (470, -222), (384, -198), (346, -110))
_POND_FIELD = (
    (-640, 148),
    (-28, 118),
    (-52, 40),
    (-60, -230),
    (-20, -330),
    (-160, -420),
    (-640, -300),
)
_LONG_FIELD = (
    (-6, 118),
    (206, 132),
    (214, 40),
    (176, -80),
    (172, -196),
    (104, -296),
    (58, -372),
    (-6, -322),
    (-42, -226),
    (-34, 40),
)
_EAST_FIELD = (
    (258, 134),
    (330, 146),
    (284, 60),
    (316, -20),
    (300, -120),
    (330, -226),
    (282, -248),
    (226, -190),
    (226, -70),
)
_BULL_FIELD = ((262, -350), (352, -328), (452, -272), (560, -300), (600, -444), (300, -478))

# Hedges: a line and half the width in metres.
_HEDGES = (
    (
        "North Hedge",
        (
            (-640, 194),
            (-520, 166),
            (-400, 178),
            (-280, 164),
            (-140, 174),
            (-20, 158),
            (100, 174),
            (200, 172),
        ),
        3.0,
    ),
    ("North Hedge", ((256, 176), (340, 192), (430, 174), (530, 196), (640, 174)), 3.0),
    ("Orchard Hedge", ((254, 124), (258, 30), (222, -76), (220, -184), (280, -250)), 2.0),
    ("Lane Hedge", ((30, -440), (46, -374), (98, -286), (160, -200)), 2.0),
    ("West Hedge", ((-648, 140), (-656, 0), (-640, -150), (-648, -300)), 2.2),
    ("South Hedge", ((-640, -312), (-500, -340), (-440, -330)), 2.0),
    ("Bull Field Hedge", ((292, -482), (276, -420), (256, -346)), 2.0),
)

# Buildings: middle, length and depth in metres, turned by degrees.
_BUILDINGS = (
    ("Alder Barn", (196, -324), 26, 13, 18),
    ("Tool shed", (214, -348), 9, 6, 18),
    ("Old mill", (104, 204), 15, 10, -35),
    ("Hide", (-326, -119), 6, 4, 40),
)


def draw_land(random: np.random.Generator) -> list[Zone]:
    """Every zone, large ones first so that small ones lie on top of them."""

    def area(corners: Sequence[Corner]) -> shapely.Polygon:
        return shapely.Polygon(drawn(corners, random=random, ring=True))

    def field(corners: Sequence[Corner]) -> shapely.Geometry:
        return shapely.Polygon(corners).buffer(-9).buffer(9).simplify(0.2)

    def strip(corners: Sequence[Corner], half_width_m: float) -> shapely.Geometry:
        band = shapely.LineString(drawn(corners, random=random)).buffer(half_width_m)
        return band.simplify(0.3)

    pond = area(_POND).difference(area(_ISLAND))
    zones = [
        Zone("Mill Wood", "habitat", "wood", area(_WOOD)),
        Zone("Pond Meadow", "habitat", "meadow", field(_POND_FIELD)),
        Zone("Long Meadow", "habitat", "meadow", field(_LONG_FIELD)),
        Zone("Hedge Meadow", "habitat", "meadow", field(_EAST_FIELD)),
        Zone("Bull Field", "habitat", "pasture", field(_BULL_FIELD)),
        Zone("Orchard", "habitat", "orchard", field(_ORCHARD)),
        Zone("Alder Carr", "habitat", "wood", area(_CARR)),
        Zone("Reedbed", "habitat", "reeds", area(_REEDS)),
        *(Zone(name, "habitat", "hedge", strip(line, half)) for name, line, half in _HEDGES),
        Zone("Alder Brook", "water", "brook", strip(_BROOK, 1.8)),
        Zone("Alder Brook", "water", "brook", strip(_OUTFLOW, 2.2)),
        Zone("Alder Pond", "water", "pond", pond),
        Zone(
            "Bobolink field",
            "keep_out",
            "birds nest on the ground here, May to July",
            area(_BOBOLINK),
        ),
    ]
    for name, (x, y), length_m, depth_m, turn_deg in _BUILDINGS:
        block = shapely.box(-length_m / 2, -depth_m / 2, length_m / 2, depth_m / 2)
        turned = shapely.affinity.rotate(block, turn_deg)
        zones.append(Zone(name, "building", None, shapely.affinity.translate(turned, x, y)))
    return zones
