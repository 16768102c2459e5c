"""How commands take values, open a trail and print tables."""

from __future__ import annotations

import argparse
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from itertools import zip_longest
from pathlib import Path
from typing import Any

import orjson

from layers.errors import Conflict, StorageFull
from layers.trail.store import Trail
from server.live.clock import Clock
from server.live.contents import Contents
from server.live.days import EXPECTED_DAY, read_day
from server.live.public_views import cautions_of

_GAP = "  "
_NARROWEST = 8


def day(text: str) -> date:
    """A day as typed on the command line."""
    try:
        return read_day(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"Expected {EXPECTED_DAY}, got {text!r}") from None


def add_trail(command: argparse.ArgumentParser) -> None:
    command.add_argument("trail", type=Path, metavar="TRAIL", help="the trail file")


def add_day(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--on",
        type=day,
        metavar="DATE",
        help="as known on that day, by the visits up to it; today in the trail's time zone",
    )


def add_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print JSON, for programs")


@contextmanager
def writing(target: Path) -> Iterator[None]:
    """Raise `StorageFull`, which names the target, for what goes wrong while the block writes."""
    try:
        yield
    except OSError as error:
        raise StorageFull(f"{target} cannot be written: {error.strerror}") from error


def write_new(target: Path, text: str) -> Path:
    """Write a file that is not there yet; its path."""
    with writing(target):
        try:
            target.open("x").close()
        except FileExistsError as error:
            raise Conflict(f"Expected a new file name, got {target.name}, which exists") from error
        target.write_text(text, encoding="utf-8")
    return target


def print_json(value: Any) -> None:
    print(orjson.dumps(value, option=orjson.OPT_INDENT_2).decode())


def print_table(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """A table in columns wide enough for what they hold; None prints as nothing.

    On a screen that is too narrow for it, the widest columns run over several lines.
    """
    texts = [list(heads), *([("" if cell is None else str(cell)) for cell in row] for row in rows)]
    widths = [max(len(row[at]) for row in texts) for at in range(len(heads))]
    if sys.stdout.isatty():
        room = shutil.get_terminal_size().columns - len(_GAP) * (len(heads) - 1)
        widths = _narrowed(widths, room)
    for row in texts:
        cells = [textwrap.wrap(text, width) for text, width in zip(row, widths, strict=True)]
        for parts in zip_longest(*cells, fillvalue=""):
            padded = (part.ljust(width) for part, width in zip(parts, widths, strict=True))
            print(_GAP.join(padded).rstrip())


def _narrowed(widths: Sequence[int], room: int) -> list[int]:
    """Widths that fit together into a room, each at most as wide as it was: what narrow columns
    leave over, the wide ones share evenly. None is narrower than `_NARROWEST`.
    """
    narrowed = list(widths)
    for done, at in enumerate(sorted(range(len(widths)), key=widths.__getitem__)):
        share = room // (len(widths) - done)
        narrowed[at] = min(widths[at], max(share, _NARROWEST))
        room -= narrowed[at]
    return narrowed


@contextmanager
def opened(path: Path) -> Iterator[tuple[Trail, Contents]]:
    """The open trail and what it holds; closed when the block ends."""
    with Trail.open(path) as trail:
        yield trail, Contents.read(trail)


@contextmanager
def opened_on(arguments: argparse.Namespace) -> Iterator[tuple[Trail, Contents, date]]:
    """The open trail of `add_trail`, what it holds, and the day of `add_day`."""
    with opened(arguments.trail) as (trail, contents):
        yield trail, contents, day_or_today(arguments.on, contents)


def print_cautions(path: Path) -> None:
    """What a trail's public rules give away, and when a change of marks shows."""
    with opened(path) as (trail, contents):
        today = day_or_today(None, contents)
        for sentence in cautions_of(trail, contents, today):
            print(f"- {sentence}")
        print(
            "- A change of the rules shows at once; a box that is marked otherwise shows with the "
            "release on the first day of next month, or with boxround publish --release-now."
        )


def day_or_today(on: date | None, contents: Contents) -> date:
    return on or Clock().today(contents.settings.zone)
