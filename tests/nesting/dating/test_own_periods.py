"""A trail's own periods: from its finished nests of earlier seasons, and not from a few."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from layers.nesting.dating import (
    LEAST_NESTS,
    date_attempts,
    own_period_sentences,
    own_periods,
    same_earlier_nests,
)
from layers.nesting.histories import Histories, read_histories
from layers.publishing.nests import published_nests
from layers.trail.public_rules import PublicRules
from tests.nesting.dating.nests import PIPER, piper_guide
from tests.nesting.notebook import coded, seen

# Eggs from 1 to 5 May, hatched on the 18th after 13 days; away after so many days more.
STAYED = 19


def nest(box: str, year: int) -> list[dict[str, Any]]:
    """A nest that somebody saw nearly every day on which something happened."""
    hatched = dt.date(year, 5, 18)
    left = hatched + dt.timedelta(days=STAYED)

    def look(day: dt.date, **found: Any) -> dict[str, Any]:
        return seen(str(day), box=box, species=PIPER, **found)

    return [
        look(dt.date(year, 4, 30), nest="lined cup", eggs=0, young=0),
        look(dt.date(year, 5, 1), eggs=1, young=0),
        look(dt.date(year, 5, 5), eggs=5, young=0),
        look(dt.date(year, 5, 17), eggs=5, young=0, eggs_warm="yes"),
        look(hatched, young=5, young_days=0),
        look(left - dt.timedelta(days=1), young=5, young_days=STAYED - 1),
        look(left, nest="lined cup", eggs=0, young=0, signs="flattened"),
    ]


def trail(nests: int) -> Histories:
    """So many nests of 2025, and one of 2026 of which only the young were seen."""
    boxes = [f"B{i:02d}" for i in range(nests)]
    visits = [row for box in boxes for row in nest(box, 2025)]
    visits.append(seen("2026-05-18", box="B00", species=PIPER, young=5, young_days=0))
    return read_histories(coded(*visits, boxes=boxes), piper_guide(), season_starts="01-01")


def sharpened(histories: Histories) -> Histories:
    return replace(histories, guide=histories.guide.with_own(own_periods(histories)))


def test_many_nests_draw_the_dates_to_what_they_took() -> None:
    histories = trail(60)
    own = sharpened(histories)
    nestling = own.guide.own[PIPER].nestling
    assert nestling is not None
    assert nestling.nests == 60
    assert nestling.mean_days == pytest.approx(STAYED, abs=0.1)
    assert sum(nestling.chances.values()) == pytest.approx(1.0)
    # As 60 nests against 10 of the guide, whose 16 to 20 days give the nineteenth 0.15.
    assert nestling.chances[STAYED] == pytest.approx((60 + 10 * 0.15) / 70, abs=0.02)
    assert own_period_sentences(own.guide) == [
        "Reed piper: eggs hatch 13.0 days after the last one (n 60; the guide has 13 to 14).",
        "Reed piper: young leave 19.0 days after hatching (n 60; the guide has 16 to 20).",
    ]
    under_way = histories.attempts_of("B00")[-1]
    before, after = (date_attempts(one).of(under_way).fledge for one in (histories, own))
    assert before is not None
    assert after is not None
    leaves = dt.date(2026, 5, 18) + dt.timedelta(days=STAYED)
    # The day of hatching is known to a day or so.
    assert abs((after.best - leaves).days) <= 1
    assert after.within_80[1] - after.within_80[0] < before.within_80[1] - before.within_80[0]


def test_few_nests_or_none_of_an_earlier_season_change_nothing() -> None:
    assert own_periods(trail(LEAST_NESTS - 1)) == {}
    histories = trail(LEAST_NESTS)
    assert set(own_periods(histories)) == {PIPER}
    # Before the first visit of 2026 all nests are of the season under way.
    assert own_periods(histories.up_to(dt.date(2025, 12, 31))) == {}


def test_days_that_the_guide_rules_out_stay_so() -> None:
    histories = trail(40)
    expected = date_attempts(histories).tables.nestling[1]
    nestling = own_periods(histories)[PIPER].nestling
    assert nestling is not None
    assert set(nestling.chances) == set(expected.nonzero()[0].tolist())


def test_a_new_visit_leaves_them_as_they_are_and_one_of_an_earlier_season_does_not() -> None:
    histories = trail(LEAST_NESTS)
    rows = [*nest("B00", 2025), seen("2026-05-18", box="B00", young=5, young_days=0)]
    later = [*rows, seen("2026-05-25", box="B00", young=5, young_days=7)]
    now = histories.replaced("B00", coded(*later, boxes=("B00",)))
    then = histories.replaced("B00", coded(*later[1:], boxes=("B00",)))
    new_year = histories.replaced(
        "B00", coded(*rows, seen("2027-05-25", box="B00", young=5), boxes=("B00",))
    )
    assert same_earlier_nests(histories, now, "B00")
    assert not same_earlier_nests(histories, then, "B00")
    assert not same_earlier_nests(histories, new_year, "B00")


def test_the_public_is_shown_days_by_the_guide_alone() -> None:
    own = sharpened(trail(LEAST_NESTS))
    shown = published_nests(
        own, boxes=["B00"], rules=PublicRules(unmarked="shown"), until=dt.date(2026, 3, 1)
    )
    assert len(shown) == 1
    assert shown.guide.own == {}
