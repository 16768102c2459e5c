"""Paths as they were drawn or recorded: the input of a network."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.errors import BadValue
from layers.trail.recurring import is_among
from layers.words import format_day

Floats = NDArray[np.float64]

OFF_PATH = "off path"
"""Kind of the one line that all straight legs of a trail without paths are part of."""

ONE_WAY = re.compile(r"\bone[ -]way\b", re.IGNORECASE)
"""The table of paths has no column for it, so the words "one way" or "one-way" in a path's
kind say that it is walked only in the direction in which it was drawn."""


@dataclass(frozen=True)
class Line:
    """One path as drawn.

    Attributes
    ----------
    name, kind
        As stored; empty text where not given.
    open_to
        "all", "team" or "closed"; a path that does not say is open to all.
    level
        0 on the ground, 1 on a bridge, -1 beneath; None where the path does not say.
    one_way
        Whether it may be walked only in the direction it was drawn.
    lon, lat
        Degrees on WGS84, one value per vertex, at least two different vertices.
    height_m
        Height per vertex; all NaN where the path has none.
    """

    name: str
    kind: str
    open_to: str
    level: int | None
    one_way: bool
    lon: Floats
    lat: Floats
    height_m: Floats

    @property
    def effective_level(self) -> int:
        """The level, a path that does not say being on the ground."""
        return self.level or 0

    @property
    def has_heights(self) -> bool:
        return bool(np.isfinite(self.height_m).all())


@dataclass(frozen=True)
class Unused:
    """A path, or part of one, that cannot be walked on, and why."""

    name: str
    reason: str


def lines_from(
    rows: Iterable[Mapping[str, Any]], *, on: date | None = None
) -> tuple[tuple[Line, ...], tuple[Unused, ...]]:
    """The paths of a trail as lines, and those that are no line.

    Parameters
    ----------
    on
        The day they are walked: a path that is closed then is not used. None = any day.
    rows
        One mapping per path with the columns of the table of paths and its shape under
        `geometry`, such as `frame.to_dict("records")`. A multi-part shape gives a line
        for each part. `ONE_WAY` says which paths are one-way. Heights that are 0
        throughout are taken for missing, as many programs write 0 for "none".
    """
    lines, unused = [], []
    for number, row in enumerate(rows, start=1):
        name = _text(row.get("name")) or f"path {number}"
        if on is not None and closed_on(row, on):
            unused.append(Unused(name, f"it is closed on {format_day(on)}"))
            continue
        for part in shapely.get_parts(row.get("geometry")):
            line = _line(name, row, part)
            if isinstance(line, Unused):
                unused.append(line)
            else:
                lines.append(line)
        if shapely.is_missing(row.get("geometry")) or shapely.is_empty(row.get("geometry")):
            unused.append(Unused(name, "it has no shape"))
    return tuple(lines), tuple(unused)


def closed_on(row: Mapping[str, Any], on: date) -> bool:
    """Whether a path or a zone is closed on a day of its `closed_when`.

    What cannot be read closes it always: `check` names it.
    """
    text = _text(row.get("closed_when"))
    try:
        return bool(text) and is_among(on, text)
    except BadValue:
        return True


def _line(name: str, row: Mapping[str, Any], part: BaseGeometry) -> Line | Unused:
    if part.geom_type not in ("LineString", "LinearRing"):
        return Unused(name, f"it is a {part.geom_type}, not a line")
    lon, lat, height = shapely.get_coordinates(part, include_z=True).T
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        return Unused(name, "a vertex has no position")
    if (np.abs(lat) > 90.0).any() or (np.abs(lon) > 360.0).any():
        return Unused(name, "a vertex is not on earth: longitude and latitude are in degrees")
    moved = np.r_[True, (np.diff(lon) != 0.0) | (np.diff(lat) != 0.0)]
    if moved.sum() < 2:
        return Unused(name, "it has only one vertex")
    height = np.where(np.isfinite(height), height, np.nan)
    if not np.nan_to_num(height).any():
        height = np.full_like(height, np.nan)
    kind = _text(row.get("kind"))
    level = row.get("level")
    return Line(
        name=name,
        kind=kind,
        open_to=_text(row.get("open_to")) or "all",
        level=None if level is None or np.isnan(level) else int(level),
        one_way=ONE_WAY.search(kind) is not None,
        lon=lon[moved],
        lat=lat[moved],
        height_m=_filled(height[moved], lon[moved], lat[moved]),
    )


def _filled(height: Floats, lon: Floats, lat: Floats) -> Floats:
    """Heights with gaps filled along the line; all NaN if there is none at all."""
    known = np.isfinite(height)
    if known.all() or not known.any():
        return height
    along = np.r_[
        0.0, np.cumsum(np.hypot(np.diff(lon) * np.cos(np.radians(lat[1:])), np.diff(lat)))
    ]
    return np.asarray(np.interp(along, along[known], height[known]))


def _text(value: Any) -> str:
    return value.strip() if isinstance(value, str) else ""


def usable(lines: Sequence[Line]) -> tuple[list[Line], list[Unused]]:
    """The lines open to the team, and those that are closed."""
    opened = [line for line in lines if line.open_to in {"all", "team"}]
    closed = [line for line in lines if line.open_to not in {"all", "team"}]
    return opened, [Unused(line.name, "it is closed") for line in closed]
