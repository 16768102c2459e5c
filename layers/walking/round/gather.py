"""From boxes to the stops of a round, with what cannot be done set aside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from layers.errors import BadValue
from layers.walking.distances import Walking
from layers.walking.network.attach import Spot, attach
from layers.walking.network.barriers import Ground
from layers.walking.network.plane import Plane
from layers.walking.pace import Pace
from layers.walking.round.problem import Call, Problem
from layers.walking.round.result import LeftOut
from layers.walking.round.task import SLACK, Task

Floats = NDArray[np.float64]

TOGETHER_M = 10.0
"""Boxes this near to each other share a stop; pairs stand 5 to 7 m apart at most
(common practice, no source)."""


@dataclass(frozen=True)
class Gathered:
    """A problem ready for the solvers.

    Attributes
    ----------
    walking
        Between the spots: the start, the stops that can be made, and the end.
    groups
        Boxes of each stop; stop i of the task is `groups[i - 1]`.
    task
        What the solvers see.
    left_out
        Boxes that no round can visit.
    """

    walking: Walking
    groups: tuple[tuple[Call, ...], ...]
    spots: tuple[int, ...]
    task: Task
    left_out: tuple[LeftOut, ...]


def gather(problem: Problem, pace: Pace) -> Gathered:
    """Tie the boxes to the network, join those back to back, and set aside the impossible.

    Raises
    ------
    BadValue
        There is no start, or the start or the end cannot be reached.
    """
    if problem.start is None:
        raise BadValue("a place to start from", "none", column="start")
    ends = [problem.start, problem.end or problem.start]
    groups = _groups(problem)
    first = [Spot(" and ".join(c.box for c in g), g[0].lon, g[0].lat, g[0].look) for g in groups]
    attached = attach(problem.network, [*ends, *first], barriers=problem.barriers)
    for name, number in (("start", 0), ("end", 1)):
        if attached.reasons[number]:
            came = f"{ends[number].name}: {attached.reasons[number]}"
            raise BadValue(f"{name} that can be reached by the paths", came, column=name)
    walking = Walking(attached, pace)
    if problem.end is not None and not np.isfinite(walking.minutes[0, 1]):
        came = f"{ends[1].name}: no way leads there from {ends[0].name}"
        raise BadValue("an end that can be reached by the paths", came, column="end")
    left_out: list[LeftOut] = []
    kept: list[int] = []
    for number, group in enumerate(groups):
        reason = attached.reasons[number + 2] or _hopeless(problem, walking, group, number + 2)
        if reason:
            left_out += [LeftOut(call.box, reason) for call in group]
        else:
            kept.append(number)
    spots = (0, *(number + 2 for number in kept), 1)
    chosen = tuple(groups[number] for number in kept)
    task = _task(problem, walking, chosen, spots)
    return Gathered(walking, chosen, spots, task, tuple(left_out))


def _groups(problem: Problem) -> list[tuple[Call, ...]]:
    """Boxes back to back, which have the same hours and no barrier between them."""
    calls = sorted(problem.calls, key=lambda call: call.box)
    lon, lat = np.array([call.lon for call in calls]), np.array([call.lat for call in calls])
    plane = Plane.around(lon, lat)
    xy = plane.xy(lon, lat) if calls else np.empty((0, 2))
    ground = Ground(problem.barriers, plane)
    tree = cKDTree(xy)
    near: list[list[int]] = [tree.query_ball_point(place, TOGETHER_M) for place in xy]
    groups: list[list[int]] = []
    group_of: dict[int, list[int]] = {}
    for number, call in enumerate(calls):
        for other in sorted(other for other in near[number] if other < number):
            group, one = group_of[other], calls[other]
            alike = (one.after, one.before, one.look) == (call.after, call.before, call.look)
            here = np.tile(xy[number], (len(group), 1))
            if (
                alike
                and set(group) <= set(near[number])
                and max(ground.crossed(here, xy[group])) < 0
            ):
                break
        else:
            group = []
            groups.append(group)
        group.append(number)
        group_of[number] = group
    found = [tuple(calls[number] for number in group) for group in groups]
    if problem.keep_order:
        at = {call.box: number for number, call in enumerate(problem.calls)}
        found.sort(key=lambda group: min(at[call.box] for call in group))
    return found


def _hopeless(problem: Problem, walking: Walking, group: Sequence[Call], spot: int) -> str:
    """Why no round at all can visit a stop; empty if one can."""
    there, back = walking.minutes[0, spot], walking.minutes[spot, 1]
    if not np.isfinite(there):
        return "no way leads there from the start"
    if not np.isfinite(back):
        return "no way leads from there to the end"
    opens, closes = _hours(problem, group[0])
    if there > closes + SLACK:
        return f"it takes {there:.0f} minutes to get there, too late for its hours"
    minutes = max(there, opens) + sum(call.minutes for call in group) + back
    budget = _budget(problem)
    if minutes > budget + SLACK:
        return f"it alone takes {minutes:.0f} minutes, and there are {budget:.0f}"
    return ""


def _budget(problem: Problem) -> float:
    """Minutes that each walker has, infinite where there is no limit."""
    if problem.budget_minutes is None or problem.keep_order:
        return float("inf")
    return problem.budget_minutes


def _hours(problem: Problem, call: Call) -> tuple[float, float]:
    """Hours in minutes after leaving, infinite where it does not matter."""
    opens = -np.inf if call.after is None else call.after - problem.leave_at
    if call.before is None or problem.keep_order:
        return float(opens), float("inf")
    return float(opens), float(call.before - problem.leave_at)


def _task(
    problem: Problem, walking: Walking, groups: Sequence[Sequence[Call]], spots: Sequence[int]
) -> Task:
    hours = [_hours(problem, group[0]) for group in groups]
    return Task(
        minutes=walking.minutes[np.ix_(spots, spots)],
        service=np.array([0.0, *(sum(call.minutes for call in group) for group in groups), 0.0]),
        urgency=np.array([0.0, *(sum(call.urgency for call in group) for group in groups), 0.0]),
        opens=np.array([-np.inf, *(opens for opens, _ in hours), -np.inf]),
        closes=np.array([np.inf, *(closes for _, closes in hours), np.inf]),
        budget=_budget(problem),
        walkers=problem.walkers,
    )
