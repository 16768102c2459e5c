"""Whoever has all that is published finds the boxes no better than from the square alone.

`make test` looks at some dozens of places, `make long` at 300. Places where the trail crosses a
line of the grid are judged by themselves too: on two grids, or square by square, they gave
a short trail away.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from layers.publishing.attack import (
    ALONE,
    LEAST_SHARE,
    METRES_PER_DEGREE,
    Found,
    errors_m,
    find_boxes,
)
from layers.publishing.cells import GridCell, cell_of
from layers.publishing.layout import Layout, laid_out
from layers.publishing.release import view_from_text, view_to_text
from layers.publishing.released import public_paths
from layers.publishing.values import Cell
from layers.publishing.view import UNNAMED
from layers.trail.public_rules import PublicRules
from tests.publishing.planted import NAME, planted

Points = Mapping[str, tuple[float, float]]


def made_trail(dice: np.random.Generator, boxes: int, kind: str) -> Points:
    """A block or a line of boxes some 70 to 170 m apart, anywhere from 35 to 46 degrees north."""
    rows = 1 if kind == "line" else int(np.ceil(np.sqrt(boxes)))
    grid = np.array([divmod(number, rows) for number in range(boxes)], float)
    turn, spacing_m = dice.uniform(0, 2 * np.pi), np.exp(dice.uniform(np.log(70), np.log(170)))
    turned = grid @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    east, north = (turned * spacing_m + dice.normal(0, 20, (boxes, 2))).T / METRES_PER_DEGREE
    lat = dice.uniform(35, 46) + north
    lon = dice.uniform(-120, -70) + east / np.cos(np.radians(lat))
    return {f"box {number}": point for number, point in enumerate(zip(lon, lat, strict=True))}


def published(points: Points, size_deg: float) -> tuple[tuple[Cell, ...], dict[str, str]]:
    """The squares as they are published, and the one of each box."""
    layout = laid_out(points, size_deg=size_deg)
    names = {box: cell.name for box, cell in layout.cell_of_box.items()}
    return cells_of(layout), names


def cells_of(layout: Layout) -> tuple[Cell, ...]:
    counts = Counter(layout.cell_of_box.values())
    return tuple(
        Cell(
            cell.name,
            cell.lon,
            cell.lat,
            cell.size_deg,
            layout.uncertainty_m(cell),
            boxes,
            0,
            None,
            0,
            (),
        )
        for cell, boxes in sorted(counts.items())
    )


def shares(
    boxes: int, kind: str, size_deg: float, places: int
) -> tuple[dict[str, float], dict[str, float]]:
    """Median error of each way as a share of that of the square alone: all places, on a line."""
    dice = np.random.default_rng(boxes)
    medians: list[dict[str, float]] = []
    crosses: list[bool] = []
    for _ in range(places):
        points = made_trail(dice, boxes, kind)
        cells, names = published(points, size_deg)
        errors = errors_m(cells, points, names)
        medians.append({way: float(np.median(error)) for way, error in errors.items()})
        crosses.append(len({cell_of(*point, size_deg=size_deg) for point in points.values()}) > 1)
        uncertainty = {cell.cell: cell.uncertainty_m for cell in cells}
        assert all(
            error <= uncertainty[names[box]]
            for box, error in zip(names, errors[ALONE], strict=True)
        )

    def share(chosen: NDArray[np.bool_]) -> dict[str, float]:
        of_way = {
            way: float(np.median([one[way] for one in np.array(medians)[chosen]]))
            for way in medians[0]
        }
        return {way: error / of_way[ALONE] for way, error in of_way.items()}

    every, line = np.ones(places, bool), np.array(crosses)
    return share(every), share(line) if line.sum() >= places / 20 else {}


CASES = [
    (boxes, kind, size_deg)
    for size_deg in (0.01, 0.1)
    for boxes, kind in ((1, "block"), (5, "block"), (20, "block"), (60, "block"), (60, "line"))
] + [(200, "block", 0.1), (300, "line", 0.1)]
"""Kinds of trail and the four rule sets: a square of 0.01 or 0.1 degrees, whole or by squares."""


def expect_hidden(boxes: int, kind: str, size_deg: float, places: int) -> None:
    for found in shares(boxes, kind, size_deg, places):
        assert all(share >= LEAST_SHARE for share in found.values()), (boxes, kind, size_deg, found)


@pytest.mark.parametrize(("boxes", "kind", "size_deg"), CASES[:-1])
def test_nothing_published_leads_to_the_boxes(boxes: int, kind: str, size_deg: float) -> None:
    expect_hidden(boxes, kind, size_deg, places=24)


@pytest.mark.long
@pytest.mark.parametrize(("boxes", "kind", "size_deg"), CASES)
def test_nothing_published_leads_to_the_boxes_at_300_places(
    boxes: int, kind: str, size_deg: float
) -> None:
    expect_hidden(boxes, kind, size_deg, places=300)


def test_the_attack_finds_a_short_trail_that_is_published_square_by_square() -> None:
    """That the attack can succeed: what it is for."""
    dice = np.random.default_rng(5)
    found = []
    for _ in range(40):
        points = made_trail(dice, 20, "block")
        own = {box: cell_of(*point, size_deg=0.01) for box, point in points.items()}
        names = {box: cell.name for box, cell in own.items()}
        cells = cells_of(Layout(0.01, own, None))
        if len(cells) > 1:
            one = find_boxes(cells, points, names)
            found.append(one.error_m / one.alone_m)
    assert np.median(found) < LEAST_SHARE


def shares_with_paths(boxes: int, places: int) -> dict[str, float]:
    """As `shares`, where the keeper released a path past every box, at 0.01 degrees."""
    dice = np.random.default_rng(boxes)
    medians = []
    for _ in range(places):
        points = made_trail(dice, boxes, "block")
        cells, names = published(points, 0.01)
        line = shapely.LineString(list(points.values()))
        columns = {"name": ["A"], "kind": ["path"], "open_to": ["all"]}
        drawn = public_paths(gpd.GeoDataFrame(columns, geometry=[line], crs=4326))
        errors = errors_m(cells, points, names, drawn)
        medians.append({way: float(np.median(error)) for way, error in errors.items()})
    middle = {way: float(np.median([one[way] for one in medians])) for way in medians[0]}
    return {way: error / middle[ALONE] for way, error in middle.items()}


def expect_paths_found(places: int) -> None:
    """A path past every box of a short trail gives it away; of a long one it does not.

    No other way gains by it. The keeper is warned of such paths (`cautions`), with this guess.
    """
    of_size = {boxes: shares_with_paths(boxes, places) for boxes in (5, 20, 60)}
    paths = {boxes: found.pop("the released paths") for boxes, found in of_size.items()}
    assert paths[5] < paths[20] < LEAST_SHARE <= paths[60], paths
    assert all(share >= LEAST_SHARE for found in of_size.values() for share in found.values())


def test_the_attack_finds_a_short_trail_by_a_path_past_every_box() -> None:
    expect_paths_found(places=30)


def test_what_leads_much_nearer_than_the_square_is_called_given_away() -> None:
    assert Found("the released paths", 59.0, 100.0).gives_away
    assert not Found("the released paths", 61.0, 100.0).gives_away


@pytest.mark.long
def test_the_attack_finds_a_short_trail_by_a_path_past_every_box_at_300_places() -> None:
    expect_paths_found(places=300)


# The name, and two releases


def test_a_coarse_trail_is_not_called_by_its_own_name() -> None:
    trail = planted()
    coarse = trail.view(dt.date(2026, 6, 3), boxes=trail.marked(["coarse"] * len(trail.boxes)))
    assert coarse.trail == UNNAMED
    rules = PublicRules(name="Boxes of the north", region="Genesee valley")
    named = trail.view(dt.date(2026, 6, 3), rules, boxes=trail.boxes)
    assert (named.trail, named.region) == (rules.name, rules.region)
    shown = trail.view(dt.date(2026, 6, 3), boxes=trail.marked(["shown"] * len(trail.boxes)))
    assert shown.trail == NAME


def test_a_mark_changed_between_two_releases_shows_in_numbers_of_a_short_trail_alone() -> None:
    trail = planted()
    words = ["coarse"] * len(trail.boxes)
    june = trail.view(dt.date(2026, 6, 3), boxes=trail.marked(words))
    for mark in ("shown", "hidden"):
        for at in range(0, len(words), 7):
            other = [mark if number == at else word for number, word in enumerate(words)]
            july = trail.view(dt.date(2026, 7, 3), boxes=trail.marked(other), before=june)
            same = [(one.cell, one.uncertainty_m) for one in june.cells]
            assert [(one.cell, one.uncertainty_m) for one in july.cells] == same
            assert july.cells[0].boxes == len(words) - (mark == "hidden")


def test_a_stored_release_comes_back_as_it_was() -> None:
    trail = planted()
    rules = PublicRules(
        unmarked="shown", ongoing="in use", released=("paths", "places", "zones"), contact="Us"
    )
    words = ["shown"] * len(trail.boxes)
    view = trail.view(dt.date(2026, 7, 3), rules, boxes=trail.marked(words))
    assert view.paths
    assert view_from_text(view_to_text(view)) == view
    assert view_from_text(view_to_text(view).replace('"format": 1', '"format": 0')) is None
    assert view_from_text("{}") is None


def test_a_square_is_read_from_its_name() -> None:
    for cell in (cell_of(-77.95, 42.64, size_deg=0.01), cell_of(18.4, -33.9, size_deg=0.1)):
        assert GridCell.named(cell.name) == cell
    assert cell_of(0.0, 0.0, size_deg=1.0).name == "0.5N-0.5E-1"
