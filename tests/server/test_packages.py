"""The packages of the server use each other one way."""

from __future__ import annotations

import ast
from collections import defaultdict
from graphlib import TopologicalSorter
from pathlib import Path

SERVER = Path(__file__).parents[2] / "server"


def part_of(module: str) -> str:
    """The package below `server`, or the loose module, that a module's name leads to."""
    return module.split(".")[1]


def arrows() -> dict[str, set[str]]:
    """Part of the server -> the other parts that it imports from."""
    found: dict[str, set[str]] = defaultdict(set)
    for path in SERVER.rglob("*.py"):
        own = path.relative_to(SERVER).with_suffix("").parts[0]
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.ImportFrom) or node.module is None:
                continue
            names = (
                [f"server.{alias.name}" for alias in node.names]
                if node.module == "server"
                else [node.module]
            )
            used = {part_of(name) for name in names if name.startswith("server.")}
            found[own] |= used - {own}
    return found


def test_no_part_of_the_server_uses_itself_by_way_of_another() -> None:
    found = arrows()
    assert {"answers", "front", "live", "people", "rounds", "told"} <= set(found)
    assert len(list(TopologicalSorter(found).static_order())) == len(found)


def test_what_is_told_and_planned_knows_nothing_of_requests() -> None:
    found = arrows()
    for part in ("live", "rounds", "told"):
        assert not found[part] & {"api", "pages", "front", "people", "commands"}
