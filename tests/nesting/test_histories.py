"""Histories as a whole: order, additions, hindsight."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data_demo.simulate import deal_cases, simulate_season
from layers.errors import NotKnown
from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts, stage_bar, stage_days
from layers.nesting.histories import Histories, read_histories
from layers.nesting.nests import nests
from layers.nesting.reading.attempts import read_box
from layers.trail import coding
from layers.trail.coding import code_visits
from layers.trail.visits import STILL_CURRENT, Visits, column_types
from layers.trail.words import ACTIONS, SIGNS
from tests.nesting.notebook import read
from tests.nesting.scoring import read_season

BOXES = [f"B{i:02d}" for i in range(40)]
SEASON = simulate_season(BOXES, year=2025, seed=5, cases=deal_cases(BOXES, seed=5, share=1.0))
ALL = read_season(SEASON, BOXES)


def of_rows(rows: list[dict[str, Any]], boxes: list[str]) -> Histories:
    return read_histories(coded(rows, boxes), ALL.guide, season_starts="01-01")


def coded(rows: list[dict[str, Any]], boxes: list[str]) -> Visits:
    return code_visits(
        rows,
        boxes=boxes,
        timezone=dt.UTC,  # type: ignore[arg-type]
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )


def records(histories: Histories) -> list[dict[str, Any]]:
    return nests(histories, date_attempts(histories), on=dt.date(2025, 12, 31))


@settings(max_examples=25)
@given(st.integers(0, len(SEASON.visits) - 1))
def test_adding_a_visit_to_one_box_equals_reading_all_anew(at: int) -> None:
    rows = list(SEASON.visits)
    late = rows.pop(at)
    box_rows = [row for row in SEASON.visits if row["box"] == late["box"]]
    one_box = coded(box_rows, [late["box"]])
    grown = of_rows(rows, BOXES).replaced(late["box"], one_box)
    whole = of_rows(list(SEASON.visits), BOXES)
    assert records(grown) == records(whole)
    names = np.array([*grown.visits.species_names, "none"])
    other_names = np.array([*whole.visits.species_names, "none"])
    assert (names[grown.visits.species] == other_names[whole.visits.species]).all()
    assert (grown.visit_attempt == whole.visit_attempt).all()
    for column in (c.FIRST, c.ALIVE, c.OVER, c.FIRST_DAY, c.LAPSES):
        assert (grown.rows[:, column] == whole.rows[:, column]).all()


@settings(max_examples=20)
@given(st.randoms(use_true_random=False))
def test_the_order_in_which_visits_are_given_changes_nothing(random: Any) -> None:
    rows = [row for row in SEASON.visits if row["box"] in BOXES[:8]]
    stays = [row["box"] for row in rows]
    twice = {
        box
        for box in stays
        if len({r["seen_on"] for r in rows if r["box"] == box}) < stays.count(box)
    }
    rows = [row for row in rows if row["box"] not in twice]
    expected = records(of_rows(rows, BOXES[:8]))
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert records(of_rows(shuffled, BOXES[:8])) == expected


@settings(max_examples=30)
@given(st.sampled_from(BOXES), st.integers(1, 60))
def test_a_later_look_from_outside_never_changes_a_fate(box: str, days: int) -> None:
    rows = [row for row in SEASON.visits if row["box"] == box]
    before = [(r["first_seen"], r["fate"], r["cause"]) for r in records(of_rows(rows, [box]))]
    last = max((row["seen_on"] for row in rows), default=dt.date(2025, 5, 1))
    outside = {
        "box": box,
        "visit_id": "outside",
        "seen_on": last + dt.timedelta(days),
        "opened": "no",
        "adult": "none",
        "entered_at": dt.datetime(2025, 12, 31, tzinfo=dt.UTC),
    }
    after = [
        (r["first_seen"], r["fate"], r["cause"]) for r in records(of_rows([*rows, outside], [box]))
    ]
    assert after == before


def test_the_compiled_reader_and_its_python_original_agree() -> None:
    starts = ALL.visit_starts
    size = len(ALL.visits)
    rows = np.empty((size + 1, c.N_COLUMNS), np.int32)
    attempt, stage = np.empty(size, np.int32), np.empty(size, np.int8)
    records = ALL.observations.view(np.recarray)
    total = 0
    boxes = 16
    for box in range(boxes):
        total += read_box.py_func(
            box, starts[box], starts[box + 1], records, ALL.limits, rows[total:], attempt, stage
        )
    assert total > 10
    assert (rows[:total] == ALL.rows[:total]).all()
    assert (stage[: starts[boxes]] == ALL.visit_stage[: starts[boxes]]).all()


def test_a_trail_without_visits_has_no_attempts() -> None:
    histories = read()
    assert (len(histories), histories.seasons(), histories.attempts_of("A1")) == (0, [], range(0))


def test_a_box_that_is_not_there_is_named() -> None:
    with pytest.raises(NotKnown, match="Expected the id of a box, got 'Z9'"):
        read().attempts_of("Z9")


def test_a_season_bar_runs_without_gaps_and_stops_at_the_day() -> None:
    dates = date_attempts(ALL)
    for attempt in range(len(ALL)):
        bar = stage_bar(ALL, dates, attempt, on=dt.date(2025, 6, 1))
        for piece, following in pairwise(bar):
            assert piece["from"] < piece["to"] == following["from"]
        assert all(piece["to"] <= "2025-06-02" for piece in bar)


def test_the_parts_of_every_attempt_are_in_order() -> None:
    for days in stage_days(ALL, date_attempts(ALL)).tolist():
        known = [day for day in days if day != c.MISSING]
        assert known == sorted(known)


def test_rows_read_in_blocks_are_coded_as_those_read_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Corrections and withdrawals too, wherever the row is that they concern."""
    rows = [row | {"visit_id": f"v{at}"} for at, row in enumerate(SEASON.visits)]
    again = {"replaces": "v3", "entered_at": dt.datetime(2025, 12, 1, tzinfo=dt.UTC)}
    rows += [rows[3] | {"visit_id": "late"} | again]
    rows += [rows[9] | again | {"visit_id": "back", "replaces": "v9", "withdraws": "yes"}]
    whole = coded(rows, BOXES)
    monkeypatch.setattr(coding, "BLOCK_ROWS", 7)
    blocks = coded(rows, BOXES)
    for name in column_types():
        np.testing.assert_array_equal(getattr(blocks, name), getattr(whole, name), err_msg=name)
    assert (whole.replaced_s != STILL_CURRENT).sum() == 3
    assert (blocks.boxes, blocks.species_names, blocks.observers) == (
        whole.boxes,
        whole.species_names,
        whole.observers,
    )
