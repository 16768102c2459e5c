"""A made season of 26 weeks, each planned with three walkers as its Monday finds the trail."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest

from data_demo.build import PUBLIC_RULES
from data_demo.demo import TIMEZONE, Demo, make_demo
from data_demo.reserve import RESERVE_NAME
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.walking.round import shifts
from layers.walking.round.choosing import STEPS
from layers.walking.round.shifts import NO_SHIFT
from server.terminal import opened
from server.week.view import Week, WeekRequest, read_free, week_of

pytestmark = pytest.mark.long  # one week is in `test_week`

FIRST = date(2026, 3, 2)
FREE = ("Ann: Wed 240, Sat 240", "Ben: Mon 240, Sun 240", "Cleo: Tue 240, Thu 240")


@cache
def demo() -> Demo:
    return make_demo()


def as_known(path: Path, on: date) -> Path:
    """The demo trail with the visits made before a day, in the two seasons up to it."""
    reserve, since = demo().reserve, str(on.year - 1)
    settings = Settings(name=RESERVE_NAME, timezone=TIMEZONE, public_rules=PUBLIC_RULES)
    with Trail.create(path, settings) as trail:
        trail.add_rows("boxes", reserve.boxes)
        trail.add_rows("paths", reserve.paths)
        trail.add_rows("places", reserve.places)
        trail.add_rows("zones", reserve.zones)
        rows = [row for row in demo().visits() if since <= str(row["seen_on"]) < on.isoformat()]
        trail.add_rows("visits", rows)
    return path


def walking_minutes(week: Week) -> float:
    rounds = [walk.round.round for walk in week.walks]
    return sum(one.minutes - sum(stop.minutes for stop in one.walks[0].stops) for one in rounds)


@pytest.mark.parametrize("number", range(26))
def test_no_due_box_that_can_be_reached_is_missed_and_the_walks_are_short(
    number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    on = FIRST + timedelta(weeks=number)
    with opened(as_known(tmp_path / "trail.gpkg", on)) as (_, contents):
        wanted = WeekRequest(on, read_free(FREE, on=on))
        week = week_of(contents, wanted)
        # With hindsight: five times the steps, from another beginning.
        monkeypatch.setattr(shifts, "STEPS", 5 * STEPS)
        monkeypatch.setattr(shifts, "SEED", 1)
        best = week_of(contents, wanted)
    assert all(one.reason.startswith(NO_SHIFT) for one in week.missed)
    assert len(best.missed) == len(week.missed)
    assert walking_minutes(week) <= 1.05 * walking_minutes(best)
