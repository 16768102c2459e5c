"""The `boxround` command line."""

from __future__ import annotations

import argparse
import importlib
import sqlite3
import sys
from collections.abc import Callable, Mapping, Sequence
from importlib.metadata import version
from types import MappingProxyType

from layers.errors import BoxroundError, CallerError
from server.features import FEATURES

COMMANDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        command: (feature.module("command"), purpose)
        for feature in FEATURES
        for command, purpose in feature.commands.items()
    }
)
"""Command -> module that has it, and what it is for."""

CALLER_AT_FAULT = 2
WORLD_AT_FAULT = 3
VERSION = version("boxround")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; 0 if it was done.

    2 means that an option or an input cannot be used, 3 that the file, the disk or another
    program is in the way. Either is reported in a sentence, never a traceback.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    parser = argparse.ArgumentParser(
        prog="boxround",
        description="Keep a trail of nest boxes: visits in, histories and maps out.",
    )
    parser.add_argument("--version", action="version", version=f"boxround {VERSION}")
    if not given:
        given = _offered()
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    chosen = next((word for word in given if not word.startswith("-")), None)
    for name, (module, purpose) in COMMANDS.items():
        command = commands.add_parser(name, help=purpose, description=purpose.capitalize() + ".")
        if name == chosen:
            # Only the one that is wanted is loaded, so that help comes at once.
            importlib.import_module(module).ARGUMENTS[name](command)
    query = parser.parse_args(given)
    run: Callable[[argparse.Namespace], int] = query.run
    try:
        return run(query)
    except BoxroundError as error:
        print(error, file=sys.stderr)
        return CALLER_AT_FAULT if isinstance(error, CallerError) else WORLD_AT_FAULT
    except sqlite3.Error as error:
        # Damage that only shows while a file is read.
        print(f"The file cannot be read: {error}. Run boxround doctor on it.", file=sys.stderr)
        return WORLD_AT_FAULT
    except UnicodeEncodeError as error:
        came = error.object[error.start : error.end]
        print(f"Expected text that {error.encoding} can hold, got {came!r}", file=sys.stderr)
        return CALLER_AT_FAULT
    except BrokenPipeError:
        # The reader of our output, such as `head`, has had enough.
        sys.stderr.close()
        return 0


def _offered() -> list[str]:
    """What to run where no command is given: the demo, if a person says yes; else the help."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return ["--help"]
    print("No command given. Boxround can build an invented trail here and show it to you.")
    try:
        answer = input("Shall it? [Y/n] ").strip().lower()
    except EOFError:
        answer = "n"
    return ["demo"] if answer in ("", "y", "yes") else ["--help"]


if __name__ == "__main__":
    sys.exit(main())
