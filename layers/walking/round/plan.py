"""Plan a round."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely

from layers.walking.network.attach import Attached, Site
from layers.walking.network.plane import Plane
from layers.walking.pace import Pace
from layers.walking.round.arrays import Orders, merit
from layers.walking.round.breaks import Breaks, rest_on_the_way
from layers.walking.round.legs import make_leg
from layers.walking.round.natural import natural, steady
from layers.walking.round.prepare import Prepared, preference_of, prepare
from layers.walking.round.problem import RoundProblem
from layers.walking.round.proof import prove, prove_order
from layers.walking.round.result import LeftOut, Leg, Proof, Round, Stop, Walk
from layers.walking.round.solve import solutions

HAZARD_M = 30.0
"""A hazard this near to the way is named (common practice, no source)."""

LONG_LEG_M = 100.0
"""A longer leg off the path is worth a warning (common practice, no source)."""


def plan(problem: RoundProblem, *, pace: Pace, enough: Callable[[], bool] = lambda: False) -> Round:
    """The round that visits the boxes with the least time.

    Where not all boxes fit the time or their hours, the most urgent are visited. Several
    walkers share the boxes so that the longest walk is as short as can be, then all walks
    together. Up to 12 stops the answer is the best there is; beyond, `proof` says how far
    from the best it is at most. The search counts steps: a problem gives the same round on
    every machine, unless `enough` ends it early. Of rounds that are equally quick it is the one
    that a walker would choose; see `natural`.

    Parameters
    ----------
    enough
        Called now and then; once it returns True, the best plan so far is taken.

    Raises
    ------
    BadValue
        There is no start, or the start or the end cannot be reached.
    """
    prepared = prepare(problem, pace)
    arrays = prepared.arrays
    best: Orders = ((),) * problem.walkers
    steady_m: float | None = None

    def go_on() -> bool:
        return not enough()

    if problem.keep_order:
        best = (tuple(range(1, arrays.end)),)
        proof = prove_order(arrays, best[0], go_on=go_on)
    else:
        if arrays.stops:
            for orders in solutions(arrays, go_on=go_on):
                best = min(best, orders, key=lambda plan: merit(arrays, plan))
                if enough():
                    break
        proof = prove(arrays, best, go_on=go_on)
        best = _as_walked(prepared, best)
        again = _steady(problem, prepared, best)
        if again is not None:
            steady_m = _length_m(prepared, again) - _length_m(prepared, best[0])
            best = (again,)
            if proof.measure != "urgency":
                proof = prove_order(arrays, again, go_on=go_on)
    found = _round(problem, prepared, best, proof)
    return found if steady_m is None else replace(found, steady_m=steady_m)


def _as_walked(prepared: Prepared, orders: Orders) -> Orders:
    """Each walk in the order that a walker would choose among those as quick."""
    preference = preference_of(prepared)
    return tuple(natural(prepared.arrays, order, preference) for order in orders)


def _steady(problem: RoundProblem, prepared: Prepared, orders: Orders) -> tuple[int, ...] | None:
    """The one walk in the order of the earlier round, None where it is walked anew."""
    if not problem.like or problem.walkers > 1:
        return None
    stop_of = {
        request.box: stop
        for stop, group in enumerate(prepared.groups, start=1)
        for request in group
    }
    before = list(dict.fromkeys(stop_of[box] for box in problem.like if box in stop_of))
    again = steady(prepared.arrays, orders[0], before)
    return None if again == orders[0] else again


def _length_m(prepared: Prepared, order: Sequence[int]) -> float:
    sites = np.array([prepared.sites[place] for place in (0, *order, prepared.arrays.end)])
    return float(prepared.walking.length_m[sites[:-1], sites[1:]].sum())


def _round(problem: RoundProblem, prepared: Prepared, orders: Orders, proof: Proof) -> Round:
    walks = tuple(_walk(problem, prepared, order) for order in orders)
    done = {stop for order in orders for stop in order}
    if problem.budget_minutes is not None:
        reason = "more urgent boxes take the time there is"
    elif prepared.arrays.timed:
        reason = "its hours do not fit with those of other boxes"
    else:
        reason = "no walk leads by it and by the other boxes, as some paths are one-way"
    left_out = [
        LeftOut(request.box, reason)
        for number, group in enumerate(prepared.groups, start=1)
        if number not in done
        for request in group
    ]
    straight = prepared.walking.attached.straight
    return Round(
        walks=walks,
        left_out=tuple(sorted([*prepared.left_out, *left_out], key=lambda left: left.box)),
        warnings=_warnings(problem, prepared.walking.attached, walks),
        proof=_with_breaks(proof, problem.breaks),
        leave_at=problem.leave_at,
        straight=straight,
    )


def _with_breaks(proof: Proof, breaks: Breaks) -> Proof:
    """The proof in minutes with breaks: what is less without them is not more with them."""
    if proof.measure == "urgency":
        return proof
    return replace(proof, value=breaks.clock(proof.value), bound=breaks.clock(proof.bound))


def _walk(problem: RoundProblem, prepared: Prepared, order: tuple[int, ...]) -> Walk:
    if not order:
        return Walk((), None, 0.0)
    arrays, walking, sites = prepared.arrays, prepared.walking, prepared.sites
    breaks = problem.breaks
    stops = []
    # Minutes without breaks, as the search has them.
    begun, now, here = 0.0, 0.0, 0

    def leg_to(place: int, arrives: float) -> Leg:
        leg = make_leg(walking, sites[here], sites[place])
        rest = rest_on_the_way(
            breaks, begun=begun, left=now, arrives=arrives, leave_at=problem.leave_at
        )
        return leg if rest is None else replace(leg, rest=rest)

    for number, place in enumerate(order, start=1):
        arrives = now + float(arrays.minutes[here, place])
        begins = max(float(arrays.opens[place]), arrives)
        site = walking.attached.sites[sites[place]]
        stops.append(
            Stop(
                boxes=tuple(request.box for request in prepared.groups[place - 1]),
                order=number,
                lon=site.lon,
                lat=site.lat,
                watch_only=site.watch_only,
                arrives=breaks.clock(arrives),
                waits=breaks.clock(begins) - breaks.clock(arrives),
                minutes=float(arrays.service[place]),
                leg=leg_to(place, arrives),
            )
        )
        begun, now, here = begins, begins + float(arrays.service[place]), place
    finish = now + float(arrays.minutes[here, arrays.end])
    return Walk(tuple(stops), leg_to(arrays.end, finish), breaks.clock(finish))


def _warnings(
    problem: RoundProblem, attached: Attached, walks: tuple[Walk, ...]
) -> tuple[str, ...]:
    straight = attached.straight
    warnings = []
    if not problem.requests:
        warnings.append("There is no box to visit.")
    elif not any(walk.stops for walk in walks):
        warnings.append("No box can be visited; each has its reason.")
    if straight and problem.requests:
        warnings.append("The trail has no paths: legs are straight lines around water and zones.")
    legs = [leg for walk in walks for leg in walk.legs]
    if legs:
        near = _near_way(problem.hazards, legs)
        warnings += [f"Hazard near the way: {site.name}." for site in near]
    if legs and not straight:
        far = {legs[0].start: float(attached.away_m[0])}
        far |= {leg.end: leg.away_m for leg in legs}
        warnings += [
            f"{name} is {away:.0f} m off the path."
            for name, away in far.items()
            if away > LONG_LEG_M
        ]
    return tuple(warnings)


def _near_way(sites: Sequence[Site], legs: Sequence[Leg]) -> list[Site]:
    """Those sites that the way comes near to."""
    if not sites:
        return []
    lon = np.concatenate([leg.way.lon for leg in legs])
    lat = np.concatenate([leg.way.lat for leg in legs])
    plane = Plane.around(lon, lat)
    places = shapely.points(plane.xy([s.lon for s in sites], [s.lat for s in sites]))
    # A leg of one place is no line, but two places that are one make a line of no length.
    ways = [np.repeat(plane.xy(leg.way.lon, leg.way.lat), 2, axis=0) for leg in legs]
    lines = shapely.multilinestrings([shapely.LineString(way) for way in ways])
    away = np.atleast_1d(shapely.distance(lines, places)).tolist()
    return [site for site, away_m in zip(sites, away, strict=True) if away_m <= HAZARD_M]
