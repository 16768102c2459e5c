"""Questions about boxes and paths of a file: waypoints, places far away, the system."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain

import numpy as np
import shapely
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

from layers.errors import Fault
from layers.trail.importing.cells import is_blank
from layers.trail.importing.coordinates import SourceLocation, middle_of
from layers.trail.importing.proposing.answers import LEAVE_OUT, Place, Question, Settled
from layers.trail.importing.proposing.vocabulary import fold, words
from layers.trail.importing.shapes import shape_of
from layers.trail.importing.source import Row, Table
from layers.trail.words import plain_id

OUTLIER_M = 20_000
"""Farther from the middle of a file's places than this, and `_TIMES_FARTHER` the usual; common
practice, no source."""
_TIMES_FARTHER = 10

BOX, RIGHT, APART = "box", "right", "another box"
TARGETS: Mapping[str, str] = {BOX: "boxes", "start": "places", "landmark": "places"}
_GEOD = Geod(ellps="WGS84")


@dataclass
class Feature:
    """One feature as it was read.

    Attributes
    ----------
    kind
        The table that it goes to; None where it is left out.
    raw
        Cells by our names of that table.
    shapes
        Where it is, in longitude and latitude; empty where that could not be read.
    open
        Questions that must be answered before it can be added.
    faults
        Why it cannot be added at all.
    odd
        What marks it on the map; empty where nothing does.
    """

    row: Row
    name: str
    kind: str | None
    raw: dict[str, object]
    place: Place
    shapes: list[BaseGeometry] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    faults: tuple[Fault, ...] = ()
    odd: str = ""


def ask_about_waypoints(
    features: Sequence[Feature], settled: Settled, *, boxes: Iterable[str]
) -> None:
    """Ask what waypoints are that are named unlike the boxes among them."""
    known = {fold(box) for box in boxes}
    numbered = sum(any(c.isdigit() for c in one.name) for one in features)
    for one in features:
        if is_blank(one.raw.get("box")):
            one.kind, one.odd = None, f"{one.name}: a waypoint without a name"
            continue
        like_a_box = any(c.isdigit() for c in one.name) or fold(one.name) in known
        likely = _likely_place(one.name)
        if likely is None and (like_a_box or numbered * 2 < len(features)):
            target = settled.answer("waypoints", one.name)
            if target is None:
                continue
        answer = settled.ask(
            Question(
                "waypoints",
                one.name,
                f"Is the waypoint {one.name!r} a box?",
                {
                    BOX: "yes, a box",
                    "start": "no, a place where rounds start",
                    "landmark": "no, a landmark",
                    LEAVE_OUT: "no, leave it out",
                },
                proposal=likely or "landmark",
                grounds="its name is unlike those of the boxes",
            ),
            one.place,
        )
        if answer is None:
            one.open.append(f"waypoints: {one.name}")
            one.odd = one.odd or "perhaps no box"
        elif answer == LEAVE_OUT:
            one.kind, one.odd = None, f"{one.name}: you left it out"
        elif answer != BOX:
            one.kind = TARGETS[answer]
            one.raw = {"name": one.name, "kind": answer}


def ask_about_alike(
    features: Sequence[Feature], settled: Settled, *, boxes: Iterable[str]
) -> frozenset[str]:
    """Ask about ids that read like that of another box; gives those that are other boxes."""
    held = set(boxes)
    first = {plain_id(box): box for box in held}
    apart = set()
    for one in features:
        if one.kind != "boxes" or is_blank(one.raw.get("box")) or one.name in held:
            continue
        plain = plain_id(one.name)
        alike = first.setdefault(plain, one.name)
        if not plain or alike == one.name:
            continue
        answer = settled.ask(
            Question(
                "boxes",
                one.name,
                f"Is {one.name!r} the box {alike!r}?",
                {
                    alike: f"yes, it is box {alike}",
                    APART: "no, it is another box",
                    LEAVE_OUT: "leave it out",
                },
                proposal=alike,
                grounds="the ids differ only in capital letters, blanks, signs or leading zeros",
            ),
            one.place,
        )
        if answer is None:
            one.open.append(f"boxes: {one.name}")
            one.odd = one.odd or f"perhaps box {alike}"
        elif answer == LEAVE_OUT:
            one.kind, one.odd = None, f"{one.name}: you left it out"
        elif answer == APART:
            apart.add(one.name)
        else:
            one.raw["box"] = one.name = answer
    return frozenset(apart)


def ask_about_far(
    features: Sequence[Feature], settled: Settled, near: SourceLocation | None
) -> None:
    """Ask about places far from the trail, or from the others of the file."""
    placed = [one for one in features if one.shapes and one.kind is not None]
    if not placed or any(one.open and "columns" in one.open[0] for one in placed):
        return
    firsts = [shapely.get_coordinates(one.shapes[0])[0] for one in placed]
    *_, away_m = middle_of(np.array(firsts))
    usual = max(OUTLIER_M, _TIMES_FARTHER * float(np.median(away_m)))
    for one, place, from_middle in zip(placed, firsts, away_m.tolist(), strict=True):
        distance_m = 0.0
        if near is not None:
            from_trail = _GEOD.inv(near.lon, near.lat, *place)[2]
            distance_m = from_trail if from_trail > near.near_m else 0.0
        if len(placed) > 2 and from_middle > usual:
            distance_m = max(distance_m, from_middle)
        if not distance_m:
            continue
        one.odd = f"{distance_m / 1000:,.0f} km away"
        answer = settled.ask(
            Question(
                "places",
                "far away",
                f"Some places are far from the others, such as {one.name!r}:"
                f" {distance_m / 1000:,.0f} km. Are they right?",
                {
                    LEAVE_OUT: "no, leave these out",
                    RIGHT: "yes, they are there",
                },
                proposal=LEAVE_OUT,
                grounds="a minus sign, the reference system or a decimal point may be wrong",
            ),
            one.place,
        )
        if answer is None:
            one.open.append("places: far away")
        elif answer == LEAVE_OUT:
            one.kind, one.odd = None, f"{one.name}: {one.odd}"


def in_degrees(table: Table, near: SourceLocation | None) -> bool:
    """Whether the first shape of a table of text is near the trail as it is written."""
    first = next(table.rows, None)
    table.rows = chain(() if first is None else (first,), table.rows)
    if near is None or not isinstance(first, Row):
        return False
    try:
        shape = shape_of(str(first.cells[table.header.index("geometry")]))
        lon, lat = shapely.get_coordinates(shape)[0]
    except (shapely.errors.ShapelyError, IndexError):
        return False
    fits = abs(lon) <= 180 and abs(lat) <= 90
    return bool(fits and _GEOD.inv(near.lon, near.lat, lon, lat)[2] <= near.near_m)


def systems_of(near: SourceLocation | None) -> dict[str, str]:
    """Systems that trails near a place are often mapped in: its zone of UTM on two datums."""
    if near is None:
        return {}
    zone = int((near.lon + 180) // 6) + 1
    found = {f"EPSG:{32600 + zone if near.lat >= 0 else 32700 + zone}": "WGS 84"}
    if -130 < near.lon < -60 and near.lat > 15:
        found[f"EPSG:{26900 + zone}"] = "NAD83"
    if -12 < near.lon < 45 and near.lat > 34:
        found[f"EPSG:{25800 + zone}"] = "ETRS89"
    side = "N" if near.lat >= 0 else "S"
    return {code: f"{code}, {datum}, UTM zone {zone}{side}" for code, datum in found.items()}


def _likely_place(name: str) -> str | None:
    """What a waypoint is by the words of its name; None where they say nothing."""
    parts = fold(name).split()
    known = words("waypoints")
    for length in (2, 1):
        for at in range(len(parts)):
            if meant := known.get(" ".join(parts[at : at + length])):
                return meant
    return None
