"""What speaks against a place whatever the species, and what to mind there."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.nesting.siting.nested import Nested, seasons_held
from layers.nesting.siting.place import Place
from layers.nesting.siting.reason import Reason
from layers.trail.measures import format_distance
from layers.words import format_count

SEASONS_BACK = 3
"""Losses longer ago say little (common practice, no source)."""

NEIGHBOURS = 5
"""Boxes nearest to a place by whose losses it is judged; our own choice, no source."""

SPARROWS_M = 300.0
"""House sparrows stay near where they nest, some hundred metres; from memory."""

BUILDING_M = 100.0
"""House sparrows keep to buildings and yards (common practice; the distance is our own)."""

PAIR_M = 91.0
"""A pair stands at least 300 ft from the next (Frederick County Forestry Board 2014): a box within
that could be one of the pair instead."""

WATCHED_M = 15.0
"""Who walks by a box as near as this sees it, and the birds mind; our own choice."""

FAR_M = 100.0
"""A box farther off a path costs each visit a walk through cover; our own choice."""

HOUSE_SPARROW = "house sparrow"


def against(place: Place) -> Iterator[Reason]:
    """Why no box should stand there."""
    for zone in place.zones:
        if zone.kind == "keep_out":
            yield Reason(f"It is in {zone.text}, which is closed to everyone.")
        elif zone.kind == "building":
            yield Reason(f"It is on a building ({zone.text}).")
    if place.boxes and place.boxes[0].distance_m < 1.0:
        yield Reason(f"Box {place.boxes[0].box} stands there.")


def cautions_for(
    histories: Histories, laid: Nested, place: Place, *, season: int, on: date, units: str
) -> Iterator[Reason]:
    """What a keeper should know of the place before she puts up a box."""
    for zone in place.zones:
        if zone.kind == "water":
            yield Reason(
                f"It is over water ({zone.text}): on a pole, above the highest water, and "
                "only where it can be reached safely (common practice, no source)."
            )
    yield from _sparrows(laid, place, since=season - SEASONS_BACK + 1, units=units)
    yield from _predators(
        histories, place, since=season - SEASONS_BACK + 1, fates=histories.fates(on), units=units
    )
    yield from _pairs(laid, place, since=season - SEASONS_BACK + 1, units=units)
    yield from _path(place, units)


def _pairs(laid: Nested, place: Place, *, since: int, units: str) -> Iterator[Reason]:
    """A box nearby that swallows and bluebirds both use: two back to back may serve both."""
    for one in place.boxes:
        if one.distance_m > PAIR_M or one.facts.get("pair"):
            continue
        held = {
            kind: max(seasons)
            for kind in ("swallow", "bluebird")
            if (
                seasons := [
                    season
                    for species in laid.get(one.box, {})
                    if kind in species
                    for season in seasons_held(laid, one.box, species)
                    if season >= since
                ]
            )
        }
        if len(held) == 2:
            yield Reason(
                f"Swallows ({held['swallow']}) and bluebirds ({held['bluebird']}) both laid in box "
                f"{one.box}, {format_distance(one.distance_m, units)} away, which has no pair: a "
                "second box back to back with it, or 1.5 to 3 m (5 to 10 ft) away, may serve both "
                "(Frederick County Forestry Board, Maryland, 2014)."
            )
            return


def _sparrows(laid: Nested, place: Place, *, since: int, units: str) -> Iterator[Reason]:
    near = [
        (one, held[-1])
        for one in place.boxes
        if one.distance_m <= SPARROWS_M
        and (held := seasons_held(laid, one.box, HOUSE_SPARROW))
        and held[-1] >= since
    ]
    if near:
        one, season = near[0]
        more = f", and in {format_count(len(near) - 1, 'box', 'boxes')} more" if near[1:] else ""
        yield Reason(
            f"House sparrows nested in box {one.box}, "
            f"{format_distance(one.distance_m, units)} away, in {season}{more}: they take "
            "boxes from other birds (common practice, no source)."
        )
    elif place.building_m is not None and place.building_m <= BUILDING_M:
        yield Reason(
            f"A building stands {format_distance(place.building_m, units)} away: house sparrows "
            "keep to buildings and take boxes from other birds (common practice, no source)."
        )


def _predators(
    histories: Histories, place: Place, *, since: int, fates: NDArray[np.int32], units: str
) -> Iterator[Reason]:
    """Nests lost to predators in the nearest boxes, with and without a guard."""
    nests = {True: 0, False: 0}
    robbed = {True: 0, False: 0}
    record = [one for one in place.boxes if one.facts.get("guards") is not None][:NEIGHBOURS]
    for one in record:
        guarded = bool(str(one.facts["guards"]).strip())
        for attempt in histories.attempts_of(one.box):
            row, fate = histories.rows[attempt], fates[attempt]
            if row[c.LAID] != 1 or row[c.SEASON] < since:
                continue
            if fate in (c.FATE_FLEDGED, c.FATE_FAILED):
                nests[guarded] += 1
                robbed[guarded] += int(fate == c.FATE_FAILED and row[c.CAUSE] == c.PREDATOR)
    if not sum(robbed.values()):
        return
    parts = [
        f"{robbed[guarded]} of {nests[guarded]} in boxes {'with' if guarded else 'without'} a guard"
        for guarded in (False, True)
        if nests[guarded]
    ]
    farthest = format_distance(record[-1].distance_m, units)
    yield Reason(
        f"Predators took {' and '.join(parts)}, of nests whose end is known since {since} in the "
        f"{format_count(len(record), 'box', 'boxes')} nearest (up to {farthest} away)"
        f"{': fit a guard from the start' if robbed[False] else ''}."
    )


def _path(place: Place, units: str) -> Iterator[Reason]:
    path = place.path
    if path is None:
        return
    name = path.name or "a path without a name"
    away = format_distance(path.distance_m, units)
    if path.open_to == "all" and path.distance_m < WATCHED_M:
        yield Reason(f"{name}, open to all, passes {away} away: people will come close to the box.")
    elif path.distance_m > FAR_M:
        yield Reason(
            f"The nearest path, {name}, is {away} away: every visit costs that walk twice."
        )
    else:
        yield Reason(f"The nearest path, {name}, passes {away} away.")
