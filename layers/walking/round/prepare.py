"""From boxes to the stops of a round, with what cannot be done set aside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from layers.errors import BadValue
from layers.walking.distances import Walking
from layers.walking.network.attach import Attached, Site, attach
from layers.walking.network.barriers import BarrierIndex
from layers.walking.network.plane import Plane
from layers.walking.network.snaps import APART
from layers.walking.pace import Pace, off_path_minutes
from layers.walking.round.arrays import SLACK, ProblemArrays
from layers.walking.round.natural import Preference
from layers.walking.round.problem import RoundProblem, StopRequest
from layers.walking.round.result import LeftOut

Floats = NDArray[np.float64]

TOGETHER_M = 10.0
"""Boxes this near to each other share a stop; pairs stand 5 to 7 m apart at most
(common practice, no source)."""


@dataclass(frozen=True)
class Prepared:
    """A problem ready for the solvers.

    Attributes
    ----------
    walking
        Between the sites: the start, the stops that can be made, and the end.
    groups
        Boxes of each stop; stop i of the arrays is `groups[i - 1]`.
    arrays
        What the solvers see.
    left_out
        Boxes that no round can visit.
    """

    walking: Walking
    groups: tuple[tuple[StopRequest, ...], ...]
    sites: tuple[int, ...]
    arrays: ProblemArrays
    left_out: tuple[LeftOut, ...]


def prepare(problem: RoundProblem, pace: Pace) -> Prepared:
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
    first = [
        Site(" and ".join(c.box for c in g), g[0].lon, g[0].lat, g[0].watch_only) for g in groups
    ]
    attached = attach(
        problem.network,
        [*ends, *first],
        barriers=problem.barriers,
        open_ground=problem.open_ground,
        ends=len(ends),
    )
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
        reason = _unreached(problem, attached, number + 2) or _hopeless(
            problem, walking, group, number + 2
        )
        if reason:
            left_out += [LeftOut(request.box, reason) for request in group]
        else:
            kept.append(number)
    sites = (0, *(number + 2 for number in kept), 1)
    chosen = tuple(groups[number] for number in kept)
    arrays = _arrays(problem, walking, chosen, sites)
    return Prepared(walking, chosen, sites, arrays, tuple(left_out))


def preference_of(prepared: Prepared) -> Preference:
    """What decides among equally quick orders of the stops."""
    first = [group[0] for group in prepared.groups]
    attached, sites = prepared.walking.attached, list(prepared.sites)
    looks = np.array([attached.sites[site].watch_only for site in sites])
    off_m = np.where(looks, 0.0, attached.away_m[sites])
    return Preference.of(
        [one.box for one in first],
        [one.section for one in first],
        off_path_minutes(prepared.walking.pace, off_m),
    )


def _groups(problem: RoundProblem) -> list[tuple[StopRequest, ...]]:
    """Boxes back to back, which have the same hours and no barrier between them."""
    requests = sorted(problem.requests, key=lambda one: one.box)
    lon, lat = np.array([one.lon for one in requests]), np.array([one.lat for one in requests])
    plane = Plane.around(lon, lat)
    xy = plane.xy(lon, lat) if requests else np.empty((0, 2))
    barrier_index = BarrierIndex(problem.barriers, plane)
    tree = cKDTree(xy)
    near: list[list[int]] = [tree.query_ball_point(place, TOGETHER_M) for place in xy]
    alike = [(one.opens_at, one.closes_at, one.watch_only) for one in requests]
    groups: list[list[int]] = []
    group_of: dict[int, list[int]] = {}
    for number in range(len(requests)):
        for other in sorted(other for other in near[number] if other < number):
            group = group_of[other]
            here = np.tile(xy[number], (len(group), 1))
            if (
                alike[other] == alike[number]
                and set(group) <= set(near[number])
                and max(barrier_index.crossed(here, xy[group])) < 0
            ):
                break
        else:
            group = []
            groups.append(group)
        group.append(number)
        group_of[number] = group
    found = [tuple(requests[number] for number in group) for group in groups]
    if problem.keep_order:
        at = {one.box: number for number, one in enumerate(problem.requests)}
        found.sort(key=lambda group: min(at[one.box] for one in group))
    return found


def _unreached(problem: RoundProblem, attached: Attached, site: int) -> str:
    """Why the paths do not lead to a stop, with the zones that bar some; empty if they do."""
    reason = attached.reasons[site]
    if not (reason.endswith(APART) and problem.barred_by):
        return reason
    return f"{reason}: paths through {' and '.join(problem.barred_by)} are barred"


def _hopeless(
    problem: RoundProblem, walking: Walking, group: Sequence[StopRequest], site: int
) -> str:
    """Why no round at all can visit a stop; empty if one can."""
    there, back = walking.minutes[0, site], walking.minutes[site, 1]
    if not np.isfinite(there):
        return "no way leads there from the start"
    if not np.isfinite(back):
        return "no way leads from there to the end"
    opens, closes = _hours(problem, group[0])
    if there > closes + SLACK:
        there = problem.breaks.clock(there)
        return f"it takes {there:.0f} minutes to get there, too late for its hours"
    minutes = max(there, opens) + sum(one.minutes for one in group) + back
    budget = _budget(problem)
    if minutes > budget + SLACK:
        minutes = problem.breaks.clock(minutes)
        return f"it alone takes {minutes:.0f} minutes, and there are {problem.budget_minutes:.0f}"
    return ""


def _budget(problem: RoundProblem) -> float:
    """Minutes that each walker has without breaks, infinite where there is no limit."""
    if problem.budget_minutes is None or problem.keep_order:
        return math.inf
    return problem.breaks.latest(problem.budget_minutes)


def _hours(problem: RoundProblem, one: StopRequest) -> tuple[float, float]:
    """Hours in minutes after leaving and without breaks, infinite where there is no limit."""
    breaks, leave_at = problem.breaks, problem.leave_at
    opens = -math.inf if one.opens_at is None else breaks.earliest(one.opens_at - leave_at)
    if one.closes_at is None or problem.keep_order:
        return opens, math.inf
    return opens, breaks.latest(one.closes_at - leave_at)


def _arrays(
    problem: RoundProblem,
    walking: Walking,
    groups: Sequence[Sequence[StopRequest]],
    sites: Sequence[int],
) -> ProblemArrays:
    hours = [_hours(problem, group[0]) for group in groups]
    return ProblemArrays(
        minutes=walking.minutes[np.ix_(sites, sites)],
        service=np.array([0.0, *(sum(one.minutes for one in group) for group in groups), 0.0]),
        urgency=np.array([0.0, *(sum(one.urgency for one in group) for group in groups), 0.0]),
        opens=np.array([-np.inf, *(opens for opens, _ in hours), -np.inf]),
        closes=np.array([np.inf, *(closes for _, closes in hours), np.inf]),
        budget=_budget(problem),
        walkers=problem.walkers,
    )
