"""The public pages of several trails as one hold nothing that the pages of each do not."""

from __future__ import annotations

import datetime as dt
import shutil
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from fastapi.testclient import TestClient

from layers.publishing.attack import ALONE, LEAST_SHARE, METRES_PER_DEGREE, errors_m, find_boxes
from layers.publishing.cells import cell_of
from layers.publishing.layout import Layout, laid_out
from layers.publishing.region import region_view
from layers.publishing.values import Cell
from layers.trail.public_rules import PublicRules
from layers.trail.store import Trail
from server.command import main
from server.live.public_views import stored_view
from server.public.site import site
from server.serving.folder import FolderApp
from server.settings import ServerSettings
from tests.publishing.leaks import secrets_of
from tests.publishing.planted import planted, write
from tests.publishing.scanner import crawl, findings
from tests.publishing.test_attack import Points, cells_of, made_trail

ON = dt.date(2026, 6, 3)
OPEN = "/open/"
RULES = PublicRules(unmarked="shown", ongoing="in use", licence="CC BY 4.0", in_region="yes")


def served(folder: Path) -> TestClient:
    app = FolderApp(ServerSettings(trail=folder, on=ON))
    return TestClient(app, base_url="http://127.0.0.1")


def bodies(folder: Path) -> dict[str, bytes]:
    """All that the region's pages of a folder give, with every file of theirs."""
    with served(folder) as client:
        names = site(planted().view(ON, RULES))
        crawled = crawl(client, [OPEN, *(f"{OPEN}{name}" for name in names)], below=OPEN)
    assert {a: s for a, s in crawled.statuses.items() if s != 200} == {}
    return crawled.bodies


