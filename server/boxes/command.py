"""Commands about boxes and nests: nests, status."""

from __future__ import annotations

import argparse
from collections import Counter
from typing import Any

from layers.nesting.dating import AttemptDates, Dated
from layers.nesting.nests import begun, nests
from layers.trail.settings import season_of
from layers.trail.words import OCCUPANCY
from server.boxes.view import box_states
from server.terminal import add_day, add_json, add_trail, opened_on, print_json, print_table


def _nests_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_day(command)
    command.add_argument("--box", help="only of this box, all its seasons")
    command.add_argument(
        "--season", type=int, help="only of this season; the day's own if left out"
    )
    add_json(command)
    command.set_defaults(run=_nests)


def _nests(arguments: argparse.Namespace) -> int:
    with opened_on(arguments) as (_, contents, on):
        season = arguments.season
        if season is None and arguments.box is None:
            season = season_of(on, contents.settings.season_starts)
        if arguments.box is not None:
            contents.ground.row(arguments.box)
        known = contents.known_on(on)
        dates = known.dates()
        found = nests(known.histories, dates, on=on, box=arguments.box, season=season)
        if arguments.json:
            at = begun(known.histories, on=on, box=arguments.box, season=season)
            record = [_dates(dates.of(attempt)) for attempt in at]
            print_json([nest | {"dates": own} for nest, own in zip(found, record, strict=True)])
            return 0
    heads = ("box", "nest", "species", "first seen", "last seen", "stage", "fate", "young")
    print_table(
        heads,
        [
            (
                nest["box"],
                f"{nest['season']}.{nest['attempt']}",
                nest["species"] or "not recorded",
                nest["first_seen"],
                nest["last_seen"],
                nest["stage"],
                nest["fate"] + (f": {nest['cause']}" if nest["cause"] else ""),
                nest["young_fledged"],
            )
            for nest in found
        ],
    )
    if arguments.box is not None:
        for nest in found:
            print(f"\n{nest['season']}.{nest['attempt']}")
            for reason in nest["reasons"]:
                print(f"  {reason}")
    fates = Counter(nest["fate"] for nest in found)
    text = ", ".join(f"{number} {fate}" for fate, number in fates.most_common())
    number = f"{len(found)} nest{'' if len(found) == 1 else 's'}"
    print(f"\n{number} as known on {on}" + (f": {text}." if found else "."))
    return 0


def _dates(one: AttemptDates) -> dict[str, Any]:
    """Best day, and first and last day of two intervals, of each event; None where not dated."""
    record: dict[str, Any] = {"chance_hatched": one.hatched, "chance_fledged": one.fledged}
    for name in ("first_egg", "complete", "hatch", "fledge", "loss"):
        event: Dated | None = getattr(one, name)
        record[name] = event and {
            "best": event.best,
            "within_80": event.days_80,
            "within_95": event.days_95,
        }
    return record


def _status_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_day(command)
    add_json(command)
    command.set_defaults(run=_status)


def _status(arguments: argparse.Namespace) -> int:
    with opened_on(arguments) as (_, contents, on):
        states = box_states(contents, on)
    if arguments.json:
        print_json(states)
        return 0
    print_table(
        ("box", "section", "box use", "species", "latest nest", "days since visit"),
        [
            (
                state["box"],
                state["section"],
                state["occupancy"],
                state["species"],
                state["fate"],
                "none this season"
                if state["days_since_visit"] is None
                else f"{state['days_since_visit']}{' overdue' if state['overdue'] else ''}",
            )
            for state in states
        ],
    )
    counts = Counter(state["occupancy"] for state in states)
    text = ", ".join(f"{counts[word]} {word}" for word in OCCUPANCY if counts[word])
    print(f"\n{len(states)} boxes as known on {on}" + (f": {text}." if states else "."))
    return 0


ARGUMENTS = {"nests": _nests_arguments, "status": _status_arguments}
