"""The days on a box's card: drawn, and told in words, as the engine says them."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from playwright.sync_api import Browser, Locator, Page, Route, expect

from layers.nesting.due import WATCH
from tests.maps.made import ON, made, self_contained
from tests.maps.test_closed_days import TO_OPEN
from tests.maps.watched import Watched, accessible

LATER = ON + dt.timedelta(days=2)


@cache
def under_way(approach: str | None = None) -> tuple[str, int]:
    """A box whose nest has something to come, and its number."""
    for at, box in enumerate(made().boxes["box"]):
        card = made().card(at)
        nests = card["attempts"]
        if (
            nests
            and nests[-1]["forecast"]
            and approach in (None, (card["due"] or {}).get("approach"))
        ):
            return str(box), at
    raise AssertionError("the made-up trail has no such box")


def opened(watched: Watched, box: str, more: str = "") -> Locator:
    page = watched.open(f"/#box={quote(box, safe='')}{more}")
    expect(page.locator("#card h2")).to_have_text(f"Box {box}")
    return page.locator("#card")


def latest(at: int, on: dt.date = ON) -> dict[str, Any]:
    nest: dict[str, Any] = made().card(at, on)["attempts"][-1]
    return nest


def rows(nest: Locator) -> list[list[str]]:
    return [
        row.locator("th, td").all_inner_texts()
        for row in nest.locator(".days-table tbody tr").all()
    ]


def test_a_nest_under_way_is_drawn_and_worded_as_the_engine_says(watched: Watched) -> None:
    box, at = under_way()
    nest, said = opened(watched, box).locator(".nest").first, latest(at)
    drawn = said["picture"]["rows"]
    assert nest.locator(".calendar rect").count() == sum(len(row["parts"]) for row in drawn)
    assert nest.locator(".calendar-labels span").all_inner_texts() == [
        row["label"] for row in drawn
    ]
    assert rows(nest) == [
        [day["event_label"], day["best_text"], day["interval_80"], day["interval_95"]]
        for day in said["days"]
    ]
    for one in said["forecast"]:
        expect(nest).to_contain_text(one["text"])
    expect(nest).to_contain_text("What comes next, as known on Wed 3 June 2026")
    accessible(watched.page)


def test_the_wider_interval_holds_the_narrower_and_that_the_likeliest_day(watched: Watched) -> None:
    nest = opened(watched, under_way()[0]).locator(".nest").first
    compared = 0
    for wide, narrow, best in zip(
        *(nest.locator(f".days-{look}").all() for look in ("95", "80", "best")), strict=True
    ):
        a, b, c = wide.bounding_box(), narrow.bounding_box(), best.bounding_box()
        assert a
        assert b
        assert c
        assert a["x"] <= b["x"] + 1
        assert b["x"] + b["width"] <= a["x"] + a["width"] + 1
        assert b["x"] - 1 <= c["x"] + c["width"] / 2 <= b["x"] + b["width"] + 1
        compared += 1
    assert compared >= 3


def test_a_card_follows_the_day_that_is_shown(watched: Watched) -> None:
    box, at = under_way()
    card = opened(watched, box)
    watched.data()
    late: list[Route] = []

    def keep(route: Route) -> None:
        late.append(route)

    asked = re.compile(f"on={LATER.isoformat()}")
    watched.page.route(asked, keep)
    watched.page.locator("#day").fill(LATER.isoformat())
    expect(card).to_contain_text(
        "What is due here, and where to take care, is shown for Wed 3 June 2026 only"
    )
    watched.page.unroute(asked)
    for route in late:
        route.continue_()
    expect(card).not_to_contain_text("is shown for Wed 3 June 2026 only")
    due = made().card(at, LATER)["due"]
    expect(card.locator(".needs")).to_contain_text(due["expected"])
    assert [url.rsplit("?", 1)[1] for url in watched.data()] == ["on=2026-06-05"]


def test_a_box_in_its_closed_days_is_to_be_looked_at_from_a_distance(watched: Watched) -> None:
    box, at = under_way(WATCH)
    card = opened(watched, box)
    expect(card.locator(".caution").first).to_contain_text("Watch from a distance; do not open.")
    said = [*card.locator(".needs, .needs + ul, .caution").all_inner_texts()]
    assert [text for text in said if TO_OPEN.search(text)] == []
    assert made().card(at)["cautions"][0] in card.inner_text()
    accessible(watched.page)


def test_a_box_that_is_due_says_why(watched: Watched) -> None:
    at = next(at for at, _ in enumerate(made().boxes["box"]) if _due(at)["due"])
    card = opened(watched, str(made().boxes["box"][at]))
    expect(card.locator(".needs strong")).to_contain_text(_due(at)["urgency"].capitalize())
    for reason in _due(at)["reasons"]:
        expect(card).to_contain_text(reason)


def _due(at: int) -> dict[str, Any]:
    return made().card(at)["due"] or {"due": False}


def test_on_paper_a_card_is_unfolded(watched: Watched) -> None:
    card = opened(watched, under_way()[0])
    folded = card.locator("details:not([open])")
    assert folded.count() > 0
    watched.page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    assert card.locator("details:not([open])").count() == 0
    watched.page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    assert folded.count() > 0


def test_a_card_in_one_file_says_for_which_day_it_holds(browser: Browser, tmp_path: Path) -> None:
    file = tmp_path / "map.html"
    file.write_text(self_contained(), encoding="utf-8")
    context = browser.new_context(offline=True, viewport={"width": 1280, "height": 800})
    seen = Watched(context.new_page(), file.as_uri())
    box, at = under_way()
    page: Page = seen.open(f"#box={quote(box, safe='')}")
    expect(page.locator("#card .needs")).to_contain_text(_due(at)["expected"])
    page.locator("#day").fill(LATER.isoformat())
    expect(page.locator("#card")).to_contain_text("is shown for Wed 3 June 2026 only")
    expect(page.locator("#card .needs")).to_be_hidden()
    expect(page.locator("#card .calendar .shown").first).to_be_attached()
    assert seen.complaints == []
    context.close()
