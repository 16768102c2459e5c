"""No two faces print different days for one event: each prints the day that `dating` has, by
the visits up to the day asked for; what is shown with hindsight, by all visits.
"""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
import shapely
from fastapi.testclient import TestClient

from data_demo.simulate import deal_cases, simulate_season
from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts, known_on
from layers.nesting.histories import Histories
from layers.publishing.nests import published_nests, published_until
from layers.trail.coding import day_of
from layers.trail.public_rules import PublicRules
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.due.view import calendar_file
from server.live.contents import Contents
from server.live.public_views import public_view_of
from server.settings import ServerSettings
from tests.every_day import (
    Compared,
    compare_calendar,
    compare_card,
    compare_dates,
    compare_due,
    compare_map,
    compare_nest,
    compare_season,
    compare_states,
    days_in,
)
from tests.every_nest import Nest, all_nests
from tests.maps.unpacking import unpack
from tests.server.conftest import HOST
from tests.server.small_trail import at, make_trail

pytestmark = pytest.mark.slow

DAYS = [
    dt.date(2026, month, day)
    for month, day in (
        (4, 20), (5, 1), (5, 6), (5, 14), (5, 22), (5, 30),
        (6, 8), (6, 17), (6, 28), (7, 12), (8, 1), (8, 31),
    )
]  # fmt: skip
CARDS_EVERY, PAGES_EVERY = 12, 24
"""Of the boxes one in so many is read on a day, others on the next: all of them in turn."""

BOXES = [f"S{i:03d}" for i in range(400)]


@dataclass(frozen=True)
class Served:
    """A trail, and an app on it that is asked on the last of the days."""

    path: Path
    contents: Contents
    client: TestClient


@pytest.fixture(scope="module", params=["demo", "simulated"])
def served(
    request: pytest.FixtureRequest, built: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Served]:
    path = built if request.param == "demo" else _simulated(tmp_path_factory.mktemp("simulated"))
    with Trail.open(path) as trail:
        contents = Contents.read(trail)
    app = create_app(ServerSettings(trail=path, on=DAYS[-1]))
    with TestClient(app, base_url=HOST) as client:
        yield Served(path, contents, client)


def _simulated(folder: Path) -> Path:
    made = simulate_season(BOXES, year=2026, seed=41, cases=deal_cases(BOXES, seed=41))
    path = folder / "simulated.gpkg"
    with Trail.create(path, Settings(name="Simulated", timezone="America/New_York")) as trail:
        places = [shapely.Point(-77.9 + 0.001 * i, 42.6) for i in range(len(BOXES))]
        rows = [{"box": box, "geometry": place} for box, place in zip(BOXES, places, strict=True)]
        trail.add_rows("boxes", rows)
        trail.add_rows("visits", made.visits)
    return path


@pytest.fixture
def printed(
    served: Served, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., str]:
    """What a command prints; the trail is read once for all of them."""

    @contextmanager
    def opened(path: Path) -> Iterator[tuple[None, Contents]]:
        yield None, served.contents

    monkeypatch.setattr("server.terminal.opened", opened)

    def run(command: str, *words: str) -> str:
        assert main([command, str(served.path), *words]) == 0
        return capsys.readouterr().out

    return run


@pytest.mark.parametrize("days", [DAYS[2::4], pytest.param(DAYS, marks=pytest.mark.long)], ids=len)
def test_every_face_prints_the_days_of_dating_as_known_on_the_day(
    served: Served, printed: Callable[..., str], days: list[dt.date]
) -> None:
    read: Counter[str] = Counter()
    wrong: list[str] = []
    for number, on in enumerate(days):
        found = Compared(on)
        histories, dates = known_on(served.contents.histories, on)
        nests = all_nests(histories, dates, on=on)
        of_key = {
            (nest.box, nest.season, nest.number): nest for own in nests.values() for nest in own
        }
        _compare_lists(found, served.client, printed, nests, of_key)
        _compare_boxes(found, served.client, printed, nests, number)
        calendar = calendar_file(served.contents, on=on).decode()
        trail = served.contents.settings.name
        compare_calendar(found, nests, histories, calendar, trail=trail)
        read, wrong = read + found.read, wrong + found.wrong
        if number % 4 != 3 and on != days[-1]:
            continue
        found = Compared(on)
        report = served.client.get(f"/api/season?year=2026&on={on}").json()
        compare_season(
            found,
            nests,
            report,
            lambda nest, known=histories: (  # type: ignore[misc]
                known.species_name(int(nest.row[c.SPECIES])) or "species not recorded"
            ),
        )
        _compare_tables(found, served.client, report)
        read, wrong = read + found.read, wrong + found.wrong
    assert not wrong, "\n".join(wrong)
    assert min(read.values()) > 8 * len(days), read


