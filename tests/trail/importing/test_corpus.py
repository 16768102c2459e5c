"""Tables as keepers keep them: nothing is read wrong, most is read, little is asked."""

from __future__ import annotations

import datetime as dt
import re
import statistics
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from layers.nesting.guide import standard_guide
from layers.trail.importing.proposing import Answers, Known, Proposal, propose, read_grids
from tests.trail.importing.corpus.files import Made
from tests.trail.importing.corpus.stories import BOXES, TODAY
from tests.trail.importing.corpus.visits import visit_files
from tests.trail.importing.ready_readers import Ready

KNOWN = Known(
    boxes=frozenset(BOXES),
    species={one.common: one.names for one in standard_guide().species},
    today=TODAY,
)
Cell = tuple[str, str, str]


def proposed(path: Path, answers: Answers) -> Proposal:
    return propose(read_grids(path), known=KNOWN, answers=answers, file=path.name)


def cells(made: list[dict[str, Any]]) -> dict[Cell, str]:
    """Box, day and column -> value."""
    found = {}
    for row in made:
        for name, value in row.items():
            found[row["box"], str(row["date"]), name] = str(value)
    return found


def read(proposal: Proposal) -> list[dict[str, Any]]:
    """What would be added."""
    return [dict(one.values) for one in proposal.records if not one.open and one.unread is None]


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Made, Path]]:
    folder = tmp_path_factory.mktemp("corpus")
    return [(made, made.write(folder)) for made in visit_files()]


@pytest.fixture(scope="module")
def results(
    files: list[tuple[Made, Path]], readers: Ready
) -> list[tuple[Made, Proposal, Proposal]]:
    found = []
    for made, path in files:
        sheets = read_grids(path)
        one, two = (
            propose(sheets, known=KNOWN, answers=answers, file=path.name)
            for answers in ({}, made.answers)
        )
        found.append((made, one, two))
    return found


def test_there_are_as_many_files_and_layouts_as_were_promised(
    files: list[tuple[Made, Path]],
) -> None:
    assert len(files) >= 60
    assert len({made.layout for made, _ in files}) >= 15


def test_no_cell_is_read_wrong_by_an_unedited_recipe(
    results: list[tuple[Made, Proposal, Proposal]],
) -> None:
    wrong = list(_wrong(results))
    assert not wrong, "\n".join(wrong[:20])


def _wrong(results: list[tuple[Made, Proposal, Proposal]]) -> Iterator[str]:
    for made, *proposals in results:
        true = cells(made.truth)
        for proposal in proposals:
            for key, value in cells(read(proposal)).items():
                if true.get(key) != value:
                    yield f"{made.name}: {key} read as {value!r}, is {true.get(key)!r}"


def test_most_cells_are_read_and_little_is_asked(
    results: list[tuple[Made, Proposal, Proposal]],
) -> None:
    right = whole = answered = 0
    missing = []
    for made, unedited, edited in results:
        true = cells(made.truth)
        whole += len(true)
        right += len(true.items() & cells(read(unedited)).items())
        answered += len(true.items() & cells(read(edited)).items())
        missing += [f"{made.name}: {key}" for key in true.keys() - cells(read(edited)).keys()]
    assert right / whole >= 0.95, f"{right} of {whole}"
    assert answered / whole >= 0.95, f"{answered} of {whole}\n" + "\n".join(missing[:20])
    questions = [len(unedited.questions) for _, unedited, _ in results]
    assert statistics.median(questions) <= 3
    assert max(questions) <= 6
    assert all(not edited.questions for _, _, edited in results)


def test_the_file_in_the_readme_has_three_questions(tmp_path: Path) -> None:
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    found = re.search(r"```\n(Mill Creek boxes.*?)```", readme, re.DOTALL)
    assert found is not None
    path = tmp_path / "creek.csv"
    path.write_text(found[1], encoding="utf-8")
    assert [one.key for one in proposed(path, {}).questions] == [
        "dates: order in Checked",
        "species: bluebird",
        "cells: about",
    ]
    answers = {
        "dates": {"order in Checked": "month-first"},
        "species": {"bluebird": "eastern bluebird"},
        "cells": {"about": "number"},
    }
    first, second, third = read(proposed(path, answers))
    assert first == {
        "box": "1",
        "date": dt.date(2026, 4, 5),
        "species": "eastern bluebird",
        "eggs": 5,
        "eggs_warm": "yes",
        "own_columns": {"Temp F": "61"},
    }
    assert (second["species"], second["eggs"], second["young"]) == ("tree swallow", 2, 3)
    assert (third["young"], third["note"]) == (4, "~4 babies")
