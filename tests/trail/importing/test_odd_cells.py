"""Odd cells, one by one: stored right, asked about, or refused with what to do."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely

from layers.nesting.guide import standard_guide
from layers.trail.importing import Kind
from layers.trail.settings import Settings
from layers.trail.store import Trail
from tests.trail.importing.odd.judging import outcome, table_of

HERE = Path(__file__).parent / "odd"
KINDS: tuple[Kind, ...] = ("visits", "boxes")
CELLS = {
    (kind, column, cell): expected
    for kind in KINDS
    for column, cells in tomllib.loads((HERE / f"{kind}.toml").read_text(encoding="utf-8")).items()
    for cell, expected in cells.items()
}
SOME = 8


@pytest.fixture(scope="module")
def trail(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Trail]:
    path = tmp_path_factory.mktemp("odd") / "trail.gpkg"
    places = {"A1": -77.9, "A2": -77.91, "B1": -77.92}
    with Trail.create(path, Settings("Alderbeck", "America/New_York")) as made:
        rows = [{"box": box, "geometry": shapely.Point(lon, 42.6)} for box, lon in places.items()]
        made.add_rows("boxes", rows)
        yield made


@pytest.mark.parametrize("every", [SOME, pytest.param(1, marks=pytest.mark.long)])
def test_an_odd_cell_is_right_asked_about_or_refused(
    tmp_path: Path, trail: Trail, every: int
) -> None:
    guide, wrong = standard_guide(), []
    cases = list(CELLS.items())[::every]
    for (kind, column, cell), expected in cases:
        path = table_of(tmp_path / "f.csv", kind, column, cell)
        found = outcome(path, kind, column, trail, guide)
        same = found.startswith(expected) if expected.startswith("refused") else found == expected
        if not same:
            wrong.append(f"{kind} {column} {cell!r}: {found}, not {expected}")
    assert not wrong, f"{len(wrong)} of {len(cases)}:\n" + "\n".join(wrong[:30])


def test_the_list_holds_the_kinds_that_were_promised() -> None:
    assert len(CELLS) >= 509
    assert {expected.split()[0] for expected in CELLS.values()} == {"=", "asked:", "refused:"}
