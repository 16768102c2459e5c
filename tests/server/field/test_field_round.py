"""Rounds without a signal, in two engines: kills lose nothing, and nothing is saved twice."""

from __future__ import annotations

import random
import statistics
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Error as BrowserGone

from layers.trail.store import Trail
from tests.server.conftest import Process
from tests.server.field.conftest import CLOSED, DAY, NEVER_VISITED, Site, boxes_of_a_round
from tests.server.field.line import Line
from tests.server.field.walker import Walker

Walkers = Callable[[str, str], Walker]
GONE = (BrowserGone, httpx.HTTPError, RuntimeError)
"""What a call to a killed browser raises."""


def rows(trail_path: Path) -> list[dict[str, Any]]:
    """What holds of the visits that were made on the day."""
    with Trail.open(trail_path) as trail:
        return [row for row in trail.visit_rows() if row["seen_on"] == DAY]


def added(trail_path: Path, before: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The visits since, by box: of each box one."""
    found = [row for row in rows(trail_path) if row not in before]
    assert len({row["box"] for row in found}) == len(found)
    return {row["box"]: row for row in found}


def fill(walker: Walker, number: int) -> None:
    """A usual visit: from outside, as last time, or young counted and their age chosen."""
    if walker.offers("Watch from outside"):
        walker.tap("adult feeding young")
    elif walker.offers("As last time") and number % 3:
        walker.tap("As last time")
    else:
        walker.number("young", 4)
        walker.age(2)


@pytest.mark.timeout(600)
@pytest.mark.parametrize("engine", ["chromium", pytest.param("webkit", marks=pytest.mark.long)])
def test_a_round_of_25_boxes_without_a_signal_loses_and_doubles_nothing(
    site: Site, walker: Walkers, trail_path: Path, engine: str
) -> None:
    before = rows(trail_path)
    boxes = boxes_of_a_round(site.address, 25)
    query = f"set=boxes&order=given&boxes={','.join(boxes)}"
    phone = walker(engine, f"{site.address}/field?{query}")
    phone.wait(f"document.querySelectorAll('.stops .order').length === {len(boxes)}")
    site.end()
    phone.close_tab()
    phone.press("//a[contains(@class,'go')]")
    taps = []
    for number, box in enumerate(boxes):
        assert phone.title() == box
        phone.taps = 0
        fill(phone, number)
        if number in (6, 14):
            phone.wait_until_kept()
            phone.close_tab()
            phone.open_box(box)
        if number == 10:
            phone.wait_until_kept()
            phone.kill()
            phone.open()
            phone.open_box(box)
        phone.save()
        taps.append(phone.taps)
        if number == 3:
            phone.press("//*[@id='toast']//button[.='Undo']")
            phone.wait(f"document.querySelector('#title').textContent.split(' ')[0] === '{box}'")
            phone.save()
    print(f"{engine}: taps {taps}, median {statistics.median(taps)}, mean {statistics.mean(taps)}")
    assert statistics.median(taps) <= 4
    assert statistics.mean(taps) <= 5
    assert phone.done() == "25 of 25 boxes done."
    # A wrong count is corrected: before it could be sent, and after.
    phone.open_box(NEVER_VISITED)
    phone.number("young", 2)
    phone.save()
    site.begin()
    phone.all_sent()
    held = added(trail_path, before)
    assert sorted(held) == sorted(boxes)
    assert held[NEVER_VISITED]["young"] == 2
    assert (held[CLOSED]["adult"], held[CLOSED]["opened"]) == ("feeding", "no")
    assert all(row["seen_at"] for row in held.values())
    phone.open_box(NEVER_VISITED)
    phone.number("young", 3)
    phone.save()
    phone.all_sent()
    held = added(trail_path, before)
    assert sorted(held) == sorted(boxes)
    assert held[NEVER_VISITED]["young"] == 3


class Walk:
    """A round during which the browser is killed at random moments."""

    def __init__(self, walker: Walker, boxes: list[str], dice: random.Random) -> None:
        self.walker, self.boxes, self.dice = walker, boxes, dice
        self.drafts: dict[str, str] = {}
        """What the page reported as kept, by box."""
        self.saved: set[str] = set()
        self.kills = 0

    def go(self, kills: int) -> None:
        """Record every box; kills begin at moments by dice, one after the other."""
        while len(self.saved) < len(self.boxes):
            killed: list[bool] = []
            timer = threading.Timer(self.dice.uniform(0, 3), lambda now=killed: self._kill(now))
            if self.kills < kills:
                timer.start()
            try:
                for number, box in enumerate(self.boxes):
                    if box not in self.saved:
                        self._record(box, number)
            except GONE:
                if self.kills == kills:
                    raise
                timer.join()
            timer.cancel()
            if timer.ident is not None:
                timer.join()
            if killed:
                self.kills += 1
                self._begin_again()

    def _kill(self, now: list[bool]) -> None:
        now.append(True)
        self.walker.kill()

    def _begin_again(self) -> None:
        self.walker.open()
        assert self.walker.waiting() >= len(self.saved), "a visit that was reported saved is lost"
        for box, entered in self.drafts.items():
            if box not in self.saved:
                self.walker.open_box(box)
                assert self.walker.entered() == entered, "a draft that was reported kept is lost"

    def _record(self, box: str, number: int) -> None:
        self.walker.open_box(box)
        # What a kill left is saved as it is: a second press would take it back.
        if not self.walker.offers("Clear"):
            fill(self.walker, number)
            self.walker.wait_until_kept()
        self.drafts[box] = self.walker.entered()
        self.walker.save()
        self.saved.add(box)


@pytest.mark.parametrize(
    "case",
    [
        ("chromium", 6, 2, 0),
        # This engine is not installed where `make test` runs.
        pytest.param(("webkit", 6, 2, 0), marks=pytest.mark.long),
        *(pytest.param(("chromium", 25, 5, seed), marks=pytest.mark.long) for seed in range(1, 21)),
        *(pytest.param(("webkit", 25, 10, seed), marks=pytest.mark.long) for seed in range(1, 6)),
    ],
    ids=lambda case: "-".join(map(str, case)),
)
def test_kills_at_random_moments_lose_and_double_nothing(
    served: tuple[Path, Process], line: Line, walker: Walkers, case: tuple[str, int, int, int]
) -> None:
    engine, count, kills, seed = case
    trail_path, _ = served
    before = rows(trail_path)
    boxes = boxes_of_a_round(line.address, count)
    phone = walker(engine, f"{line.address}/field")
    line.cut()
    walk = Walk(phone, boxes, random.Random(seed))
    walk.go(kills)
    line.mend()
    phone.all_sent()
    held = added(trail_path, before)
    assert sorted(held) == sorted(boxes)
    assert all(row["opened"] is not None for row in held.values())
    print(f"{engine}: {walk.kills} kills, {len(held)} visits, each once")
