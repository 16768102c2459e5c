"""The command that plans a week."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from layers.errors import NotKnown
from layers.trail.measures import format_distance
from layers.walking.pace import pace_of
from layers.walking.round.breaks import Breaks
from layers.words import format_count, format_long_day
from server.rounds.command import add_breaks
from server.rounds.learnt import offered
from server.rounds.planning import format_minutes
from server.terminal import (
    add_day,
    add_json,
    add_trail,
    day_or_today,
    opened,
    print_json,
    print_table,
    write_new,
)
from server.week.view import (
    Week,
    WeekRequest,
    describe_walk_times,
    read_free,
    week_days,
    week_of,
)


def _arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument(
        "--free",
        action="append",
        default=[],
        required=True,
        metavar="WALKER:DAY MINUTES,…",
        help="who has how many minutes when, such as 'Ann: Wed 180, Sat 120'; once a walker",
    )
    command.add_argument(
        "--reserve", action="append", default=[], metavar="DAY", help="a rain day, used in need"
    )
    command.add_argument(
        "--without", action="append", default=[], metavar="DAY", help="a day that fell out"
    )
    command.add_argument("--from", dest="start", metavar="PLACE", help="where walks set out")
    command.add_argument("--pace", default="normal", help="as for walk")
    command.add_argument(
        "--learnt-pace", action="store_true", help="walk and stop as the trail's own rounds did"
    )
    add_breaks(command)
    command.add_argument("--calendar", type=Path, metavar="FILE", help="write the walks as events")
    add_day(command)
    add_json(command)
    command.set_defaults(run=_week)


def _week(arguments: argparse.Namespace) -> int:
    with opened(arguments.trail) as (_, contents):
        on = day_or_today(arguments.on, contents)
        wanted = WeekRequest(
            on=on,
            free=read_free(arguments.free, on=on),
            reserve=week_days(arguments.reserve, on=on),
            without=week_days(arguments.without, on=on),
            start=arguments.start,
            pace=pace_of(arguments.pace),
            breaks=Breaks(arguments.break_minutes, arguments.break_after),
        )
        pace = offered(contents, on=on, pace=wanted.pace, stop_minutes=wanted.stop_minutes)
        if arguments.learnt_pace:
            if pace is None:
                raise NotKnown("The times of visits show no pace yet: leave out --learnt-pace")
            wanted = replace(wanted, pace=pace.pace, stop_minutes=pace.stop_minutes)
        found = week_of(contents, wanted)
        if arguments.calendar is not None:
            write_new(arguments.calendar, found.calendar(contents).decode())
    if arguments.json:
        print_json(found.json())
        return 0
    _print(found)
    if pace is not None and not arguments.learnt_pace:
        print(f"{pace.text} To plan with it: --learnt-pace")
    return 0


def _print(week: Week) -> None:
    first, last = week.request.days[0], week.request.days[-1]
    boxes = format_count(week.due, "box is", "boxes are")
    print(f"From {format_long_day(first)} to {format_long_day(last)} {boxes} due.\n")
    rows = [
        (
            format_long_day(walk.on),
            walk.walker,
            describe_walk_times(walk),
            format_distance(walk.round.round.length_m, walk.round.units),
            f"{format_minutes(walk.round.round.minutes)} of {format_minutes(walk.free_minutes)}",
            " ".join(walk.boxes),
        )
        for walk in week.walks
    ]
    print_table(("day", "walker", "at", "length", "time", "boxes in order"), rows)
    if week.missed:
        print("\nNot visited")
        rows_missed = [
            (one.box, "open" if one.until is None else str(one.until), one.reason)
            for one in week.missed
        ]
        print_table(("box", "due until", "why"), rows_missed)


ARGUMENTS: Mapping[str, Callable[[argparse.ArgumentParser], None]] = MappingProxyType(
    {"week": _arguments}
)
