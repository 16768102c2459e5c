"""Everything public is looked through: no secret is in it, whatever the boxes, rules and day."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.publishing import PublicView
from layers.trail.public_rules import CELLS_DEG, PublicRules
from layers.trail.store import Trail
from server.app import create_app
from server.public.site import site
from server.settings import ServerSettings
from tests.publishing.leaks import secrets_of
from tests.publishing.planted import WORDS, planted, write
from tests.publishing.scanner import Crawled, Secrets, crawl, findings

pytestmark = pytest.mark.slow

MANY = 300
ON = dt.date(2026, 6, 3)
AFTER = dt.date(2026, 12, 1)
RULES = PublicRules(
    ongoing="in use",
    coarse_species=("black-capped chickadee",),
    withheld_species=("great crested flycatcher",),
    licence="CC BY 4.0",
)
OPEN = "/open/"


def bodies_of(view: PublicView, *, pictures: bool = True) -> dict[str, bytes]:
    """Every public file of a view."""
    return {
        name: make()
        for name, make in site(view, address="https://example.org/trail/").items()
        if pictures or not name.endswith(".png")
    }


@contextmanager
def served(trail: Path, on: dt.date) -> Iterator[TestClient]:
    with TestClient(
        create_app(ServerSettings(trail=trail, on=on)), base_url="http://127.0.0.1"
    ) as client:
        yield client


def all_open(client: TestClient) -> Crawled:
    """Everything public on a server, also what no page links to."""
    view = client.app.state.public_views()  # type: ignore[attr-defined]
    return crawl(client, [OPEN, *(f"{OPEN}{name}" for name in site(view))], below=OPEN)


@pytest.fixture(scope="module")
def many_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("many") / "trail.gpkg", planted(MANY), RULES)


@pytest.mark.parametrize("on", [dt.date(2026, 4, 30), ON, dt.date(2026, 7, 31), AFTER])
def test_a_crawl_of_the_public_pages_finds_nothing(many_file: Path, on: dt.date) -> None:
    with served(many_file, on) as client:
        crawled = all_open(client)
    assert {a: s for a, s in crawled.statuses.items() if s != 200} == {}
    assert {f"{OPEN}index.html", f"{OPEN}card.png", f"{OPEN}nests.csv"} <= crawled.statuses.keys()
    assert findings(crawled.bodies, secrets_of(planted(MANY), RULES, on)) == []


@pytest.mark.parametrize("month", range(1, 13))
def test_no_month_of_the_season_lets_anything_out(month: int) -> None:
    trail, day = planted(MANY), dt.date(2026, month, 20)
    secrets = secrets_of(trail, RULES, day)
    assert findings(bodies_of(trail.view(day, RULES), pictures=month == 7), secrets) == []


@settings(max_examples=25)
@given(data=st.data())
def test_no_choice_of_boxes_rules_and_day_lets_anything_out(data: st.DataObject) -> None:
    trail = planted()
    words = data.draw(
        st.lists(st.sampled_from(WORDS), min_size=len(trail.boxes), max_size=len(trail.boxes))
    )
    sizes = st.sampled_from(CELLS_DEG)
    cell, coarse = sorted([data.draw(sizes), data.draw(sizes)])
    rules = PublicRules(
        cell=cell,
        coarse_cell=coarse,
        unmarked=data.draw(st.sampled_from(("shown", "coarse", "hidden"))),
        delay_days=data.draw(st.integers(0, 60)),
        ongoing=data.draw(st.sampled_from(("withheld", "in use"))),
    )
    on = data.draw(st.dates(dt.date(2025, 5, 1), dt.date(2026, 12, 31)))
    view = trail.view(on, rules, boxes=trail.marked(words))
    bodies = bodies_of(view, pictures=False)
    assert findings(bodies, secrets_of(trail, rules, on, words=words)) == []


def test_the_same_scan_of_the_teams_pages_finds_every_kind_of_secret(many_file: Path) -> None:
    trail = planted(MANY)
    box = trail.boxes["box"][0]
    addresses = ["/list", "/map/base", "/map/ground", f"/api/boxes/{box}", f"/boxes/{box}"]
    with served(many_file, ON) as client:
        bodies = {address: client.get(address).content for address in addresses}
    found = {
        address: findings({address: body}, secrets_of(trail, RULES, ON))
        for address, body in bodies.items()
    }
    assert len([one for one in found["/map/base"] if "packed numbers" in one]) == MANY
    assert any("finer than its grid" in one for one in found[f"/api/boxes/{box}"])
    assert any("Wilhelmina Oakapple" in one for one in found[f"/boxes/{box}"])
    assert any(box in one for one in found["/list"])
    assert any("day 2026" in one for one in found[f"/api/boxes/{box}"])
    assert any("Owl wood" in one for one in found["/map/ground"])


def test_a_visit_to_a_hidden_box_or_to_an_unpublished_nest_changes_no_byte(tmp_path: Path) -> None:
    small = planted()
    path = write(tmp_path / "trail.gpkg", small, PublicRules())
    hidden = small.boxes["box"][small.boxes["public"] == "hidden"].iloc[0]
    shown = small.boxes["box"][small.boxes["public"] == "shown"].iloc[0]
    with served(path, ON) as client:
        before = all_open(client)
        with Trail.open(path) as trail:
            for number, box in enumerate((hidden, shown)):
                row = {"visit_id": f"new {number}", "box": box, "seen_on": ON, "eggs": 5}
                trail.add_rows("visits", [row | {"species": "barred owl"}])
            trail.add_rows("boxes", [{"box": "new", "public": "hidden"}])
        after = all_open(client)
    assert after.bodies == before.bodies
    assert f"{OPEN} (headers)" in after.bodies


def test_hiding_a_box_leaves_a_view_as_if_it_had_never_stood(tmp_path: Path) -> None:
    trail = planted()
    words = ["shown"] * len(trail.boxes)
    before = bodies_of(trail.view(AFTER, boxes=trail.marked(words)))
    words[3] = "hidden"
    after = bodies_of(trail.view(AFTER, boxes=trail.marked(words)))
    changed = {name: body for name, body in after.items() if body != before[name]}
    assert {"cells.csv", "index.html"} <= changed.keys()
    gone = np.arange(len(words)) == 3
    never = trail.view(
        AFTER,
        boxes=trail.marked(words)[~gone],
        visits=trail.without(gone[trail.histories.visits.box]),
    )
    assert bodies_of(never) == after


def test_every_total_is_the_sum_of_the_cells_beside_it() -> None:
    trail = planted()
    view = trail.view(AFTER, RULES, boxes=trail.marked(["shown"] * len(trail.boxes)))
    pages = bodies_of(view, pictures=False)
    boxes, nested = (
        sum(getattr(cell, name) for cell in view.cells) for name in ("boxes", "nested")
    )
    for name in ("index.html", "list.html", "about.html"):
        assert f"{nested} of {boxes} boxes have held a finished nest".encode() in pages[name]
    numbers = re.findall(rb"<tfoot>.*?<td class=\"number\">(\d+)</td>", pages["seasons.html"], re.S)
    assert sum(map(int, numbers)) == len(view.nests)


def test_the_scan_can_fail() -> None:
    trail = planted()
    secrets: Secrets = secrets_of(trail, RULES, ON)
    leaky = replace(trail.view(ON), trail=f"Trail of {trail.boxes['box'][0]}")
    assert findings(bodies_of(leaky, pictures=False), secrets)
