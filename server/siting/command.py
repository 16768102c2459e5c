"""The command that judges places for a box."""

from __future__ import annotations

import argparse

from layers.errors import BadValue
from layers.nesting.siting import ALWAYS, ROOMS, Siting
from layers.trail.measures import format_distance
from layers.words import format_count
from server.siting.view import Room, room_for, room_json, sited, siting_json
from server.terminal import add_day, add_json, add_trail, opened_on, print_json, print_table

MOST = 10
"""Spots listed unless more are requested."""


def _arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("lat", type=float, nargs="?", metavar="LAT", help="of a place to judge")
    command.add_argument("lon", type=float, nargs="?", metavar="LON")
    command.add_argument("--species", metavar="NAME", help="without a place: for whom to look")
    command.add_argument(
        "-n", "--most", type=int, default=MOST, metavar="N", help="spots at most; 10"
    )
    add_day(command)
    add_json(command)
    command.set_defaults(run=_site)


def _site(arguments: argparse.Namespace) -> int:
    if (arguments.lon is None) == (arguments.species is None):
        raise BadValue("LAT and LON of a place, or --species to look for one", "neither or both")
    with opened_on(arguments) as (_, contents, on):
        units = contents.settings.units
        if arguments.species is not None:
            room = room_for(contents, arguments.species, on=on, most=arguments.most)
            print_json(room_json(room)) if arguments.json else _print_room(room, units)
        else:
            found = sited(contents, lon=arguments.lon, lat=arguments.lat, on=on)
            print_json(siting_json(found)) if arguments.json else _print_siting(found)
    return 0


def _print_siting(found: Siting) -> None:
    for reason in found.against:
        print(f"No box here. {reason.text}")
    for reason in found.cautions:
        print(reason.text)
    nested = [one for one in found.species if one.nests] or list(found.species)
    for one in nested:
        reasons = [one.why, *([] if one.habitat is None else [one.habitat])]
        nests = format_count(one.nests, "nest", "nests")
        print(
            f"\n{one.species} ({nests} here): {one.room}\n  "
            + "\n  ".join(why.text for why in reasons)
        )
    print()
    for room in ROOMS:
        names = [one.species for one in found.species if one.room == room and one not in nested]
        if names:
            print(f"No nest here yet, {room}: {', '.join(names)}")
    print()
    for text in ALWAYS:
        print(text)


def _print_room(room: Room, units: str) -> None:
    apart = format_distance(room.apart_m, units)
    print_table(
        ("spot", "lat", "lon", "path", "nearest box", "away", "habitat"),
        [
            (
                order,
                f"{one.lat:.5f}",
                f"{one.lon:.5f}",
                one.path,
                one.next_box,
                None if one.next_m is None else format_distance(one.next_m, units),
                "not known" if one.habitat is None else one.habitat.text,
            )
            for order, one in enumerate(room.spots, start=1)
        ],
    )
    spots = format_count(len(room.spots), "spot", "spots")
    print(
        f"\n{spots.capitalize()} along the paths at least {apart} from every box that could serve "
        f"the {room.species}, and from each other. {' '.join(room.sources)}"
    )


ARGUMENTS = {"site": _arguments}
