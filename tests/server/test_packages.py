"""The packages of the server use each other one way."""

from __future__ import annotations

import ast
from collections import defaultdict
from graphlib import TopologicalSorter
from pathlib import Path

from server.features import FEATURES

SERVER = Path(__file__).parents[2] / "server"
BELOW = {"web", "live", "settings", "terminal"}
"""What every feature may use."""
FEATURE_NAMES = {feature.name for feature in FEATURES}
MAY_USE_A_NEIGHBOUR = {
    # Serves the whole app, and the public pages beside it.
    ("serving", "app"),
    ("serving", "public"),
    # The feature service beside the public pages, and its collections as files.
    ("public", "ogc"),
    ("exporting", "ogc"),
    # Walking distances, and the walk along the winter list.
    ("nearest", "rounds"),
    ("winter", "rounds"),
    # Walks of a week are rounds.
    ("week", "rounds"),
}


def arrows() -> dict[str, dict[str, set[str]]]:
    """Part of the server -> the parts it imports from -> the modules that it uses there."""
    found: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    for path in SERVER.rglob("*.py"):
        own = path.relative_to(SERVER).with_suffix("").parts[0]
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.ImportFrom) or node.module is None:
                continue
            for alias in node.names:
                name = f"{node.module}.{alias.name}"
                if name.startswith("server.") and (part := name.split(".")[1]) != own:
                    found[own][part].add(".".join(name.split(".")[2:]))
    return found


def test_no_part_of_the_server_uses_itself_by_way_of_another() -> None:
    found = {own: set(parts) for own, parts in arrows().items() if own != "features"}
    assert {"web", "due", "rounds"} <= set(found)
    assert len(list(TopologicalSorter(found).static_order())) >= len(found)


def test_what_features_stand_on_uses_no_feature() -> None:
    found = arrows()
    for part in ("web", "live"):
        assert not set(found[part]) & FEATURE_NAMES, part
    assert not found["live"].keys() & {"web", "settings"}


def test_a_feature_uses_another_only_through_its_view() -> None:
    for own, parts in arrows().items():
        if own not in FEATURE_NAMES:
            continue
        for part, used in parts.items():
            if part in BELOW or (own, part) in MAY_USE_A_NEIGHBOUR:
                continue
            assert part in FEATURE_NAMES, f"server.{own} uses server.{part}"
            assert {name.split(".")[0] for name in used} == {"view"}, (
                f"server.{own} uses {sorted(used)} of server.{part}"
            )


def test_every_folder_is_registered_and_has_what_it_registers() -> None:
    folders = {path.parent.name for path in SERVER.glob("*/__init__.py")} - {"web", "live"}
    assert folders == FEATURE_NAMES
    for feature in FEATURES:
        modules = [*feature.routers, *feature.mounts, *(["command"] if feature.commands else [])]
        assert modules, feature.name
        for module in modules:
            assert (SERVER / feature.name / f"{module}.py").exists(), f"{feature.name}.{module}"