def _compare_lists(
    found: Compared,
    client: TestClient,
    printed: Callable[..., str],
    nests: dict[str, list[Nest]],
    of_key: dict[tuple[str, int, int], Nest],
) -> None:
    """What tells of all boxes at once."""
    on = str(found.on)
    listed = client.get(f"/api/nests?on={on}").json()
    assert len(listed) == len(of_key)
    for one in listed:
        compare_nest(found, "/api/nests", of_key[one["box"], one["season"], one["attempt"]], one)
    of_season = [one for one in listed if one["season"] == found.on.year]
    by_command = json.loads(printed("nests", "--on", on, "--json"))
    for one, of_api in zip(by_command, of_season, strict=True):
        compare_dates(found, of_key[one["box"], one["season"], one["attempt"]], one.pop("dates"))
        found.same("nests --json", one["box"], one, of_api)
    due = client.get(f"/api/due?everything=true&on={on}").json()
    for one in due:
        compare_due(found, nests[one["box"]], one)
    assert json.loads(printed("due", "--on", on, "--all", "--json")) == due
    pages = -(-sum(one["due"] or one["approach"] != "open" for one in due) // 100)
    for page in range(1, pages + 1):
        text = client.get(f"/due?on={on}&page={page}").text
        known = days_in(json.dumps(due)) | days_in(on)
        found.among("/due", f"page {page}", days_in(text), known)
    compare_states(found, "status", nests, json.loads(printed("status", "--on", on, "--json")))
    features = client.get(f"/api/boxes?on={on}").json()["features"]
    compare_states(found, "/api/boxes", nests, [one["properties"] for one in features])


def _compare_boxes(
    found: Compared,
    client: TestClient,
    printed: Callable[..., str],
    nests: dict[str, list[Nest]],
    number: int,
) -> None:
    """What tells of one box: some boxes on each day, all of them in turn."""
    for place, (box, own) in enumerate(nests.items()):
        if (place - number) % CARDS_EVERY:
            continue
        card = client.get(f"/api/boxes/{quote(box)}?on={found.on}").json()
        compare_card(found, own, card)
        if (place - number) % PAGES_EVERY:
            continue
        known = days_in(json.dumps(card)) | days_in(str(found.on))
        page = client.get(f"/boxes/{quote(box)}?on={found.on}").text
        found.among("box page", box, days_in(page), known)
        text = printed("nests", "--on", str(found.on), "--box", box)
        found.among("nests --box", box, days_in(text), known)


def _compare_tables(found: Compared, client: TestClient, report: dict[str, Any]) -> None:
    """The table of first eggs as a file, and the page: no day but those of the report."""
    known = days_in(json.dumps(report["each_species"])) | days_in(json.dumps(report["weeks"]))
    known |= days_in(json.dumps(report["sentences"])) | days_in(str(found.on))
    known |= days_in(json.dumps(report["years"]["each"])) | days_in(str(report["last_visit"]))
    for address in ("/season", "/season/tables/first-eggs.csv", "/season/tables/weeks.csv"):
        answer = client.get(f"{address}?year=2026&on={found.on}")
        assert answer.status_code == 200
        found.among("season tables", address, days_in(answer.text), known)


def test_with_hindsight_every_face_has_the_days_of_dating_by_all_visits(served: Served) -> None:
    on, histories = DAYS[-1], served.contents.histories
    nests = all_nests(histories, date_attempts(histories), on=on)
    found = Compared(on)
    for season in histories.seasons():
        header, columns = unpack(served.client.get(f"/map/season/{season}").content)
        compare_map(
            found,
            f"map of {season}",
            nests,
            header=header,
            columns=columns,
            boxes=served.contents.ground.ids,
        )
    items = served.client.get("/ogc/collections/nests/items?limit=10000").json()["features"]
    of_key = {(nest.box, nest.season, nest.number): nest for own in nests.values() for nest in own}
    for one in (item["properties"] for item in items):
        nest = of_key[one["box"], one["season"], one["attempt"]]
        compare_nest(found, "/ogc", nest, one | {"reasons": [one["reasons"]]})
    assert not found.wrong, "\n".join(found.wrong)
    assert min(found.read.values()) > 50, found.read


def test_the_public_is_shown_the_month_in_which_dating_has_a_nest_end(served: Served) -> None:
    rules = PublicRules(unmarked="shown")
    settings = replace(served.contents.settings, public_rules=rules)
    contents = replace(served.contents, settings=settings)
    ids = [box for box in contents.ground.ids if contents.ground.box(box)["public"] != "hidden"]
    compared = 0
    months = {published_until(on, delay_days=rules.delay_days): on for on in DAYS}
    for month_end, on in months.items():
        nests = published_nests(contents.histories, boxes=ids, rules=rules, until=month_end)
        expected = Counter(end for end in _ends(nests, month_end) if end is not None)
        with Trail.open(served.path) as trail:
            view = public_view_of(trail, contents, on)
        assert Counter((nest.season, nest.ended) for nest in view.nests) == expected
        compared += len(view.nests)
    assert compared > 50


def _ends(histories: Histories, until: dt.date) -> list[tuple[int, str] | None]:
    """Season, and month of the end, of every attempt; None where nothing was laid."""
    found = all_nests(histories, date_attempts(histories), on=until)
    return [
        (nest.season, f"{day_of(nest.ends):%Y-%m}") if nest.laid else None
        for own in found.values()
        for nest in own
    ]


def test_a_list_of_a_day_has_no_reason_from_a_later_visit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    visits: list[dict[str, Any]] = [
        {"box": "L1", "seen_on": "2026-04-22", "nest": "lined cup", "opened": "yes"},
        {"box": "L1", "seen_on": "2026-04-29", "eggs": 4, "species": "eastern bluebird"},
        {"box": "L1", "seen_on": "2026-05-06", "eggs": 4, "eggs_warm": "yes"},
        {"box": "L1", "seen_on": "2026-05-14", "eggs": 0, "young": 0, "nest": "lined cup"},
    ]
    path = make_trail(tmp_path / "lane.gpkg", boxes={"L1": at(1)}, visits=visits)
    for day, empty in (("2026-05-06", False), ("2026-05-13", False), ("2026-05-14", True)):
        for more in (["--json"], ["--box", "L1"]):
            assert main(["nests", str(path), "--on", day, *more]) == 0
            out = capsys.readouterr().out
            assert ("empty" in out, "14 May" in out) == (empty, empty)
            assert ("ongoing" in out) != empty
