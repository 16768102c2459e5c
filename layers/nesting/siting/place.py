"""A place for a box, and what is around it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class BoxNear:
    """A box that stands near the place.

    Attributes
    ----------
    facts
        The columns of its row in the trail; None where nothing is recorded.
    """

    box: str
    distance_m: float
    facts: Mapping[str, Any]


@dataclass(frozen=True)
class ZoneHere:
    """A zone that the place is in; `kind` is habitat, keep_out, building or water."""

    kind: str
    name: str | None
    detail: str | None

    @property
    def text(self) -> str:
        """Its name, or what kind of zone it is."""
        return self.name or self.kind.replace("_", " ")


@dataclass(frozen=True)
class PathNear:
    """The path nearest to the place; `open_to` is all, team or closed."""

    name: str | None
    open_to: str | None
    distance_m: float


@dataclass(frozen=True)
class Place:
    """A place, in degrees on WGS84, and what is around it.

    Attributes
    ----------
    boxes
        Every box that stands within reach, nearest first; distances by straight line.
    path
        None where the trail has no paths.
    building_m
        Distance to the nearest building; None where the trail has none in reach.
    """

    lon: float
    lat: float
    boxes: tuple[BoxNear, ...] = ()
    zones: tuple[ZoneHere, ...] = ()
    path: PathNear | None = None
    building_m: float | None = None
