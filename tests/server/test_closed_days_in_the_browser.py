"""Nothing tells the keeper to open a box in its closed days, on any face and all season long.

A day's closed boxes are those that the product itself calls closed, and those whose young
truly are too old by the simulator and the guide, wherever anybody knows of the nest.
"""

from __future__ import annotations

import datetime as dt
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
import vobject
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, expect

from data_demo.demo import make_demo
from data_demo.nest import TrueAttempt
from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.settings import ServerSettings
from tests.sampling import one_in
from tests.server.box_sentences import SAYS_SHUT, lines, offence, part
from tests.server.conftest import HOST, Serve
from tests.server.serving import Served
from tests.server.test_due_page import closed_boxes, contents_of

EPOCH = dt.date(1970, 1, 1)
TRUTH = [
    nest
    for season in make_demo().seasons
    for nest in season.truth
    if nest.season == 2026 and nest.first_egg_day is not None
]
FIRST = min(nest.first_egg_day for nest in TRUTH if nest.first_egg_day is not None)
LAST = max(nest.end_day for nest in TRUTH if nest.end_day is not None)
DAYS = [EPOCH + dt.timedelta(days=day) for day in range(FIRST, LAST + 1, 3)]
IN_THE_BROWSER = [day for day in DAYS[3::4] if dt.date(2026, 5, 1) < day < dt.date(2026, 8, 15)]
SIZES = ((1280, 800), (390, 844))
STOP = '<li id="stop.*?(?=<li id="stop|<li class="home")'


