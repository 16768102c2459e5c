"""Commands that go along the paths: walk and length."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import geopandas as gpd
import numpy as np

from layers.errors import BadValue, Conflict, NotKnown, TrailFull
from layers.nesting.timeline import OUT_OF_SERVICE
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.words import OCCUPANCY, nearest_words
from layers.walking.distances import Walking
from layers.walking.gpx import gpx_text
from layers.walking.network.attach import Spot, attach
from layers.walking.network.barriers import barriers_from
from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.network.lines import lines_from
from layers.walking.network.report import Report
from layers.walking.pace import PACES, Pace, pace_of
from layers.walking.round import Call, LeftOut, Problem, Round, Walk, plan
from layers.walking.round.directions import Units, instruction, length_text
from layers.walking.round.problem import clock
from layers.walking.round.written import round_json
from server.commands.opened import day_or_today, opened
from server.commands.words import add_day, add_json, add_trail, print_json, print_table
from server.contents import Ground
from server.near import near
from server.states import box_states

NEVER_VISITED_COUNTS = 2
"""A box not visited in the season is as urgent as one unvisited for this many times the
trail's days between visits (common practice, no source)."""

NOT_KNOWN = "not known"


def _walk_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument(
        "--from",
        dest="start",
        metavar="PLACE",
        help="where to set out; the trail's first start if left out",
    )
    command.add_argument(
        "--to", dest="end", metavar="PLACE", help="where to end; back at the start if left out"
    )
    which = command.add_mutually_exclusive_group()
    which.add_argument("--boxes", nargs="+", metavar="BOX", help="only these boxes")
    which.add_argument("--section", nargs="+", metavar="SECTION", help="only boxes of these")
    which.add_argument("--overdue", action="store_true", help="only boxes overdue for a visit")
    add_day(command)
    command.add_argument("--minutes", type=float, metavar="N", help="time that each walker has")
    command.add_argument(
        "--walkers", type=int, default=1, metavar="K", help="how many people share the boxes"
    )
    command.add_argument(
        "--pace",
        default="tobler",
        help=f"{', '.join(PACES)}, or a speed in km/h; tobler if left out",
    )
    command.add_argument(
        "--stop-minutes",
        type=float,
        default=Call.minutes,
        metavar="M",
        help=f"time spent at each box; {Call.minutes:g} if left out",
    )
    command.add_argument("--gpx", type=Path, metavar="FILE", help="write it for a GPS or phone")
    add_json(command)
    command.set_defaults(run=_walk)


def _walk(asked: argparse.Namespace) -> int:
    pace = pace_of(asked.pace)
    with opened(asked.trail) as (_, contents):
        on = day_or_today(asked.on, contents)
        states = _chosen(box_states(contents, on), asked)
        ground, settings = contents.ground, contents.settings
    calls, left_out = _calls(states, ground, settings=settings, minutes=asked.stop_minutes)
    start = _start(ground.places, asked.start)
    end = start if asked.end is None else _place(ground.places, asked.end)
    network, report = _paths(ground.paths)
    planned = plan(
        Problem(
            network,
            calls,
            start,
            None if end == start else end,
            barriers=barriers_from(ground.zones.to_dict("records")),
            hazards=_spots(ground.places, kind="hazard"),
            budget_minutes=asked.minutes,
            walkers=asked.walkers,
        ),
        pace=pace,
    )
    planned = replace(planned, left_out=(*planned.left_out, *left_out))
    units = _units(settings)
    if asked.gpx is not None:
        title = f"{settings.name} {on}"
        _write_new(asked.gpx, gpx_text(planned, name=title, start=start, end=end, units=units))
    notes = replace(report, ends=(), merged=(), apart=()).sentences()
    if asked.json:
        head = {"on": on.isoformat(), "from": start.name, "to": end.name}
        print_json(head | round_json(planned, units=units) | {"path_notes": notes})
        return 0
    default = " (the first start of the trail)" if asked.start is None else ""
    print(
        f"Round on {on} from {start.name}{default} to {end.name}, {asked.stop_minutes:g} min a box"
    )
    _tell(planned, notes, units=units, heights=_has_heights(network))
    if asked.gpx is not None:
        print(
            f"Wrote {asked.gpx}. It shows exact places: give it only to people who may know them."
        )
    return 0


