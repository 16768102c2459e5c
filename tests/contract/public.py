"""The public contract, read from the program: commands, addresses, keys of answers.

`python -m tests.contract.public` writes it anew to `public.json`; a change of that file is
a change for users and belongs in the CHANGELOG.
"""

from __future__ import annotations

import argparse
import importlib
import json
from pathlib import Path
from typing import Any

from server.app import create_app
from server.command import COMMANDS
from server.settings import ServerSettings

FILE = Path(__file__).parent / "public.json"


def _arguments(command: str) -> list[str]:
    """Options of a command by their longest name, positional arguments in capitals."""
    parser = argparse.ArgumentParser(add_help=False)
    module, _ = COMMANDS[command]
    importlib.import_module(module).ARGUMENTS[command](parser)
    return sorted(_names(parser))


def _names(parser: argparse.ArgumentParser, before: str = "") -> list[str]:
    names = []
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, below in action.choices.items():
                names += [f"{before}{name}", *_names(below, f"{before}{name} ")]
        elif action.option_strings:
            names.append(before + max(action.option_strings, key=len))
        else:
            names.append(before + action.dest.upper())
    return [name for name in names if not name.endswith("--help")]


def public_contract() -> dict[str, Any]:
    document = create_app(ServerSettings(trail=Path("none.gpkg"))).openapi()
    schemas = document["components"]["schemas"]
    return {
        "commands": {command: _arguments(command) for command in sorted(COMMANDS)},
        "addresses": {
            address: {
                method: sorted(one["name"] for one in call.get("parameters", []))
                for method, call in sorted(calls.items())
            }
            for address, calls in sorted(document["paths"].items())
        },
        "keys": {
            name: sorted(schema["properties"])
            for name, schema in sorted(schemas.items())
            if "properties" in schema
        },
    }


if __name__ == "__main__":
    FILE.write_text(json.dumps(public_contract(), indent=1) + "\n", encoding="utf-8")
    print(f"Wrote {FILE}")
