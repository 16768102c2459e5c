"""The command that lists what is due, and writes the nest calendar."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from layers.errors import TrailFull
from layers.nesting.calendar import nest_calendar
from layers.nesting.cautions import ALWAYS
from layers.nesting.dating import date_attempts
from layers.nesting.due import due
from server.clock import utc_now
from server.commands.opened import day_or_today, opened
from server.commands.words import add_day, add_json, add_trail, print_json, print_table


def _arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_day(command)
    command.add_argument("--all", action="store_true", help="also boxes that need no visit")
    command.add_argument(
        "--calendar", type=Path, metavar="FILE", help="write hatching, closed and check days (.ics)"
    )
    add_json(command)
    command.set_defaults(run=_due)


def _due(asked: argparse.Namespace) -> int:
    with opened(asked.trail) as (_, contents):
        on = day_or_today(asked.on, contents)
        dates = date_attempts(contents.histories)
        boxes = contents.ground.boxes
        listed = due(
            contents.histories,
            on=on,
            settings=contents.settings,
            dates=dates,
            service=contents.service,
            guards=dict(zip(boxes["box"], boxes["guards"], strict=True)),
        )
        if asked.calendar is not None:
            body = nest_calendar(
                contents.histories,
                dates,
                on=on,
                trail=contents.settings.name,
                made_at=utc_now(),
                version=contents.version,
            )
            try:
                asked.calendar.write_bytes(body)
            except OSError as error:
                raise TrailFull(f"{asked.calendar} cannot be written: {error.strerror}") from error
    shown = [one for one in listed if one.due or asked.all]
    if asked.json:
        print_json(shown)
        return 0
    print_table(
        ("box", "how urgent", "until", "how to look", "why"),
        [
            (
                one.box,
                one.urgency,
                one.until,
                one.look,
                " ".join(reason.said for reason in one.reasons) or one.look_said,
            )
            for one in shown
        ],
    )
    print(f"\n{sum(one.due for one in listed)} of {len(listed)} boxes are due on {on}.")
    for caution in ALWAYS:
        print(caution)
    return 0


ARGUMENTS: Mapping[str, Callable[[argparse.ArgumentParser], None]] = MappingProxyType(
    {"due": _arguments}
)
