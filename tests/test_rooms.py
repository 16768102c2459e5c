"""Arrows between the rooms run one way, and the pure rooms stay pure."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = (
    "layers.trail",
    "layers.walking",
    "layers.nesting",
    "layers.publishing",
    "layers.maps",
    "layers.pooling",
    "server",
)
MAY_USE = {
    "layers.trail": {"layers.errors", "layers.trail"},
    "layers.walking": {
        "layers.errors",
        "layers.compiled",
        "layers.words",
        "layers.trail",
        "layers.walking",
    },
    "layers.nesting": {
        "layers.errors",
        "layers.compiled",
        "layers.words",
        "layers.trail",
        "layers.nesting",
    },
    "layers.publishing": {
        "layers.errors",
        "layers.words",
        "layers.trail",
        "layers.nesting",
        "layers.publishing",
    },
    "layers.pooling": {
        "layers.errors",
        "layers.words",
        "layers.trail",
        "layers.nesting",
        "layers.publishing",
        "layers.pooling",
    },
    "layers.maps": {
        "layers.errors",
        "layers.words",
        "layers.trail",
        "layers.nesting",
        "layers.walking",
        "layers.maps",
    },
}
NOT_IN_PURE_ROOMS = {
    "fastapi",
    "starlette",
    "uvicorn",
    "folium",
    "sqlite3",
    "fiona",
    "pyogrio",
    "time",
    "requests",
    "urllib",
    "socket",
}
NOT_WITH_A_LIVE_TRAIL = {"fiona", "pyogrio", "osgeo"}
# Reads foreign files, in a process of its own.
READS_FOREIGN_FILES = ROOT / "layers" / "trail" / "importing"
# Holds the guide's files, which are the package's own.
READS_ITS_OWN_FILES = {"layers/nesting/guide/loading.py"}


def modules(room: str) -> list[Path]:
    return sorted((ROOT / room.replace(".", "/")).rglob("*.py"))


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def is_of(name: str, package: str) -> bool:
    return name == package or name.startswith(f"{package}.")


def reads_clock(path: Path) -> bool:
    clocks = re.compile(r"\b(datetime|date|time)\.(now|today|utcnow|time)$")
    return any(
        clocks.search(ast.unparse(node)) is not None
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Attribute)
    )


@pytest.mark.parametrize("room", MAY_USE)
def test_a_room_uses_only_the_rooms_below_it(room: str) -> None:
    assert modules(room)
    for path in modules(room):
        for name in imported(path):
            if (
                name.split(".")[0] in {"layers", "server", "data_demo", "tests"}
                and name != "layers"
            ):
                allowed = any(is_of(name, package) for package in MAY_USE[room])
                assert allowed, f"{path} imports {name}"


@pytest.mark.parametrize("room", ["layers.nesting", "layers.walking"])
def test_the_pure_rooms_know_no_web_no_database_and_no_clock(room: str) -> None:
    for path in modules(room):
        for name in imported(path):
            assert name.split(".")[0] not in NOT_IN_PURE_ROOMS, f"{path} imports {name}"
        assert not reads_clock(path), f"{path} reads a clock"
        for node in ast.walk(ast.parse(path.read_text())):
            opens = isinstance(node, ast.Name) and node.id == "open"
            opens |= isinstance(node, ast.Attribute) and node.attr in {"read_text", "read_bytes"}
            if opens and str(path.relative_to(ROOT)) not in READS_ITS_OWN_FILES:
                raise AssertionError(f"{path} opens a file: {ast.unparse(node)}")


@pytest.mark.parametrize("room", ROOMS)
def test_gdal_is_never_loaded_beside_a_live_trail(room: str) -> None:
    # Two SQLite libraries on one file in one process lose acknowledged rows.
    for path in modules(room):
        if path.is_relative_to(READS_FOREIGN_FILES):
            continue
        for name in imported(path):
            assert name.split(".")[0] not in NOT_WITH_A_LIVE_TRAIL, f"{path} imports {name}"


def test_nothing_outside_the_project_is_named_utils_or_helpers() -> None:
    names = {path.stem for path in ROOT.glob("[lsd]*/**/*.py")}
    assert not names & {"utils", "helpers", "common", "misc"}


def test_the_clock_is_read_in_one_module_of_the_server() -> None:
    readers = {path.name for path in modules("server") if reads_clock(path)}
    assert readers <= {"clock.py"}
