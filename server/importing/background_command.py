"""The part of the command `add` that takes pictures of the ground."""

from __future__ import annotations

import argparse
import sys

from layers.errors import BadValue
from layers.trail.importing.background.adding import AROUND_M, add_background, attribution_in
from layers.trail.store import Trail


def add_background_arguments(command: argparse.ArgumentParser) -> None:
    """What only a background needs."""
    group = command.add_argument_group(
        "background", "tiles of an MBTiles or a GeoPackage, or a GeoTIFF (needs boxround[raster])"
    )
    group.add_argument("--attribution", metavar="TEXT", help="whose the pictures are")
    group.add_argument("--licence", metavar="TEXT", help="under which licence they may be used")
    group.add_argument(
        "--around-m",
        type=float,
        default=AROUND_M,
        metavar="METRES",
        help="ground around the trail that is kept too (%(default).0f)",
    )
    group.add_argument("--max-zoom", type=int, metavar="ZOOM", help="leave out finer tiles")
    group.add_argument("--layer", metavar="NAME", help="which tiles of a GeoPackage")


def add_background_file(arguments: argparse.Namespace, trail: Trail) -> int:
    """Add the tiles of a file, once it is known whose they are."""
    attribution = arguments.attribution or _asked(
        "Whose are the pictures?", "--attribution", attribution_in(arguments.file)
    )
    licence = arguments.licence or _asked("Under which licence?", "--licence", "")
    added = add_background(
        arguments.file,
        trail,
        attribution=attribution,
        licence=licence,
        around_m=arguments.around_m,
        max_zoom=arguments.max_zoom,
        layer=arguments.layer,
    )
    print(
        f"The background has {added.tiles:,} tiles (zooms {added.min_zoom} to {added.max_zoom}, "
        f"{added.size_bytes / 1e6:.1f} MB). The team's maps show it, and the field page keeps it "
        "for where there is no signal. Public pages never show it. It is in a file beside the "
        "trail: move the two together."
    )
    return 0


def _asked(question: str, option: str, known: str) -> str:
    """An answer from the terminal; `known` is what an empty answer means."""
    if sys.stdin.isatty() and sys.stdout.isatty():
        answer = input(f"{question}{f' [{known}]' if known else ''} ").strip() or known
    else:
        answer = known
    if not answer:
        raise BadValue(f"{option}: {question[0].lower()}{question[1:-1]}", "nothing", column=None)
    return answer