@pytest.fixture(scope="module")
def season(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo trail, with ants, a snake or a mouse met at every box with large young."""
    path = Path(shutil.copy(built, tmp_path_factory.mktemp("season") / "trail.gpkg"))
    met = [
        {
            "box": nest.box,
            "seen_on": (EPOCH + dt.timedelta(days=nest.hatch_day + 8)).isoformat(),
            "adult": "near",
            "opened": "no",
            "signs": ("ants", "snake", "mouse")[number % 3],
        }
        for number, nest in enumerate(TRUTH)
        if nest.hatch_day is not None and nest.label != "never visited"
    ]
    with Trail.open(path) as trail:
        trail.add_rows("visits", met)
    return path


@pytest.fixture(scope="module")
def shut(season: Path) -> dict[dt.date, set[str]]:
    """Day -> the boxes in their closed days."""
    contents = contents_of(season)
    guide, visits = contents.guide, contents.histories.visits

    def known(nest: TrueAttempt, day: int) -> bool:
        own = contents.histories.visits_of(nest.box)
        return any(
            nest.start_day <= visits.day[i] <= day and (visits.eggs[i] > 0 or visits.young[i] > 0)
            for i in own
        )

    found = {day: closed_boxes(contents, day) for day in DAYS}
    for nest in TRUTH:
        species = guide.get(nest.species)
        if nest.hatch_day is None or species is None or species.closed_from_day is None:
            continue
        # Two days off each end, so that no doubt about the dates can matter.
        first = nest.hatch_day + int(species.closed_from_day.low) + 2
        end = min(nest.end_day or LAST, nest.hatch_day + int(species.nestling_days.low)) - 2
        for day in DAYS:
            if first <= (day - EPOCH).days < end and known(nest, (day - EPOCH).days):
                found[day].add(nest.box)
    return found


def expect_shut(told: Sequence[str], *, on: dt.date, where: str) -> None:
    """No line sends a hand into the box, and one says that it stays closed."""
    assert [(where, line, found) for line in told if (found := offence(line, on=on))] == []
    assert any(SAYS_SHUT.search(line) for line in told), (where, on, told)


def of_box(page: str, row: str, mark: str) -> list[str]:
    """The one row of a page that is about a box, known by its mark."""
    (found,) = (each for each in re.findall(row, page, re.DOTALL) if mark in each)
    return lines(found)


def pages_of(get: Callable[[str], str], boxes: Sequence[str]) -> Iterator[tuple[str, list[str]]]:
    """What each page says of each box, after the page's name."""
    due = {by: get(f"/due?by={by}") for by in ("urgency", "section")}
    asked = f"set=boxes&boxes={','.join(boxes)}"
    walk, sheet, winter = get(f"/round?{asked}"), get(f"/round/sheet?{asked}"), get("/winter")
    for box in boxes:
        page, form = get(f"/boxes/{box}"), get(f"/boxes/{box}/visit")
        yield f"box {box}", lines(part(page, "<h1>", '<section aria-labelledby="visits">'))
        yield f"form of {box}", lines(part(form, "<h1>", "<form"))
        for by, page in due.items():
            yield f"due by {by}, {box}", of_box(page, "<tr>.*?</tr>", f'"Box {box}"')
        yield f"round, {box}", of_box(walk, STOP, f">{box}</a>")
        yield f"sheet, {box}", of_box(sheet, "<tr>.*?</tr>", f"<b>{box}</b>")
        yield f"winter, {box}", lines(part(winter, "<h2>Leave alone for now", "<h2>Unused"))


@pytest.mark.parametrize("on", one_in(3, DAYS))
def test_no_page_call_or_file_advises_to_open_a_closed_box(
    season: Path, shut: dict[dt.date, set[str]], on: dt.date, capsys: pytest.CaptureFixture[str]
) -> None:
    app = create_app(ServerSettings(trail=season, on=on))
    with TestClient(app, base_url=HOST) as client:
        due = {one["box"]: one for one in client.get("/api/due?everything=true").json()}
        events = vobject.readOne(client.get("/due.ics").text).contents.get("vevent", [])
        winter = client.get("/api/winter").json()
        for where, told in pages_of(lambda address: client.get(address).text, sorted(shut[on])):
            expect_shut(told, on=on, where=where)
        field = {one["box"]: one for one in client.get("/field/day").json()["boxes"]}
        for box in shut[on]:
            expect_shut(_of_call(due[box]), on=on, where=f"/api/due of {box}")
            expect_shut(_of_field(field[box]), on=on, where=f"/field/day of {box}")
            told = _of_card(client.get(f"/api/boxes/{box}").json(), on)
            expect_shut(told, on=on, where=f"/api/boxes of {box}")
            expect_shut(_of_calendar(events, box, on), on=on, where=f"/due.ics of {box}")
            expect_shut(_of_key(client, box, on), on=on, where=f"key for {box}")
            assert box in winter["waiting"]
            assert box not in {one["box"] for one in winter["to_do"]}
    for words in (["due", str(season), "--all"], ["nests", str(season)]):
        assert main([*words, "--on", str(on)]) == 0
        said = capsys.readouterr().out.splitlines()
        for box in shut[on]:
            told = [line for line in said if line.split()[:1] == [box]]
            assert [line for line in told if offence(line, on=on)] == []
            assert words[0] == "nests" or SAYS_SHUT.search(told[0])


def _of_key(client: TestClient, box: str, on: dt.date) -> list[str]:
    """What the form says when it is asked who could nest there."""
    asked = {"ask": "key", "box": box, "date": on.isoformat(), "eggs": "5"}
    page = client.post(f"/boxes/{box}/visit", data=asked, headers={"Origin": HOST}).text
    answer = lines(part(page, "data-key-answer", "</details>"))
    assert any(line.startswith(("Not sure", "Most likely")) for line in answer)
    return [*lines(part(page, "<h1>", "<form")), *answer]


def _of_call(one: dict[str, Any]) -> list[str]:
    reasons = [text for reason in one["reasons"] for text in (reason["kind"], reason["text"])]
    return [one["approach"], one["approach_text"], one["expected"], *reasons, *one["cautions"]]


def _of_field(one: dict[str, Any]) -> list[str]:
    assert one["approach"] != "open"
    days = [] if one["closed"] is None else [f"Do not open {one['closed']}"]
    said = [one["approach"], one["approach_text"], one["expected"], *days, *one["reasons"]]
    return [*said, *one["cautions"]]


def _of_card(card: dict[str, Any], on: dt.date) -> list[str]:
    needs, nest = card["due"], card["attempts"][-1]
    bars = {row["label"]: row["parts"] for row in nest["picture"]["rows"]}
    assert all(bar["from"] > str(on) for bar in bars.get("Check, then clean", []))
    said = [needs["approach"], needs["approach_text"], needs["expected"], *needs["reasons"]]
    said += [one["text"] for one in nest["forecast"]]
    return [*said, *card["cautions"], *nest["date_reasons"], *nest["reasons"]]


def _of_calendar(events: Sequence[Any], box: str, on: dt.date) -> list[str]:
    """Events of a box on a day; those to come are told on their own days."""
    now = [event for event in events if event.dtstart.value <= on < event.dtend.value]
    now = [event for event in now if event.summary.value.startswith(f"Box {box}:")]
    return [text for event in now for text in (event.summary.value, event.description.value)]


def test_the_days_looked_at_hold_many_closed_boxes_and_some_that_may_be_opened(
    season: Path, shut: dict[dt.date, set[str]]
) -> None:
    assert len(DAYS) > 40
    assert sum(len(boxes) for boxes in shut.values()) > 100
    assert len(set.union(*shut.values())) > 20
    contents = contents_of(season)
    told = [
        offence(reason.text, on=on)
        for on in DAYS
        for one in contents.due(on)
        if one.box not in shut[on]
        for reason in one.reasons
    ]
    assert sum(map(bool, told)) > 100


@pytest.mark.parametrize("on", one_in(3, IN_THE_BROWSER))
def test_no_screen_advises_to_open_a_closed_box(
    browser: Browser,
    serve: Serve,
    season: Path,
    shut: dict[dt.date, set[str]],
    on: dt.date,
) -> None:
    server, boxes = serve(season, on=on), sorted(shut[on])
    page = browser.new_page()
    # Every box is looked at over HTTP; a third of them in the browser, others on other days.
    for box in boxes[IN_THE_BROWSER.index(on) % 3 :: 3]:
        asked = f"set=boxes&boxes={box}"
        for where, scope in (
            (f"/boxes/{box}", "main"),
            (f"/boxes/{box}/visit", "main"),
            (f"/round?{asked}", ".legs > li:not(.home)"),
            (f"/field?{asked}#box={box}", "#view"),
            (f"/round/sheet?{asked}", "tbody"),
        ):
            page.goto(server.address + where)
            page.locator(scope).first.wait_for()
            if "#box=" in where:
                page.locator("#view .rest summary").click()
            _look(page, scope, on=on, where=where)
    for media in ("screen", "print"):
        page.emulate_media(media=media)
        page.goto(f"{server.address}/due")
        for box in boxes:
            row = f'tr:has(a[aria-label="Box {box}"])'
            _look(page, row, on=on, where=f"/due in {media} of {box}")
    page.close()
    _look_at_cards(browser, server, boxes[:3], on)


def _look(page: Page, scope: str, *, on: dt.date, where: str) -> None:
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        seen = [said for part in page.locator(scope).all() for said in _seen(part.inner_text())]
        expect_shut(seen, on=on, where=f"{where} at {width}")


def _seen(text: str) -> list[str]:
    """Lines up to what was recorded and what somebody fills in."""
    upto = re.split(r"\n(?:Visits|Last visits|Day)\n", text)[0]
    return [said for line in re.split(r"[\n\t]", upto) if (said := line.strip())]


def _look_at_cards(browser: Browser, server: Served, boxes: Sequence[str], on: dt.date) -> None:
    for width, height in SIZES:
        page = browser.new_page(viewport={"width": width, "height": height})
        for box in boxes:
            page.goto(f"{server.address}/list")
            page.goto(f"{server.address}/#theme=due&box={box}")
            expect(page.locator("#card h2").first).to_have_text(f"Box {box}")
            card = _seen(page.locator("#card").inner_text())
            expect_shut(card, on=on, where=f"map card of {box} at {width}")
        page.close()