def _chosen(states: Sequence[dict[str, Any]], asked: argparse.Namespace) -> list[dict[str, Any]]:
    """States of the boxes asked for; those named by hand also where they are out of service."""
    if asked.boxes is not None:
        by_id = {state["box"]: state for state in states}
        ids = dict.fromkeys(_known(box, by_id, "the id of a box") for box in asked.boxes)
        return [by_id[box] for box in ids]
    serving = [state for state in states if state["occupancy"] != OCCUPANCY[OUT_OF_SERVICE]]
    if asked.section is not None:
        names = [state["section"] for state in states if state["section"]]
        sections = {_known(name, names, "a section of the trail") for name in asked.section}
        return [state for state in serving if state["section"] in sections]
    if asked.overdue:
        return [s for s in serving if s["overdue"] or s["days_since_visit"] is None]
    return serving


def _known(asked: str, known: Iterable[str], what: str) -> str:
    """The known name that is meant, in any case; `NotKnown` names the nearest."""
    names = dict.fromkeys(known)
    found = asked if asked in names else {n.casefold(): n for n in names}.get(asked.casefold())
    if found is None:
        close = nearest_words(asked, names)
        hint = f" (nearest: {', '.join(close)})" if close else ""
        raise NotKnown(f"Expected {what}{hint}, got {asked!r}")
    return found


def _calls(
    states: Iterable[dict[str, Any]], ground: Ground, *, settings: Settings, minutes: float
) -> tuple[tuple[Call, ...], tuple[LeftOut, ...]]:
    """The boxes to see, the more urgent the longer they went unvisited; those without a place."""
    points = dict(zip(ground.ids, ground.boxes.geometry, strict=True))
    never = NEVER_VISITED_COUNTS * settings.visit_every_days
    calls, left_out = [], []
    for state in states:
        box, days, point = state["box"], state["days_since_visit"], points[state["box"]]
        if point is None:
            left_out.append(LeftOut(box, "it has no place on the map"))
        else:
            urgency = 1.0 + (never if days is None else days)
            calls.append(Call(box, point.x, point.y, minutes=minutes, urgency=urgency))
    return tuple(calls), tuple(left_out)


def _spots(places: gpd.GeoDataFrame, *, kind: str | None = None) -> tuple[Spot, ...]:
    """The named places of a kind, or of any."""
    return tuple(
        Spot(name, point.x, point.y)
        for name, this, point in zip(places["name"], places["kind"], places.geometry, strict=True)
        if name and point is not None and kind in (None, this)
    )


def _place(places: gpd.GeoDataFrame, name: str) -> Spot:
    spots = {spot.name: spot for spot in reversed(_spots(places))}
    return spots[_known(name, spots, "a place of the trail")]


def _start(places: gpd.GeoDataFrame, name: str | None) -> Spot:
    if name is not None:
        return _place(places, name)
    starts = _spots(places, kind="start")
    if not starts:
        raise BadValue("a place of kind start in the trail, or --from PLACE", "neither")
    return starts[0]


def _paths(paths: gpd.GeoDataFrame) -> tuple[Network, Report]:
    lines, unused = lines_from(paths.to_dict("records"))
    return build_network(lines, unused=unused)


def _units(settings: Settings) -> Units:
    return "us" if settings.units == "us" else "metric"


def _has_heights(network: Network) -> bool:
    return bool(np.isfinite(network.vertex_height_m).any())


def _write_new(target: Path, text: str) -> None:
    try:
        with target.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as error:
        raise Conflict(f"Expected a new file name, got {target.name}, which exists") from error
    except OSError as error:
        raise TrailFull(f"{target} cannot be written: {error.strerror}") from error


def _tell(planned: Round, notes: Iterable[str], *, units: Units, heights: bool) -> None:
    for number, walk in enumerate(planned.walks, start=1):
        if len(planned.walks) > 1:
            print(f"\nWalker {number}" + ("" if walk.stops else ": no box left to visit"))
        if walk.stops:
            _tell_walk(walk, planned.leave_at, units=units, heights=heights)
    if len(planned.walks) > 1:
        total = length_text(planned.length_m, units=units)
        print(f"\nAll walks together {total}, the longest {_said_minutes(planned.minutes)}")
    if planned.left_out:
        print("\nLeft out")
        print_table(("box", "why"), [(left.box, left.reason) for left in planned.left_out])
    print()
    for sentence in (*planned.warnings, *notes):
        print(f"Note: {sentence}")
    print(f"Proof: {planned.proof}")


def _tell_walk(walk: Walk, leave_at: float, *, units: Units, heights: bool) -> None:
    boxes = sum(len(stop.boxes) for stop in walk.stops)
    climb = length_text(walk.climb_m, units=units) if heights else NOT_KNOWN
    print(
        f"{boxes} box{'' if boxes == 1 else 'es'}, {length_text(walk.length_m, units=units)}, "
        f"{_said_minutes(walk.minutes)}, climb {climb}; "
        f"leaving at {clock(leave_at)}, back at {clock(leave_at + walk.minutes)}\n"
    )
    rows = [
        (
            stop.order,
            clock(leave_at + stop.arrives),
            " and ".join(stop.boxes),
            instruction(stop.leg, look=stop.look, units=units),
        )
        for stop in walk.stops
    ]
    home = walk.home
    assert home is not None, "a walk with stops has a way home"
    last = ("", clock(leave_at + walk.minutes), home.end, instruction(home, units=units))
    print_table(("", "at", "box", "how to get there"), [*rows, last])


