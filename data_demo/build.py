"""Build the demo trail: `python -m data_demo.build PATH`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from data_demo.demo import SEED, TIMEZONE, YEARS, make_demo
from data_demo.plain_files import write_plain_files
from data_demo.reserve import RESERVE_NAME
from layers.errors import BoxroundError
from layers.trail.public_rules import PublicRules
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.whole_files import expect_new, passing_folder, put_in_place

PUBLIC_RULES = PublicRules(
    region="Western New York (an invented reserve)",
    contact="Ask at the start of Pond Loop on the first Saturday of a month.",
    released=("paths", "places", "zones"),
    licence="CC BY 4.0",
)
"""The demo shows its ground: the reserve is open to all, and only invented birds nest there."""


def build_demo(path: Path, *, seed: int = SEED) -> None:
    """Make the demo trail; the file appears whole or not at all.

    Raises
    ------
    Conflict
        There is a file of that name already; it may hold visits.
    """
    expect_new(path)
    demo = make_demo(seed=seed)
    path.parent.mkdir(parents=True, exist_ok=True)
    with passing_folder(path.parent) as folder:
        unfinished = folder / path.name
        settings = Settings(name=RESERVE_NAME, timezone=TIMEZONE, public_rules=PUBLIC_RULES)
        with Trail.create(unfinished, settings) as trail:
            trail.add_rows("boxes", demo.reserve.boxes)
            trail.add_rows("paths", demo.reserve.paths)
            trail.add_rows("places", demo.reserve.places)
            trail.add_rows("zones", demo.reserve.zones)
            trail.add_rows("visits", demo.visits())
        put_in_place(unfinished, path)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run from the command line; 0 if the demo was built."""
    parser = argparse.ArgumentParser(prog="python -m data_demo.build", description=__doc__)
    parser.add_argument("path", type=Path, help="the trail file to make")
    parser.add_argument("--seed", type=int, default=SEED, help="another seed, another trail")
    parser.add_argument(
        "--files", type=Path, metavar="DIR", help="also write the data as CSV and GPX files"
    )
    arguments_given = parser.parse_args(arguments)
    try:
        build_demo(arguments_given.path, seed=arguments_given.seed)
    except BoxroundError as error:
        print(error, file=sys.stderr)
        return 1
    print(f"Built {arguments_given.path}: {RESERVE_NAME}, {YEARS[0]} to {YEARS[-1]}")
    if arguments_given.files is not None:
        for written in write_plain_files(
            make_demo(seed=arguments_given.seed), arguments_given.files, year=YEARS[-1]
        ):
            print(f"Wrote {written}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
