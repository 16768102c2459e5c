"""The `boxround` command line."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Callable, Mapping, Sequence
from importlib.metadata import version
from types import MappingProxyType

from layers.errors import BoxroundError, CallerError

COMMANDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "new": ("trail_file", "make an empty trail file"),
        "add": ("adding", "bring boxes, visits, paths, places or zones in from a file"),
        "check": ("trail_file", "look for damage, orphans and visits that cannot be"),
        "backup": ("trail_file", "write a copy of the trail as it is now"),
        "settings": ("trail_file", "show or change what holds for the whole trail"),
        "guide": ("guide", "show species and where their numbers come from"),
        "nests": ("telling", "list nesting attempts, their fates and why"),
        "status": ("telling", "tell what every box is on a day"),
        "due": ("due", "list the boxes that need a visit, why, and how to approach them"),
        "near": ("telling", "find the boxes nearest to a place"),
        "walk": ("walking", "plan the round that visits boxes with the least walking"),
        "site": ("siting", "tell what a place is for a box, or where there is room for one more"),
        "length": ("walking", "tell the length and climb of the paths"),
        "winter": (
            "winter",
            "list what boxes need before the next season, and why some stay unused",
        ),
        "season": ("season", "tell how the boxes did in a season, and write the report"),
        "map": ("showing", "write the map as one file that opens without a network"),
        "publish": ("publishing", "write the public pages for any web host"),
        "export": ("exporting", "give the trail out as a file, for the public or in full"),
        "serve": ("showing", "serve the trail's pages on this machine"),
        "invite": ("people", "let somebody in: a link and a QR code that sign a device in"),
        "people": ("people", "list who may use the trail, since when and until when"),
        "revoke": ("people", "end somebody's access on all their devices"),
    }
)
"""Command -> module of `server.commands` that has it, and what it is for."""

CALLER_AT_FAULT = 2
WORLD_AT_FAULT = 3


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; 0 if it did what was asked.

    2 means that what was asked or given cannot be used, 3 that the file, the disk or
    another program stands in the way. Either is told in a sentence, never a traceback.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    parser = argparse.ArgumentParser(
        prog="boxround",
        description="Keep a trail of nest boxes: visits in, histories and maps out.",
    )
    parser.add_argument("--version", action="version", version=f"boxround {version('boxround')}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    chosen = next((word for word in given if not word.startswith("-")), None)
    for name, (module, purpose) in COMMANDS.items():
        command = commands.add_parser(name, help=purpose, description=purpose.capitalize() + ".")
        if name == chosen:
            # Only the one that is wanted is loaded, so that help comes at once.
            importlib.import_module(f"server.commands.{module}").ARGUMENTS[name](command)
    asked = parser.parse_args(given)
    run: Callable[[argparse.Namespace], int] = asked.run
    try:
        return run(asked)
    except BoxroundError as error:
        print(error, file=sys.stderr)
        return CALLER_AT_FAULT if isinstance(error, CallerError) else WORLD_AT_FAULT
    except UnicodeEncodeError as error:
        came = error.object[error.start : error.end]
        print(f"Expected text that {error.encoding} can hold, got {came!r}", file=sys.stderr)
        return CALLER_AT_FAULT
    except BrokenPipeError:
        # The reader of our output, such as `head`, has had enough.
        sys.stderr.close()
        return 0


if __name__ == "__main__":
    sys.exit(main())
