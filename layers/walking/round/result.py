"""A round that was planned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from layers.walking.distances import Way
from layers.walking.round.breaks import Rest


@dataclass(frozen=True)
class Stride:
    """A stretch of one path within a leg.

    `name` is empty off the path; `bearing_deg` is the direction in which it sets out.
    """

    name: str
    length_m: float
    bearing_deg: float
    turn: str


@dataclass(frozen=True)
class Leg:
    """The way from one stop, or the start, to the next, or the end.

    Attributes
    ----------
    start, end
        Names of the places.
    length_m, minutes
        Of the whole leg, legs off the path included.
    climb_m, descent_m
        Along the paths, ground off them being taken as level; None where a path on the
        way has no heights, or there is no path.
    off_path_m
        How much of it is off the path, at both ends together.
    away_m
        How far the place at its end is from the path.
    side
        Where that place is for a walker who comes along the path: "on the left", "on
        the right", "ahead", "behind you", or empty where it is on the path.
    strides
        Stretches by path name.
    way
        Edges and vertices.
    rest
        The break that is taken on it, which is not in its minutes.
    """

    start: str
    end: str
    length_m: float
    minutes: float
    climb_m: float | None
    descent_m: float | None
    off_path_m: float
    away_m: float
    side: str
    bearing_deg: float
    strides: tuple[Stride, ...]
    way: Way
    rest: Rest | None = None


@dataclass(frozen=True)
class Stop:
    """A stop at one box, or at boxes back to back.

    Attributes
    ----------
    order
        1 for the first stop of a walk.
    arrives, waits, minutes
        Minutes after leaving at which it is reached, breaks among them; how long one waits for
        its hours; how long one stays.
    leg
        The way to it.
    """

    boxes: tuple[str, ...]
    order: int
    lon: float
    lat: float
    watch_only: bool
    arrives: float
    waits: float
    minutes: float
    leg: Leg


def _known_sum(values: Iterable[float | None]) -> float | None:
    """The sum, None if any of the values is not known."""
    total = 0.0
    for value in values:
        if value is None:
            return None
        total += value
    return total


@dataclass(frozen=True)
class Walk:
    """What one walker does; no stops and no way home where there is nothing to do."""

    stops: tuple[Stop, ...]
    home: Leg | None
    minutes: float

    @property
    def legs(self) -> tuple[Leg, ...]:
        legs = tuple(stop.leg for stop in self.stops)
        return legs if self.home is None else (*legs, self.home)

    @property
    def length_m(self) -> float:
        return sum(leg.length_m for leg in self.legs)

    @property
    def climb_m(self) -> float | None:
        """None unless the climb of every leg is known."""
        return _known_sum(leg.climb_m for leg in self.legs)


@dataclass(frozen=True)
class LeftOut:
    """A box that the round does not visit, and why."""

    box: str
    reason: str


@dataclass(frozen=True)
class Proof:
    """How good the round is at worst.

    Attributes
    ----------
    measure
        What the bound is about: "minutes" of the walk, "minutes of the longest walk" or
        "urgency".
    value, bound
        What the round comes to, and what no round can better.
    optimal
        Whether the two are the same.
    """

    measure: str
    value: float
    bound: float
    optimal: bool

    @property
    def gap(self) -> float:
        """The most by which a better round could differ, as a share of the bound."""
        return 0.0 if self.optimal or self.bound == 0.0 else abs(self.value / self.bound - 1.0)

    def __str__(self) -> str:
        if self.optimal:
            return "optimal"
        least = "at most" if self.measure == "urgency" else "at least"
        percent = 100.0 * self.gap
        gap = f"at most {percent:.1f} %" if percent >= 0.1 else "below 0.1 %"
        return f"{least} {self.bound:.1f} {self.measure}; gap {gap}"


@dataclass(frozen=True)
class Round:
    """A round for one or more walkers.

    Attributes
    ----------
    walks
        One for each walker.
    left_out
        Boxes not visited, with the reason.
    warnings
        Sentences for the people who walk it.
    leave_at
        Minutes after midnight.
    straight
        Whether the trail has no paths, so that all legs are straight.
    steady_m
        Metres that the order of the earlier round costs more than the quickest; None where
        there was none, or it was not walked again.
    """

    walks: tuple[Walk, ...]
    left_out: tuple[LeftOut, ...]
    warnings: tuple[str, ...]
    proof: Proof
    leave_at: float
    straight: bool
    steady_m: float | None = None

    @property
    def length_m(self) -> float:
        return sum(walk.length_m for walk in self.walks)

    @property
    def climb_m(self) -> float | None:
        """None unless the climb of every walk is known."""
        return _known_sum(walk.climb_m for walk in self.walks)

    @property
    def minutes(self) -> float:
        """Of the longest walk."""
        return max(walk.minutes for walk in self.walks)
