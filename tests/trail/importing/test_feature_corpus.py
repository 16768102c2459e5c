"""Boxes and paths as keepers keep them: nothing is read wrong, and most is read."""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import shapely

from layers.trail.importing.columns import Kind
from layers.trail.importing.feature_import import import_features
from layers.trail.importing.proposing.features import FeatureProposal, propose_features
from layers.trail.settings import Settings
from layers.trail.store import Trail
from tests.trail.importing.corpus.features import box_files, path_files
from tests.trail.importing.corpus.files import Made
from tests.trail.importing.ready_readers import Ready

TODAY = dt.date(2026, 9, 1)
NEAR_DEGREES = 2e-6
"""Some layouts write four decimals of a minute, or centimetres of a grid."""

Read = tuple[Made, FeatureProposal, dict[str, dict[str, Any]], FeatureProposal, dict[str, Any]]


def taken(proposal: FeatureProposal, kind: Kind, folder: Path) -> dict[str, dict[str, Any]]:
    """What a fresh trail holds after all that is clear was added, by id or name."""
    path = folder / "fresh.gpkg"
    clear = [one for one in proposal.features if not one.open]
    path.unlink(missing_ok=True)
    with Trail.create(path, Settings("Alderbeck", "America/New_York")) as trail:
        if clear:
            import_features(replace(proposal, features=tuple(clear)), trail, today=TODAY)
        rows = getattr(trail, kind)().to_dict("records")
    return {str(row["box" if kind == "boxes" else "name"]): row for row in rows}


def _read(kind: Kind, files: Iterator[Made], folder: Path) -> list[Read]:
    found = []
    with Trail.create(folder / "empty.gpkg", Settings("Alderbeck", "America/New_York")) as trail:
        for made in files:
            path = made.write(folder)
            one = propose_features(path, kind, trail, answers={})
            two = propose_features(path, kind, trail, answers=made.answers) if made.answers else one
            held = taken(one, kind, folder)
            after = taken(two, kind, folder) if made.answers else held
            found.append((made, one, held, two, after))
    return found


@pytest.fixture(scope="module")
def boxes(readers: Ready, tmp_path_factory: pytest.TempPathFactory) -> list[Read]:
    folder = tmp_path_factory.mktemp("boxes")
    return _read("boxes", box_files(folder), folder)


@pytest.fixture(scope="module")
def paths(readers: Ready, tmp_path_factory: pytest.TempPathFactory) -> list[Read]:
    folder = tmp_path_factory.mktemp("paths")
    return _read("paths", path_files(folder), folder)


def right_and_wrong(made: Made, held: dict[str, dict[str, Any]]) -> tuple[int, list[str]]:
    """How many cells are right, and those that are wrong."""
    right, wrong = 0, []
    true = {one.get("box") or one["name"]: one for one in made.truth}
    wrong += [f"{made.name}: {name} is none" for name in held.keys() - true.keys()]
    for name, row in held.items():
        for column, value in true.get(name, {}).items():
            fits = _fits(column, value, row)
            right += fits
            if not fits:
                wrong.append(f"{made.name}: {name} {column} is {value!r}")
    return right, wrong


def _fits(column: str, value: Any, row: dict[str, Any]) -> bool:
    if column in ("lat", "lon"):
        at = row["geometry"].y if column == "lat" else row["geometry"].x
        return bool(abs(at - value) < NEAR_DEGREES)
    if column == "line":
        return bool(shapely.LineString(value).equals_exact(shapely.force_2d(row["geometry"]), 1e-6))
    return bool(row[column] == value)


@pytest.mark.parametrize(("kind", "files", "layouts"), [("boxes", 30, 10), ("paths", 20, 5)])
def test_no_cell_is_wrong_most_are_right_and_little_is_asked(
    kind: str, files: int, layouts: int, request: pytest.FixtureRequest
) -> None:
    results: list[Read] = request.getfixturevalue(kind)
    assert len(results) >= files
    assert len({made.layout for made, *_ in results}) >= layouts
    whole = sum(len(one) for made, *_ in results for one in made.truth)
    right = answered = 0
    wrong: list[str] = []
    again: list[str] = []
    for made, _, held, two, after in results:
        for number, rows in enumerate((held, after)):
            good, bad = right_and_wrong(made, rows)
            wrong += bad
            right += good * (number == 0)
            answered += good * (number == 1)
        again += [f"{made.name}: {one.text}" for one in two.questions]
    questions = [len(one.questions) for _, one, *_ in results]
    print(
        f"{len(results)} files of {kind}, {whole:,} cells: right {right / whole:.2%} with an"
        f" unedited recipe, {answered / whole:.2%} with answers, {len(wrong)} wrong; questions a"
        f" file: median {statistics.median(questions):g}, most {max(questions)};"
        f" {len(again)} questions once they are answered"
    )
    assert not wrong, "\n".join(wrong[:20])
    assert not again, "\n".join(again[:20])
    assert answered == whole
    assert right / whole >= 0.90, f"{right} of {whole}"
    assert statistics.median(questions) <= 3
    assert max(questions) <= 3