def _said_minutes(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"


def near_walking(
    ground: Ground, *, lon: float, lat: float, k: int, pace: Pace
) -> list[dict[str, Any]]:
    """The `k` boxes nearest to a place along the paths, nearest first.

    Boxes that cannot be reached are left out, so there may be fewer.

    Returns
    -------
    list of dict
        `box`, `walk_m` and `minutes` of the quickest way at the pace.

    Raises
    ------
    BadValue
        The place cannot be reached from the paths.
    """
    if not ground.placed:
        return []
    network, _ = _paths(ground.paths)
    barriers = barriers_from(ground.zones.to_dict("records"))
    number = k
    while True:
        straight = near(ground, lon=lon, lat=lat, k=number)
        at = [ground.box(each["box"]) for each in straight]
        spots = [Spot("here", lon, lat), *(Spot(box["box"], box["lon"], box["lat"]) for box in at)]
        attached = attach(network, spots, barriers=barriers)
        if attached.reasons[0]:
            came = f"{lat}, {lon}: {attached.reasons[0]}"
            raise BadValue("a place that the paths can be reached from", came)
        walking = Walking(attached, pace)
        length_m, minutes = walking.length_m[0].tolist(), walking.minutes[0].tolist()
        found = [
            {"box": spots[n].name, "walk_m": round(length_m[n], 1), "minutes": round(minutes[n], 2)}
            for n in sorted(range(1, len(spots)), key=lambda n: length_m[n])
            if np.isfinite(length_m[n])
        ][:k]
        # No walk is shorter than the straight line, so no box beyond these can be nearer.
        enough = len(found) == k and found[-1]["walk_m"] <= straight[-1]["distance_m"]
        if enough or len(straight) < number:
            return found
        number *= 2


def _length_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_json(command)
    command.set_defaults(run=_length)


def _length(asked: argparse.Namespace) -> int:
    with Trail.open(asked.trail) as trail:
        network, report = _paths(trail.paths())
        units = _units(trail.settings())
    paths = _measured(network)
    whole = {name: _total(paths, name) for name in ("length_m", "climb_m", "descent_m")}
    notes = report.sentences()
    if asked.json:
        print_json(
            {"paths": [_rounded(path) for path in paths]} | _rounded(whole) | {"path_notes": notes}
        )
        return 0

    def said(row: Mapping[str, Any]) -> list[str]:
        return [NOT_KNOWN if row[m] is None else length_text(row[m], units=units) for m in whole]

    rows = [(path["name"], *said(path)) for path in paths]
    print_table(("path", "length", "climb", "descent"), [*rows, ("all together", *said(whole))])
    for note in notes:
        print(f"Note: {note}")
    return 0


def _measured(network: Network) -> list[dict[str, Any]]:
    """Length, climb and descent by the name of a path, in the direction it was drawn.

    Climb and descent are None where the path has no heights.
    """
    sums = [
        np.bincount(network.line, weights=values, minlength=len(network.lines)).tolist()
        for values in (network.length_m, network.up_m, network.down_m)
    ]
    paths: dict[str, dict[str, Any]] = {}
    for line, length_m, up_m, down_m in zip(network.lines, *sums, strict=True):
        path = paths.setdefault(
            line.name, {"name": line.name, "length_m": 0.0, "climb_m": None, "descent_m": None}
        )
        path["length_m"] += length_m
        if np.isfinite(line.height_m).any():
            path["climb_m"] = (path["climb_m"] or 0.0) + up_m
            path["descent_m"] = (path["descent_m"] or 0.0) + down_m
    return list(paths.values())


def _total(paths: Iterable[Mapping[str, Any]], name: str) -> float | None:
    """The sum over the paths for which it is known; None if there are paths, but none such."""
    known = [path[name] for path in paths if path[name] is not None]
    return sum(known, 0.0) if known or name == "length_m" else None


def _rounded(row: Mapping[str, Any]) -> dict[str, Any]:
    return {k: round(value, 1) if isinstance(value, float) else value for k, value in row.items()}


ARGUMENTS: Mapping[str, Callable[[argparse.ArgumentParser], None]] = MappingProxyType(
    {"walk": _walk_arguments, "length": _length_arguments}
)
