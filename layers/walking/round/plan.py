"""Plan a round."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely

from layers.walking.network.attach import Spot
from layers.walking.network.plane import Plane
from layers.walking.pace import Pace
from layers.walking.round.gather import Gathered, gather
from layers.walking.round.legs import make_leg
from layers.walking.round.problem import Problem, Progress, Stopping
from layers.walking.round.proof import prove, prove_order
from layers.walking.round.result import LeftOut, Leg, Proof, Round, Stop, Walk
from layers.walking.round.solve import solutions
from layers.walking.round.task import Orders, merit

HAZARD_M = 30.0
"""A hazard this near to the way is named (common practice, no source)."""

LONG_LEG_M = 100.0
"""A longer leg off the path is worth a warning (common practice, no source)."""


def _silent(_: Progress) -> None:
    return


def plan(
    problem: Problem,
    *,
    pace: Pace,
    stop: Stopping | None = None,
    seed: int = 0,
    progress: Callable[[Progress], None] = _silent,
) -> Round:
    """The round that visits the boxes with the least time.

    Where not all boxes fit the time or their hours, the most urgent are visited. Several
    walkers share the boxes so that the longest walk is as short as can be, then all walks
    together. Up to 12 stops the answer is the best there is; beyond, `proof` says how far
    from the best it is at most.

    Parameters
    ----------
    stop
        When to be content; the same steps and seed give the same round on every machine.
    progress
        Called now and then with how far the plan has come.

    Raises
    ------
    BadValue
        There is no start, or the start or the end cannot be reached.
    """
    stop = stop or Stopping()
    ready = gather(problem, pace)
    best: Orders = ((),) * problem.walkers

    def wanted() -> bool:
        return not stop.asked()

    if problem.keep_order:
        best = (tuple(range(1, ready.task.end)),)
        progress(Progress(1.0, ready.task.finish(best[0])))
    elif ready.task.stops:
        for orders, share in solutions(ready.task, steps=stop.steps, seed=seed, wanted=wanted):
            best = min(best, orders, key=lambda plan: merit(ready.task, plan))
            progress(Progress(share, merit(ready.task, best)[1]))
            if stop.asked():
                break
    if problem.keep_order:
        proof = prove_order(ready.task, best[0], wanted=wanted)
    else:
        proof = prove(ready.task, best, wanted=wanted)
    return _round(problem, ready, best, proof)


def _round(problem: Problem, ready: Gathered, orders: Orders, proof: Proof) -> Round:
    walks = tuple(_walk(ready, order) for order in orders)
    done = {stop for order in orders for stop in order}
    if problem.budget_minutes is not None:
        reason = "more urgent boxes take the time there is"
    elif ready.task.timed:
        reason = "its hours cannot be kept together with those of other boxes"
    else:
        reason = "no walk leads by it and by the other boxes, as some paths are one-way"
    left_out = [
        LeftOut(call.box, reason)
        for number, group in enumerate(ready.groups, start=1)
        if number not in done
        for call in group
    ]
    straight = ready.walking.attached.straight
    return Round(
        walks=walks,
        left_out=tuple(sorted([*ready.left_out, *left_out], key=lambda left: left.box)),
        warnings=_warnings(problem, walks, straight=straight),
        proof=proof,
        leave_at=problem.leave_at,
        straight=straight,
    )


def _walk(ready: Gathered, order: tuple[int, ...]) -> Walk:
    if not order:
        return Walk((), None, 0.0)
    task, walking, spots = ready.task, ready.walking, ready.spots
    stops = []
    now, here = 0.0, 0
    for number, place in enumerate(order, start=1):
        arrives = now + float(task.minutes[here, place])
        waits = max(float(task.opens[place]) - arrives, 0.0)
        spot = walking.attached.spots[spots[place]]
        stops.append(
            Stop(
                boxes=tuple(call.box for call in ready.groups[place - 1]),
                order=number,
                lon=spot.lon,
                lat=spot.lat,
                look=spot.look,
                arrives=arrives,
                waits=waits,
                minutes=float(task.service[place]),
                leg=make_leg(walking, spots[here], spots[place]),
            )
        )
        now, here = arrives + waits + float(task.service[place]), place
    home = make_leg(walking, spots[here], spots[task.end])
    return Walk(tuple(stops), home, now + home.minutes)


def _warnings(problem: Problem, walks: tuple[Walk, ...], *, straight: bool) -> tuple[str, ...]:
    said = []
    if not problem.calls:
        said.append("There is no box to visit.")
    elif not any(walk.stops for walk in walks):
        said.append("No box can be visited; the reasons stand with each.")
    if straight and problem.calls:
        said.append("The trail has no paths: legs are straight lines around water and zones.")
    legs = [leg for walk in walks for leg in walk.legs]
    if legs:
        near = _near_way(problem.hazards, legs)
        said += [f"Hazard near the way: {spot.name}." for spot in near]
    if not straight:
        far = {leg.end: leg.away_m for leg in legs if leg.away_m > LONG_LEG_M}
        said += [f"{name} is {away:.0f} m off the path." for name, away in far.items()]
    return tuple(said)


def _near_way(spots: Sequence[Spot], legs: Sequence[Leg]) -> list[Spot]:
    """Those spots that the way comes near to."""
    if not spots:
        return []
    lon = np.concatenate([leg.way.lon for leg in legs])
    lat = np.concatenate([leg.way.lat for leg in legs])
    plane = Plane.around(lon, lat)
    places = shapely.points(plane.xy([s.lon for s in spots], [s.lat for s in spots]))
    # A leg of one place is no line, but two places that are one make a line of no length.
    ways = [np.repeat(plane.xy(leg.way.lon, leg.way.lat), 2, axis=0) for leg in legs]
    lines = shapely.multilinestrings([shapely.LineString(way) for way in ways])
    away = np.atleast_1d(shapely.distance(lines, places)).tolist()
    return [spot for spot, away_m in zip(spots, away, strict=True) if away_m <= HAZARD_M]
