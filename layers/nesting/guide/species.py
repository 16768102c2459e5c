"""What the guide knows of one species."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Source:
    """Where numbers come from; `memory` marks general knowledge that was not looked up."""

    citation: str
    memory: bool


@dataclass(frozen=True)
class Span:
    """A range that takes in every value its sources give.

    Attributes
    ----------
    low, high
        The ends, both included; equal where the sources give one value.
    usual
        The mean or single value of the first source that gives one; None if none does.
    sources
        Keys of `Guide.sources`, in the order in which the guide lists them.
    memory
        Whether one of the ends rests on memory alone.
    """

    low: float
    high: float
    usual: float | None
    sources: tuple[str, ...]
    memory: bool


@dataclass(frozen=True)
class Species:
    """One species: its breeding, and the box it takes.

    Days count from 0 on the day of hatching. A measure that no source gives is None.

    Attributes
    ----------
    common
        Common name in lower case, as stored in visits: "eastern bluebird".
    also
        Other names that mean this species and no other of the guide.
    regions
        Where it is met in boxes.
    nest, eggs
        How they look, in words; `look_sources` says where that and `parasites` come from.
    parasites
        Which birds lay in its nests, and how often, in words; None: no source says.
    alike
        Nest and eggs do not distinguish species of one such word; None: there are none.
    leaves_at_once
        The young leave the box a day or so after hatching.
    starts_before_last_egg
        Incubation often starts before the clutch is complete, so hatching spreads.
    clutch, clutch_range
        Eggs in a usual clutch, and in the smallest and largest seen.
    laying_interval_days
        Days from one egg to the next.
    incubation_days
        From the last egg to hatching.
    nestling_days
        From hatching until the young leave the box. `low` is the shortest stay: a nest
        empty before that age did not fledge.
    broods
        Broods raised by a pair in a season.
    closed_from_day
        Age of the young from which opening the box may make them leave too early; None
        where they leave at once.
    banding_days
        Age of the young at which they can be banded; None where they leave at once.
    egg_length_mm, egg_width_mm
        Size of an egg.
    hole_mm
        Diameter of the entrance of a box meant for it.
    least_hole_mm
        Diameter of the narrowest round hole that it passes.
    floor_mm
        Inside of the floor: `low` is the shorter side, `high` the longer.
    depth_mm, entrance_height_mm
        Inside height of the box, and of the entrance above its floor.
    height_m
        Height of the box above the ground.
    spacing_m
        Distance to keep between boxes meant for this species; equal ends: at least that.
    """

    common: str
    scientific: str
    also: tuple[str, ...]
    regions: tuple[str, ...]
    nest: str | None
    eggs: str | None
    parasites: str | None
    look_sources: tuple[str, ...]
    alike: str | None
    leaves_at_once: bool
    starts_before_last_egg: bool
    clutch: Span
    clutch_range: Span
    laying_interval_days: Span
    incubation_days: Span
    nestling_days: Span
    broods: Span
    closed_from_day: Span | None
    banding_days: Span | None
    egg_length_mm: Span | None
    egg_width_mm: Span | None
    hole_mm: Span | None
    least_hole_mm: Span | None
    floor_mm: Span | None
    depth_mm: Span | None
    entrance_height_mm: Span | None
    height_m: Span | None
    spacing_m: Span | None

    @property
    def names(self) -> tuple[str, ...]:
        """Every name of the species, the common one first."""
        return (self.common, self.scientific, *self.also)


REQUIRED = ("clutch", "laying_interval_days", "incubation_days", "nestling_days", "broods")
"""Spans without which an attempt cannot be dated."""

BOUNDS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "clutch": (1, 40),
        "clutch_range": (1, 60),
        "laying_interval_days": (1, 14),
        "incubation_days": (8, 90),
        "nestling_days": (1, 250),
        "broods": (1, 12),
        "closed_from_day": (1, 250),
        "banding_days": (1, 250),
        "egg_length_mm": (8, 150),
        "egg_width_mm": (6, 120),
        "hole_mm": (15, 500),
        "least_hole_mm": (15, 500),
        "floor_mm": (60, 2000),
        "depth_mm": (60, 2000),
        "entrance_height_mm": (10, 2000),
        "height_m": (0.1, 60),
        "spacing_m": (1, 100_000),
    }
)
"""Least and greatest value of each span. They are our own and wide: they catch a slip of
the pen, such as inches in a field of millimetres, and are no statement about birds."""
