"""A round as its page and its print sheet show it: walks, stops and what to expect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from layers.nesting.card import inside
from layers.nesting.cautions import sign_cautions
from layers.nesting.due import OPEN, Reason
from layers.trail.coding import day_number, day_of
from layers.trail.measures import format_distance
from layers.trail.visits import Visits
from layers.trail.words import ADULT, NEST, YES_NO
from layers.walking.nearest import compass
from layers.walking.pace import Flat
from layers.walking.round import Leg, Walk
from layers.walking.round.clock import clock
from layers.walking.round.legs import instruction
from layers.words import format_days
from server.live.contents import Contents
from server.rounds.planning import Planned, format_minutes


@dataclass(frozen=True)
class LegView:
    """One leg in words; `climb` is empty where heights are not known."""

    length: str
    minutes: str
    climb: str
    towards: str
    how: str


@dataclass(frozen=True)
class BoxView:
    """One box: why it is due, in few words and in sentences, what to expect, what to mind."""

    box: str
    name: str
    kinds: tuple[str, ...]
    why: tuple[str, ...]
    expected: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class StopView:
    """One stop; `at` is the time of arrival, `wait` how long until its hours begin (often
    empty), `stay` how long one is there.
    """

    order: int
    at: str
    wait: str
    stay: str
    look: bool
    leg: LegView
    boxes: tuple[BoxView, ...]


@dataclass(frozen=True)
class WalkView:
    """What one walker does.

    Attributes
    ----------
    climb
        Empty where heights are not known.
    query
        What opens this very walk again, also when its boxes are no longer due.
    """

    number: int
    stops: tuple[StopView, ...]
    home: LegView
    boxes: int
    length: str
    minutes: str
    climb: str
    leaves: str
    returns: str
    query: str


def walk_views(contents: Contents, planned: Planned) -> tuple[WalkView, ...]:
    """Those walks of a round that have stops."""
    return tuple(
        _walk(contents, planned, walk, number)
        for number, walk in enumerate(planned.round.walks, start=1)
        if walk.stops
    )


def _walk(contents: Contents, planned: Planned, walk: Walk, number: int) -> WalkView:
    assert walk.home is not None, "a walk with stops has a way home"
    leave_at = planned.round.leave_at
    stops = tuple(
        StopView(
            stop.order,
            clock(leave_at + stop.arrives),
            format_minutes(stop.waits) if stop.waits > 0.0 else "",
            format_minutes(stop.minutes),
            stop.watch_only,
            _leg(planned, stop.leg, look=stop.watch_only),
            tuple(_box(contents, planned, box) for box in stop.boxes),
        )
        for stop in walk.stops
    )
    boxes = [box for stop in walk.stops for box in stop.boxes]
    return WalkView(
        number,
        stops,
        _leg(planned, walk.home),
        len(boxes),
        format_distance(walk.length_m, planned.units),
        format_minutes(walk.minutes),
        _climb(planned, walk.climb_m),
        clock(leave_at),
        clock(leave_at + walk.minutes),
        walk_query(planned, boxes),
    )


def _leg(planned: Planned, leg: Leg, *, look: bool = False) -> LegView:
    how = instruction(leg, watch_only=look, units=planned.units)
    return LegView(
        format_distance(leg.length_m, planned.units),
        format_minutes(leg.minutes),
        _climb(planned, leg.climb_m),
        _towards(leg),
        _begun_large(how),
    )


def _towards(leg: Leg) -> str:
    """The direction of a leg's end, and that in which it sets out where the two differ."""
    first_deg = leg.strides[0].bearing_deg if leg.strides else leg.bearing_deg
    turned_deg = abs((first_deg - leg.bearing_deg + 180.0) % 360.0 - 180.0)
    return compass(leg.bearing_deg) if turned_deg <= 45.0 else f"setting out {compass(first_deg)}"


def _begun_large(text: str) -> str:
    return text[:1].upper() + text[1:]


def _climb(planned: Planned, climb_m: float | None) -> str:
    return "" if climb_m is None else format_distance(climb_m, planned.units)


def walk_query(planned: Planned, boxes: Sequence[str]) -> str:
    """The query that opens the walk over some boxes again, in their order."""
    wanted = planned.wanted
    query: list[tuple[str, str]] = [("set", "boxes")]
    plain = all(box.replace("-", "").replace("_", "").isalnum() for box in boxes)
    query += [("boxes", ",".join(boxes))] if plain else [("boxes", box) for box in boxes]
    query += [("order", "given"), ("from", planned.start.name)]
    if planned.end != planned.start:
        query.append(("to", planned.end.name))
    pace = wanted.pace
    query.append(("pace", f"{pace.kmh:g}" if isinstance(pace, Flat) else pace.name))
    query.append(("leave", clock(wanted.leave_at)))
    query.append(("stop_minutes", f"{wanted.stop_minutes:g}"))
    if wanted.breaks.minutes:
        query.append(("break_minutes", f"{wanted.breaks.minutes:g}"))
        query.append(("break_after", f"{wanted.breaks.after:g}"))
    query.append(("on", wanted.on.isoformat()))
    query += [("window", str(window)) for window in wanted.windows if window.box in boxes]
    return urlencode(query, safe=",:")


def _box(contents: Contents, planned: Planned, box: str) -> BoxView:
    on, one = planned.wanted.on, planned.dues.get(box)
    signs = sign_cautions(contents.histories, box, on=on)
    if one is None:
        expected: tuple[str, ...] = ()
        reasons: tuple[Reason, ...] = ()
        cautions = signs
    else:
        expected, reasons = (_begun_large(one.expected),), one.reasons
        cautions = [one.approach_text] * bool(one.approach_text) + signs * (one.approach == OPEN)
    return BoxView(
        box,
        contents.ground.box(box)["name"] or "",
        tuple(reason.kind for reason in reasons),
        tuple(reason.text for reason in reasons),
        (_seen_last(contents, box, on=on), *expected),
        tuple(cautions),
    )


def _seen_last(contents: Contents, box: str, *, on: date) -> str:
    """What the last visit up to a day found."""
    visits = contents.histories.visits
    seen = [i for i in contents.histories.visits_of(box) if visits.day[i] <= day_number(on)]
    if not seen:
        return "Never visited so far."
    last = day_of(int(visits.day[seen[-1]]))
    year = f" {last.year}" if last.year != on.year else ""
    return f"{format_days(last, last)}{year}: {_inside(visits, seen[-1])}."


def _inside(visits: Visits, at: int) -> str:
    """What one visit found inside, in words."""
    row = {
        name: None if (value := int(getattr(visits, name)[at])) < 0 else value
        for name in ("eggs", "young", "young_days", "dead_young")
    }
    words = {"eggs_warm": YES_NO, "adult": ADULT, "nest": NEST}
    coded = {
        name: None if (code := int(getattr(visits, name)[at])) < 0 else known[code]
        for name, known in words.items()
    }
    return inside(row | coded) or "nothing noted about the inside"