@pytest.fixture(scope="module")
def region(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two trails that agreed, and one that did not."""
    folder = tmp_path_factory.mktemp("region")
    write(folder / "alder.gpkg", planted(40), RULES)
    write(folder / "birch.gpkg", planted(25), RULES)
    write(folder / "cedar.gpkg", planted(30), replace(RULES, in_region="no"))
    return folder


@pytest.mark.slow
@pytest.mark.parametrize("of", [(30,), pytest.param((40, 25, 30), marks=pytest.mark.long)])
def test_a_crawl_of_the_regions_pages_finds_nothing_and_no_trace_of_who_did_not_agree(
    region: Path, tmp_path: Path, of: tuple[int, ...]
) -> None:
    found = bodies(region)
    looked_through = {name: body for name, body in found.items() if not name.endswith(".js")}
    for boxes in of:
        scanned = found if len(of) > 1 else looked_through
        assert findings(scanned, secrets_of(planted(boxes), RULES, ON)) == []
    assert b"Two nest box trails" in found[OPEN]
    for name in ("alder", "birch"):
        shutil.copy(region / f"{name}.gpkg", tmp_path)
    (tmp_path / "broken.gpkg").write_bytes(b"SQLite format 3\0 cut off")
    assert bodies(tmp_path) == found


def test_the_regions_pages_go_to_any_web_host(
    region: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["publish", str(region), "-o", str(tmp_path / "out"), "--on", ON.isoformat()]
    assert main(words) == 0
    assert "Two nest box trails" in (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    alone = tmp_path / "alone"
    alone.mkdir()
    shutil.copy(region / "cedar.gpkg", alone)
    assert main(["publish", str(alone), "-o", str(tmp_path / "none")]) == 2
    assert "in-region=yes" in capsys.readouterr().err


def test_squares_of_two_trails_are_one_and_what_one_withholds_is_not_shown() -> None:
    one, other = planted(40).view(ON, RULES), planted(25).view(ON, RULES)
    both = region_view([one, other], on=ON)
    assert both == region_view([other, one], on=ON)
    boxes = Counter[str]()
    for view in (one, other):
        boxes.update({cell.cell: cell.boxes for cell in view.cells})
    assert {cell.cell: cell.boxes for cell in both.cells} == boxes
    assert len({cell.cell for cell in both.cells}) == len(both.cells)
    assert sorted(both.nests, key=str) == sorted(one.nests + other.nests, key=str)
    silent = planted(25).view(ON, replace(RULES, ongoing="withheld"))
    shared = {cell.cell for cell in one.cells} & {cell.cell for cell in silent.cells}
    assert shared
    for cell in region_view([one, silent], on=ON).cells:
        assert (cell.in_use is None) == (cell.cell in {own.cell for own in silent.cells})
    assert region_view([one, replace(other, licence=None)], on=ON).licence is None
    assert region_view([], on=ON).cells == ()


def test_a_trail_that_joins_or_leaves_shows_after_its_file_changed(
    region: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(region, tmp_path / "region"))
    app = FolderApp(ServerSettings(trail=folder, on=ON))
    views = app._region
    before = views()
    assert views() is before
    with Trail.open(folder / "birch.gpkg") as trail:
        trail.change_settings(public_rules=replace(RULES, in_region="no"))
    assert views() is before
    views._look_s = 0.0
    after = views()
    assert after.trail == "One nest box trail"
    with Trail.open(folder / "alder.gpkg") as trail:
        own = stored_view(trail, trail.settings(), ON)
    assert own is not None
    assert (after.cells, after.nests) == (own.cells, tuple(sorted(own.nests, key=str)))
    assert after.cells != before.cells
    views._look_s = 0.0
    assert views() is after


def region_of(dice: np.random.Generator, trails: int, boxes: int, within_m: float) -> list[Points]:
    """Trails of one region, within some kilometres of each other."""
    made = [made_trail(dice, boxes, "block") for _ in range(trails)]
    lon, lat = next(iter(made[0].values()))
    moved: list[Points] = []
    for number, points in enumerate(made):
        first = next(iter(points.values()))
        east, north = dice.uniform(-within_m, within_m, 2) / METRES_PER_DEGREE
        moved.append(
            {
                f"{number} {box}": (x - first[0] + lon + east, y - first[1] + lat + north)
                for box, (x, y) in points.items()
            }
        )
    return moved


@dataclass(frozen=True)
class Union:
    """The squares of a region as they are published, its boxes, and the square of each."""

    cells: tuple[Cell, ...]
    points: Points
    names: Mapping[str, str]

    @classmethod
    def of(cls, trails: Iterable[Points], size_deg: float, *, by_squares: bool = False) -> Union:
        """`by_squares` publishes each box in its own square, as our rules do not."""
        views, points, names = [], dict[str, tuple[float, float]](), dict[str, str]()
        for own in trails:
            layout = laid_out(own, size_deg=size_deg)
            if by_squares:
                squares = {box: cell_of(*point, size_deg=size_deg) for box, point in own.items()}
                layout = Layout(size_deg, squares, None)
            views.append(replace(planted().view(ON, RULES), cells=cells_of(layout)))
            names |= {box: cell.name for box, cell in layout.cell_of_box.items()}
            points |= own
        return cls(region_view(views, on=ON).cells, points, names)

    def clusters(self) -> list[Union]:
        """Squares that touch, apart from the others: a stranger takes each for a trail."""
        shapes = [shapely.buffer(cell.footprint, cell.size_deg / 100) for cell in self.cells]
        joined = shapely.get_parts(shapely.unary_union(shapes))
        found = []
        for part in joined:
            pairs = zip(self.cells, shapes, strict=True)
            cells = tuple(cell for cell, shape in pairs if part.intersects(shape))
            of_part = {cell.cell for cell in cells}
            names = {box: name for box, name in self.names.items() if name in of_part}
            found.append(Union(cells, {box: self.points[box] for box in names}, names))
        return found


def expect_hidden(places: int, boxes: int, size_deg: float) -> None:
    """Over the whole union, and over each cluster of it, no way beats the square alone by far."""
    dice = np.random.default_rng(boxes)
    errors = defaultdict[str, list[float]](list)
    for _ in range(places):
        union = Union.of(region_of(dice, 3, boxes, 5_000), size_deg)
        for way in ([union], union.clusters()):
            for one in way:
                for name, found in errors_m(one.cells, one.points, one.names).items():
                    errors[name] += [float(np.median(found))]
    medians = {name: float(np.median(found)) for name, found in errors.items()}
    shares = {name: error / medians[ALONE] for name, error in medians.items()}
    assert all(share >= LEAST_SHARE for share in shares.values()), shares


CASES = [(20, 0.01), (60, 0.01), (20, 0.1)]


def test_the_union_leads_to_the_boxes_no_better_than_the_squares() -> None:
    expect_hidden(6, *CASES[0])


@pytest.mark.long
@pytest.mark.parametrize(("boxes", "size_deg"), CASES)
def test_the_union_leads_to_the_boxes_no_better_than_the_squares_at_100_places(
    boxes: int, size_deg: float
) -> None:
    expect_hidden(100, boxes, size_deg)


def test_the_attack_finds_trails_of_a_region_published_square_by_square() -> None:
    """That the attack can succeed: what it is for."""
    dice = np.random.default_rng(5)
    shares = []
    for _ in range(10):
        union = Union.of(region_of(dice, 3, 20, 12_000), 0.01, by_squares=True)
        for one in union.clusters():
            if len(one.cells) > 1:
                found = find_boxes(one.cells, one.points, one.names)
                shares.append(found.error_m / found.alone_m)
    assert np.median(shares) < LEAST_SHARE
