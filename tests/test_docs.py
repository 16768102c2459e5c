"""What the documents say exists, and what exists is in the documents."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from layers import errors
from layers.trail.field import Table
from layers.trail.importing import KINDS
from layers.trail.map_schema import BOXES
from layers.trail.schema import VISITS
from server.app import create_app
from server.command import COMMANDS
from server.settings import ServerSettings
from server.web.queries import AboutDay
from tests.arrows import drawn

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_in_the_readme(command: str) -> None:
    assert re.search(rf"`boxround {command}\b", README)


def test_every_address_is_in_the_readme() -> None:
    app = create_app(ServerSettings(trail=Path("none.gpkg")))
    for address in app.openapi()["paths"]:
        assert f"`{address}`" in README, address
    assert AboutDay.model_fields


def columns_of(table: Table) -> str:
    """The table of a table's columns for README: made from the declarations, never by hand."""
    rows = [f"| `{field.entry_name}` | {field.description} |" for field in table.fields]
    return "\n".join(["| column | what it holds |", "| --- | --- |", *rows])


@pytest.mark.parametrize("table", [BOXES, VISITS], ids=lambda table: table.name)
def test_the_readme_has_the_columns_as_they_are_declared(table: Table) -> None:
    assert columns_of(table) in README, f"put this into README.md:\n{columns_of(table)}"


def test_every_kind_of_file_content_is_in_the_readme() -> None:
    assert "|".join(KINDS) in README.replace("\\", "")


def test_the_purpose_of_every_dependency_is_given() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = {re.split(r"[\[>=]", one)[0] for one in project["dependencies"]}
    rows = re.findall(r"^\| ([a-z][\w, -]+) \| ", DEVELOPERS, re.MULTILINE)
    assert names <= {name for row in rows for name in row.split(", ")}


def test_files_that_the_documents_name_are_there() -> None:
    for text in (README, DEVELOPERS):
        for name in re.findall(r"`((?:layers|server|tests|data_demo)/[\w/.-]+\.\w+)`", text):
            assert (ROOT / name).is_file(), name


def test_the_error_tree_is_drawn_whole() -> None:
    drawn = set(re.findall(r"[├└]── (\w+)", errors.__doc__ or ""))
    made = {
        name
        for name, thing in vars(errors).items()
        if isinstance(thing, type) and issubclass(thing, errors.BoxroundError)
    }
    assert drawn | {"BoxroundError"} == made


def test_the_top_of_the_project_is_as_agreed() -> None:
    kept = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    agreed = {"pyproject.toml", "README.md", "DEVELOPERS.md", "server", "layers", "data_demo"}
    agreed |= {"tests", "LICENSE", "CHANGELOG.md", "Makefile"}
    assert agreed <= kept
    assert kept - agreed <= {"out", "build", "boxround.egg-info"}


def test_the_picture_of_the_arrows_is_the_one_that_the_imports_give() -> None:
    assert drawn() in DEVELOPERS, "run python -m tests.arrows"
