"""Commands that go along the paths: walk and length."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from layers.errors import BadValue, NotKnown
from layers.trail.measures import format_distance
from layers.trail.store import Trail
from layers.walking.network.graph import Network
from layers.walking.pace import PACES, pace_of
from layers.walking.round import Walk
from layers.walking.round.breaks import NO_BREAKS, Breaks
from layers.walking.round.clock import clock
from layers.walking.round.legs import Units, instruction
from server.live.clock import Clock
from server.rounds.learnt import offered
from server.rounds.paths import built
from server.rounds.planning import (
    NO_START,
    Planned,
    describe_proof,
    format_minutes,
    planned,
    units_of,
)
from server.rounds.request import RoundRequest, Sample, read_time, read_windows
from server.rounds.sheet import sheet_file
from server.terminal import (
    add_day,
    add_json,
    add_trail,
    day,
    day_or_today,
    opened,
    print_json,
    print_table,
    write_new,
)

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
    which.add_argument(
        "--due",
        nargs="?",
        type=day,
        const=True,
        metavar="DATE",
        help="only boxes that are due, on that day or on the one of --on",
    )
    add_day(command)
    command.add_argument("--minutes", type=float, metavar="N", help="time that each walker has")
    command.add_argument(
        "--walkers", type=int, default=1, metavar="K", help="how many people share the boxes"
    )
    command.add_argument(
        "--pace",
        default="normal",
        help=f"{', '.join(PACES)}, or a speed in km/h; normal if left out",
    )
    command.add_argument(
        "--stop-minutes",
        type=float,
        default=RoundRequest.stop_minutes,
        metavar="M",
        help=f"time for a look inside one box; {RoundRequest.stop_minutes:g} if left out",
    )
    command.add_argument(
        "--learnt-pace", action="store_true", help="walk and stop as the trail's own rounds did"
    )
    add_breaks(command)
    command.add_argument(
        "--leave", default="08:00", metavar="HH:MM", help="when to set out; 08:00 if left out"
    )
    command.add_argument(
        "--window",
        action="append",
        default=[],
        metavar="BOX=HH:MM-HH:MM",
        help="hours between which the visit to a box may begin; may be given several times",
    )
    command.add_argument(
        "--like",
        nargs="+",
        default=[],
        metavar="BOX",
        help="boxes in the order of an earlier round, to stay near it where that costs little",
    )
    command.add_argument(
        "--seconds",
        type=float,
        metavar="S",
        help="stop searching after this; the best round so far is shown",
    )
    command.add_argument("--gpx", type=Path, metavar="FILE", help="write it for a GPS or phone")
    command.add_argument("--sheet", type=Path, metavar="FILE", help="write a sheet to print (HTML)")
    command.add_argument("--large-print", action="store_true", help="the sheet in large print")
    add_json(command)
    command.set_defaults(run=_walk)


def add_breaks(command: argparse.ArgumentParser) -> None:
    """Options for breaks, of a round or of the walks of a week."""
    command.add_argument(
        "--break-minutes",
        type=float,
        default=NO_BREAKS.minutes,
        metavar="M",
        help="minutes of a break; none if left out",
    )
    command.add_argument(
        "--break-after",
        type=float,
        default=NO_BREAKS.after,
        metavar="M",
        help=f"a break comes after every so many minutes; {NO_BREAKS.after:g} if left out",
    )


def _walk(arguments: argparse.Namespace) -> int:
    if isinstance(arguments.due, date) and arguments.on not in (None, arguments.due):
        raise BadValue("one day", f"--due {arguments.due} and --on {arguments.on}")
    requested_on = arguments.due if isinstance(arguments.due, date) else arguments.on
    which, names = _which(arguments)
    with opened(arguments.trail) as (_, contents):
        wanted = RoundRequest(
            on=day_or_today(requested_on, contents),
            which=which,
            names=names,
            start=arguments.start,
            end=arguments.end,
            budget_minutes=arguments.minutes,
            walkers=arguments.walkers,
            pace=pace_of(arguments.pace),
            stop_minutes=arguments.stop_minutes,
            leave_at=read_time(arguments.leave, column="leave"),
            windows=read_windows(arguments.window, contents.ground.ids),
            like=tuple(arguments.like),
            breaks=Breaks(arguments.break_minutes, arguments.break_after),
        )
        pace = offered(contents, on=wanted.on, pace=wanted.pace, stop_minutes=wanted.stop_minutes)
        if arguments.learnt_pace:
            if pace is None:
                raise NotKnown("The times of visits show no pace yet: leave out --learnt-pace")
            wanted = replace(wanted, pace=pace.pace, stop_minutes=pace.stop_minutes)
        found = planned(contents, wanted, enough=_enough(arguments.seconds))
        written = []
        if arguments.gpx is not None:
            written.append(write_new(arguments.gpx, found.gpx()))
        if arguments.sheet is not None:
            written.append(
                write_new(arguments.sheet, sheet_file(contents, found, large=arguments.large_print))
            )
    if arguments.json:
        print_json(found.json())
        return 0
    _tell(found, start_text=arguments.start is None)
    if pace is not None and not arguments.learnt_pace:
        print(f"{pace.text} To plan with it: --learnt-pace")
    for target in written:
        print(f"Wrote {target}. It shows exact places: give it only to people who may know them.")
    return 0


def _enough(seconds: float | None) -> Callable[[], bool]:
    """Whether the search took its time; never without a limit."""
    if seconds is None:
        return lambda: False
    if not 0.0 < seconds < math.inf:
        raise BadValue("seconds above 0 for the search", f"{seconds:g}", column="seconds")
    ends_s = Clock.now_s() + seconds
    return lambda: Clock.now_s() > ends_s


def _which(arguments: argparse.Namespace) -> tuple[Sample, tuple[str, ...]]:
    if arguments.boxes is not None:
        return "boxes", tuple(arguments.boxes)
    if arguments.section is not None:
        return "section", tuple(arguments.section)
    return ("all" if arguments.due is None else "due"), ()


def _tell(found: Planned, *, start_text: bool) -> None:
    wanted, walked, units = found.wanted, found.round, found.units
    chosen = start_text and NO_START not in walked.warnings
    default = " (the first start of the trail)" if chosen else ""
    print(
        f"Round on {wanted.on} from {found.start.name}{default} to {found.end.name}, "
        f"{wanted.stop_minutes:g} min for a look inside"
    )
    for number, walk in enumerate(walked.walks, start=1):
        if len(walked.walks) > 1:
            print(f"\nWalker {number}" + ("" if walk.stops else ": no box left to visit"))
        if walk.stops:
            _tell_walk(walk, walked.leave_at, units=units)
    if len(walked.walks) > 1:
        total = format_distance(walked.length_m, units)
        print(f"\nAll walks together {total}, the longest {format_minutes(walked.minutes)}")
    if walked.left_out:
        print("\nLeft out")
        print_table(("box", "why"), [(left.box, left.reason) for left in walked.left_out])
    print()
    for sentence in (*walked.warnings, *found.order_notes, *found.path_notes):
        print(f"Note: {sentence}")
    if any(walk.stops for walk in walked.walks):
        for sentence in found.assumptions:
            print(sentence)
        print(describe_proof(walked.proof))


def _tell_walk(walk: Walk, leave_at: float, *, units: Units) -> None:
    boxes = sum(len(stop.boxes) for stop in walk.stops)
    climb = NOT_KNOWN if walk.climb_m is None else format_distance(walk.climb_m, units)
    print(
        f"{boxes} box{'' if boxes == 1 else 'es'}, {format_distance(walk.length_m, units)}, "
        f"{format_minutes(walk.minutes)}, climb {climb}; "
        f"leaving at {clock(leave_at)}, back at {clock(leave_at + walk.minutes)}\n"
    )
    rows = [
        (
            stop.order,
            clock(leave_at + stop.arrives),
            " and ".join(stop.boxes),
            instruction(stop.leg, watch_only=stop.watch_only, units=units)
            + (f"; wait {format_minutes(stop.waits)}" if stop.waits > 0.0 else ""),
        )
        for stop in walk.stops
    ]
    home = walk.home
    assert home is not None, "a walk with stops has a way home"
    last = ("", clock(leave_at + walk.minutes), home.end, instruction(home, units=units))
    print_table(("", "at", "box", "how to get there"), [*rows, last])


def _length_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_json(command)
    command.set_defaults(run=_length)


def _length(arguments: argparse.Namespace) -> int:
    with Trail.open(arguments.trail) as trail:
        network, report = built(trail.paths())
        units = units_of(trail.settings())
    paths = _measured(network)
    whole = {name: _total(paths, name) for name in ("length_m", "climb_m", "descent_m")}
    notes = report.sentences()
    if arguments.json:
        print_json(
            {"paths": [_rounded(path) for path in paths]} | _rounded(whole) | {"path_notes": notes}
        )
        return 0

    def said(row: Mapping[str, Any]) -> list[str]:
        return [NOT_KNOWN if row[m] is None else format_distance(row[m], units) for m in whole]

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
