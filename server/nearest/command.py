"""The command that finds the boxes nearest to a place: near."""

from __future__ import annotations

import argparse

from layers.trail.measures import format_distance
from layers.walking.pace import PACES, pace_of
from server.nearest.view import near
from server.terminal import add_json, add_trail, day_or_today, opened, print_json, print_table


def _near_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("lat", type=float, metavar="LAT", help="latitude in degrees")
    command.add_argument("lon", type=float, metavar="LON", help="longitude in degrees")
    command.add_argument("-k", type=int, default=5, help="how many boxes at most")
    command.add_argument("--walking", action="store_true", help="nearest along the paths instead")
    command.add_argument(
        "--pace",
        default="normal",
        help=f"with --walking: {', '.join(PACES)}, or a speed in km/h; normal if left out",
    )
    add_json(command)
    command.set_defaults(run=_near)


def _near(arguments: argparse.Namespace) -> int:
    with opened(arguments.trail) as (_, contents):
        ground, units = contents.ground, contents.settings.units
        today = day_or_today(None, contents)
    place = {"lon": arguments.lon, "lat": arguments.lat, "k": arguments.k}
    if arguments.walking:
        # Loading what walks the paths takes half a second that other commands need not wait.
        from server.nearest.walking import near_walking  # noqa: PLC0415

        found = near_walking(contents, pace=pace_of(arguments.pace), on=today, **place)
    else:
        found = near(ground, **place)
    if arguments.json:
        print_json(found)
        return 0
    if arguments.walking:
        print_table(
            ("box", "walk", "minutes"),
            [(e["box"], format_distance(e["walk_m"], units), f"{e['minutes']:.0f}") for e in found],
        )
        return 0
    print_table(
        ("box", "distance", "direction"),
        [
            (each["box"], format_distance(each["distance_m"], units), each["direction"])
            for each in found
        ],
    )
    return 0


ARGUMENTS = {"near": _near_arguments}
