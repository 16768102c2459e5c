"""The command that lists what boxes need before the next season."""

from __future__ import annotations

import argparse

from layers.nesting.winter import CAUTIONS, ROUTINE
from layers.words import format_long_day
from server.terminal import add_day, add_json, add_trail, opened_on, print_json, print_table
from server.winter.view import notes_of, winter_of


def _arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_day(command)
    add_json(command)
    command.set_defaults(run=_winter)


def _winter(arguments: argparse.Namespace) -> int:
    with opened_on(arguments) as (trail, contents, on):
        found = winter_of(contents, on=on, notes=notes_of(trail, on=on))
    if arguments.json:
        print_json(found.json())
        return 0
    if not found.boxes:
        print(f"The trail had no box on {format_long_day(on)}.")
        return 0
    boxes = f"{found.boxes} box{'' if found.boxes == 1 else 'es'}"
    print(f"Something is to be done at {len(found.to_do)} of {boxes}. {found.order_text}\n")
    if found.to_do:
        print_table(
            ("box", "job", "why"),
            [(one.box, job.kind, job.text) for one in found.to_do for job in one.jobs],
        )
    for box in found.waiting:
        print(f"Box {box}: a nest may still be going on; nothing is to be done before it is over.")
    if found.routine:
        print(f"\nAt every box, and at {', '.join(found.routine)} nothing else: {ROUTINE}")
    if found.unused:
        print("\nUnused for years, and what may explain it")
    for one in found.unused:
        assert one.unused is not None
        print(f"Box {one.box}: {one.unused.text}")
        for why in one.unused.likely:
            print("  " + " ".join((why.text, *why.sources)))
        if not one.unused.likely:
            print("  Nothing in the record explains it.")
    print()
    for caution in CAUTIONS:
        print(caution)
    return 0


ARGUMENTS = {"winter": _arguments}
