"""What stands on the ground of a trail: it changes seldom, and then a table as a whole."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import geopandas as gpd

from layers.errors import NotKnown
from layers.trail.connection import rows_readable
from layers.trail.map_schema import BOXES
from layers.trail.store import Trail
from layers.walking.nearest import NearestBoxes

_OF_DUE = ("guards", "installed_on", "removed_on")
"""The columns of a box that the due list looks at."""


@dataclass(frozen=True, eq=False)
class Ground:
    """Boxes, paths, places and zones."""

    boxes: gpd.GeoDataFrame
    paths: gpd.GeoDataFrame
    places: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame

    @classmethod
    def read(cls, trail: Trail) -> Ground:
        boxes = trail.boxes()
        _check_days(boxes, trail.path)
        return cls(boxes, trail.paths(), trail.places(), trail.zones())

    def reread(self, tables: frozenset[str], trail: Trail) -> Ground:
        """The ground after some tables changed; the others are kept."""
        changed = tables & {*self.__dataclass_fields__}
        ground = replace(self, **{name: getattr(trail, name)() for name in changed})
        if "boxes" in changed:
            _check_days(ground.boxes, trail.path)
        return ground if changed else self

    def altered(self, later: Ground) -> frozenset[str]:
        """Boxes of which a column that the due list looks at is another; the ids are the same."""
        if later.boxes is self.boxes:
            return frozenset()
        was, now = (zip(*(one.boxes[name] for name in _OF_DUE), strict=True)
                    for one in (self, later))  # fmt: skip
        return frozenset(
            box for box, old, new in zip(self.ids, was, now, strict=True) if old != new
        )

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """Box ids, in the order of `boxes`."""
        return tuple(self.boxes["box"])

    @cached_property
    def _row_of(self) -> dict[str, int]:
        return {box: row for row, box in enumerate(self.ids)}

    def row(self, box: str) -> int:
        """Position of a box in `boxes`; `NotKnown` if there is none of that id."""
        try:
            return self._row_of[box]
        except KeyError:
            alike = [one for one in self.ids if one.casefold() == box.strip().casefold()]
            hint = f" (nearest: {', '.join(alike)})" if alike else ""
            raise NotKnown(f"Expected the id of a box{hint}, got {box!r}") from None

    def box(self, box: str) -> dict[str, Any]:
        """A box's columns, with `lon` and `lat`; None where nothing is recorded."""
        return dict(self.records[self.row(box)])

    @cached_property
    def records(self) -> list[dict[str, Any]]:
        """`box` of every box, in the order of `boxes`; to be read, not changed."""
        boxes = self.boxes.drop(columns=["fid", "geometry"]).astype(object)
        rows: list[dict[str, Any]] = boxes.where(boxes.notna(), None).to_dict("records")
        for row, point in zip(rows, self.boxes.geometry, strict=True):
            row["lon"], row["lat"] = (None, None) if point is None else (point.x, point.y)
        return rows

    @cached_property
    def guards(self) -> dict[str, str | None]:
        """What protects each box, as recorded; None where nothing is."""
        return dict(zip(self.ids, self.boxes["guards"], strict=True))

    @cached_property
    def names_and_sections(self) -> dict[str, tuple[str | None, str | None]]:
        """Of each box; None where none is recorded."""
        pairs = zip(self.boxes["name"], self.boxes["section"], strict=True)
        return dict(zip(self.ids, pairs, strict=True))

    @cached_property
    def placed(self) -> tuple[str, ...]:
        """Ids of the boxes that have a place, in the order of `nearest`."""
        return tuple(self.boxes["box"][self.boxes.geometry.notna()])

    @cached_property
    def nearest(self) -> NearestBoxes:
        points = self.boxes.geometry.dropna()
        return NearestBoxes(points.x.to_numpy(), points.y.to_numpy())


def _check_days(boxes: gpd.GeoDataFrame, path: Path) -> None:
    """Raise `NotATrail` over a box's day that is none: another program may have written it."""
    # Here and not in `Trail.boxes`, which `check` reads too: that goes on and names the box.
    with rows_readable(path, "boxes"):
        for name in (column.name for column in BOXES.fields if column.kind == "day"):
            for box, day in zip(boxes["box"], boxes[name], strict=True):
                if day is not None and not _is_day(day):
                    expected = "expected a day like 2026-05-14"
                    raise ValueError(f"box {box} has {name} {day!r}, {expected}")


def _is_day(value: Any) -> bool:
    try:
        date.fromisoformat(value)
    except (TypeError, ValueError):
        return False
    return True
