"""Young fledged as an expectation: what is counted, what is likely, and what is not known."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.doubts import NoData, OnlyBounds
from layers.nesting.season.fledglings import (
    fledged_in_all,
    fledged_per_attempt,
    fledged_per_box,
    fledged_per_successful,
)
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import YoungFledged, young_fledged
from tests.nesting.notebook import BLUEBIRD
from tests.nesting.season.made import dated_table, table_of
from tests.nesting.season.reports import Visit, empty, fledged, histories_of, looks, lost, several

ON = dt.date(2026, 12, 31)
Counted = Callable[[SeasonTable, YoungFledged], Measure]


def table(*stories: Any) -> SeasonTable:
    visits: list[Visit] = [visit for story in stories for visit in story]
    return dated_table(histories_of(visits, sorted({visit["box"] for visit in visits})), on=ON)


def closed(box: str, *, young: int = 4) -> list[Visit]:
    """Young counted at ten days; the box stays closed until it is found empty, without a sign."""
    own = {"species": BLUEBIRD}
    return looks(
        box,
        ("04-20", {"eggs": 2, **own}),
        ("04-27", {"eggs": 5, "eggs_warm": "yes", **own}),
        ("05-10", {"young": young, "young_days": 3, **own}),
        ("05-17", {"young": young, "young_days": 10, **own}),
        ("06-02", {"young": 0, "eggs": 0}),
    )


@pytest.mark.parametrize("measure", [fledged_in_all, fledged_per_attempt, fledged_per_successful])
def test_no_attempt_is_no_answer(measure: Counted) -> None:
    made = table_of([])
    result = measure(made, young_fledged(made))
    assert (result.estimate, result.n) == (None, 0)
    assert isinstance(result.warnings[0], NoData)


def test_young_counted_late_in_nests_with_signs_of_leaving_are_nearly_all_expected() -> None:
    made = table(*(fledged(f"A{i}") for i in range(8)), lost("B1"), lost("B2"))
    young = young_fledged(made)
    result = fledged_in_all(made, young)
    assert result.estimate == pytest.approx(32, abs=1)
    assert result.parts["young counted late enough to be sure"] == 32
    assert fledged_per_attempt(made, young).estimate == pytest.approx(3.2, abs=0.1)
    assert fledged_per_successful(made, young).estimate == pytest.approx(4, abs=0.1)


def test_broods_left_in_peace_count_with_their_chance_though_none_was_counted_late() -> None:
    made = table(
        *(closed(f"A{i:02}") for i in range(20)), several(lost, [f"B{i}" for i in range(6)])
    )
    result = fledged_in_all(made, young_fledged(made))
    assert result.parts["young counted late enough to be sure"] == 0
    assert result.estimate is not None
    assert result.interval is not None
    assert 50 < result.estimate <= 80
    assert result.interval.low < result.estimate <= result.interval.high <= 80
    # Not one outcome of twenty is known: a share of the six known ones would be 0 %.
    apparent = apparent_success(made)
    assert apparent.estimate is None
    assert OnlyBounds(20, 26, 0.0, 20 / 26) in apparent.warnings
    assert "too many for a share" in apparent.sentence()


def test_dead_young_found_at_the_end_are_taken_off() -> None:
    some = fledged("A1", young=5)
    some[-1] |= {"dead_young": 2}
    made = table(some, *(fledged(f"B{i}") for i in range(6)))
    young = young_fledged(made)
    assert young.expected[0] == pytest.approx(3, abs=0.1)


def test_unused_boxes_count_as_none_and_a_nest_still_going_leaves_its_box_out() -> None:
    stories = (fledged("A1"), empty("A2"), looks("A3", ("06-20", {"young": 4, "young_days": 3})))
    visits = [visit for story in stories for visit in story]
    made = dated_table(histories_of(visits, ["A1", "A2", "A3"]), on=dt.date(2026, 6, 21))
    result = fledged_per_box(made, young_fledged(made))
    assert result.estimate == pytest.approx(2, abs=0.05)
    assert result.n == 2
    assert result.left_out == {"one of its attempts is still going on": 1}


def test_the_same_trail_gives_the_same_interval() -> None:
    made = table(*(closed(f"A{i:02}") for i in range(9)), lost("B1"))
    first, again = (fledged_in_all(made, young_fledged(made)) for _ in range(2))
    assert first == again
