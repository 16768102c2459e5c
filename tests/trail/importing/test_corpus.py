"""Tables as keepers keep them: nothing is read wrong, most is read, little is asked."""

from __future__ import annotations

import datetime as dt
import re
import statistics
from pathlib import Path

import pytest

from tests.trail.importing.corpus.measuring import Figures, figures_of, proposed, read, read_all
from tests.trail.importing.corpus.visits import pairs_of_files
from tests.trail.importing.ready_readers import Ready

SOME = 4
"""One file in four has every layout and every language."""


def test_there_are_as_many_files_and_layouts_as_were_promised() -> None:
    files = [first for first, _ in pairs_of_files()]
    assert len(files) >= 60
    assert len({made.layout for made in files}) >= 15
    assert {made.layout for made in files[::SOME]} == {made.layout for made in files}


@pytest.fixture(scope="module", params=[SOME, pytest.param(1, marks=pytest.mark.long)])
def figures(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, readers: Ready
) -> Figures:
    files = list(pairs_of_files())[:: request.param]
    found = figures_of(read_all(files, tmp_path_factory.mktemp("corpus")))
    print(found)
    return found


def test_no_cell_is_read_wrong_by_an_unedited_recipe(figures: Figures) -> None:
    assert not figures.wrong, "\n".join(figures.wrong[:20])


def test_most_cells_are_read_and_little_is_asked(figures: Figures) -> None:
    assert figures.right / figures.cells >= 0.95
    assert figures.right_with_answers / figures.cells >= 0.95, "\n".join(figures.missing[:20])
    assert statistics.median(figures.questions) <= 3
    assert max(figures.questions) <= 6


def test_the_second_file_of_a_layout_asks_nothing(figures: Figures) -> None:
    assert not figures.asked_again, "\n".join(figures.asked_again[:20])


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
