"""How commands take values and print tables."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import orjson

from server.days import EXPECTED_DAY, read_day


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
        "--on", type=day, metavar="DATE", help="the day to look from; today where the trail lies"
    )


def add_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print JSON, for programs")


def print_json(value: Any) -> None:
    print(orjson.dumps(value, option=orjson.OPT_INDENT_2).decode())


def print_table(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """A table in columns wide enough for what they hold; None prints as nothing."""
    texts = [list(heads), *([("" if cell is None else str(cell)) for cell in row] for row in rows)]
    widths = [max(len(row[at]) for row in texts) for at in range(len(heads))]
    for row in texts:
        padded = (text.ljust(width) for text, width in zip(row, widths, strict=True))
        print("  ".join(padded).rstrip())
