"""The command that lists what is due, and writes the nest calendar."""

from __future__ import annotations

import argparse
from pathlib import Path

from layers.nesting.cautions import ON_A_ROUND
from server.due.view import calendar_file, due_records
from server.terminal import (
    add_day,
    add_json,
    add_trail,
    opened_on,
    print_json,
    print_table,
    writing,
)


def _arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_day(command)
    command.add_argument("--all", action="store_true", help="also boxes that need no visit")
    command.add_argument(
        "--calendar", type=Path, metavar="FILE", help="write hatching, closed and check days (.ics)"
    )
    add_json(command)
    command.set_defaults(run=_due)


def _due(arguments: argparse.Namespace) -> int:
    with opened_on(arguments) as (_, contents, on):
        listed = contents.due(on)
        shown = due_records(contents, listed, on=on, everything=arguments.all)
        if arguments.calendar is not None:
            with writing(arguments.calendar):
                arguments.calendar.write_bytes(calendar_file(contents, on=on))
    if arguments.json:
        print_json(shown)
        return 0
    print_table(
        ("box", "how urgent", "until", "how to approach", "why", "inside"),
        [
            (
                one["box"],
                one["urgency"],
                one["until"],
                one["approach"],
                " ".join([*(reason["text"] for reason in one["reasons"]), one["approach_text"]]),
                one["expected"],
            )
            for one in shown
        ],
    )
    print(f"\n{sum(one.due for one in listed)} of {len(listed)} boxes are due on {on}.")
    for caution in ON_A_ROUND:
        print(caution)
    return 0


ARGUMENTS = {"due": _arguments}
