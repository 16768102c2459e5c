"""The simulator of nests: repeatable, true to itself, and written down as people write."""

from __future__ import annotations

import ast
import itertools
from collections import defaultdict
from datetime import date, timedelta
from pathlib import Path
from statistics import median, pstdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import data_demo
from data_demo.biology import BIOLOGY
from data_demo.hard_cases import HARD_CASES
from data_demo.nest import TrueAttempt
from data_demo.observers import OBSERVERS, Observer
from data_demo.plans import day_number
from data_demo.records import VISIT_COLUMNS, Row
from data_demo.simulate import Season, deal_cases, simulate_season
from layers.errors import BadValue
from layers.nesting.guide import standard_guide
from layers.trail import words
from layers.trail.schema import VISITS

BOXES = [f"B{i:03d}" for i in range(400)]


@pytest.fixture(scope="module")
def season() -> Season:
    return simulate_season(BOXES, year=2025, seed=11, cases=deal_cases(BOXES, seed=11, share=0.5))


def rows_by_box(season: Season) -> dict[str, list[Row]]:
    rows: dict[str, list[Row]] = defaultdict(list)
    for row in season.visits:
        rows[row["box"]].append(row)
    for listed in rows.values():
        listed.sort(key=lambda row: (row["seen_on"], row["entered_at"]))
    return rows


def truth_by_box(season: Season) -> dict[str, list[TrueAttempt]]:
    truth: dict[str, list[TrueAttempt]] = defaultdict(list)
    for attempt in season.truth:
        truth[attempt.box].append(attempt)
    return truth


def day_of(row: Row) -> int:
    return day_number(row["seen_on"])


def test_the_same_seed_gives_the_same_season() -> None:
    cases = deal_cases(BOXES[:60], seed=3)
    one = simulate_season(BOXES[:60], year=2024, seed=3, cases=cases)
    assert one == simulate_season(BOXES[:60], year=2024, seed=3, cases=cases)


def test_another_seed_or_year_gives_another_season() -> None:
    one = simulate_season(BOXES[:30], year=2024, seed=3)
    assert one.truth != simulate_season(BOXES[:30], year=2024, seed=4).truth
    later = simulate_season(BOXES[:30], year=2025, seed=3)
    shifted = [(a.box, a.first_egg_day and a.first_egg_day - 365) for a in later.truth]
    assert shifted != [(a.box, a.first_egg_day) for a in one.truth]


def test_nothing_in_the_demo_imports_what_reads_histories() -> None:
    modules = list(Path(data_demo.__path__[0]).glob("*.py"))
    imported = {
        name
        for module in modules
        for node in ast.walk(ast.parse(module.read_text("utf-8")))
        for name in (
            [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else []
        )
    }
    assert "data_demo.nest" in imported
    assert not [name for name in imported if name.startswith("layers.nesting")]


def test_the_shortest_nestling_period_is_the_published_one() -> None:
    guide = standard_guide()
    for species, bird in BIOLOGY.items():
        assert bird.nestling_days[0] == guide.find(species).nestling_days.low, species


@settings(max_examples=25)
@given(
    seed=st.integers(0, 10_000),
    last_day=st.dates(date(2025, 4, 1), date(2025, 8, 31)),
    interval_days=st.integers(3, 16),
)
def test_a_season_is_true_to_itself(seed: int, last_day: date, interval_days: int) -> None:
    boxes = BOXES[:40]
    season = simulate_season(
        boxes,
        year=2025,
        seed=seed,
        cases=deal_cases(boxes, seed=seed, share=0.5),
        interval_days=interval_days,
        until=last_day,
    )
    for attempt in season.truth:
        expect_consistent(attempt, day_number(last_day))
    for nests in truth_by_box(season).values():
        for earlier, later in itertools.pairwise(nests):
            assert earlier.end_day is not None
            assert earlier.end_day <= later.start_day
    expect_written_properly(season, last_day)


def expect_consistent(attempt: TrueAttempt, last_day: int) -> None:
    bird = BIOLOGY[attempt.species]
    days = [
        attempt.start_day,
        attempt.first_egg_day,
        attempt.incubation_day,
        attempt.hatch_day,
        attempt.end_day,
    ]
    known = [day for day in days if day is not None]
    assert known == sorted(known)
    assert known[-1] <= last_day
    assert 0 <= attempt.fledged <= attempt.hatched <= attempt.clutch
    assert attempt.laid == (attempt.clutch > 0) == (attempt.first_egg_day is not None)
    assert (attempt.hatched > 0) == (attempt.hatch_day is not None)
    assert (attempt.cause is not None) == (attempt.fate == "failed")
    assert (attempt.end_day is None) == (attempt.fate == "ongoing at season end")
    assert (attempt.fledged > 0) == (attempt.fate == "fledged")
    if attempt.fate == "fledged":
        assert attempt.end_day is not None
        assert attempt.hatch_day is not None
        age = attempt.end_day - attempt.hatch_day
        assert bird.nestling_days[0] <= age <= bird.nestling_days[2]
    if attempt.fate == "never laid":
        assert not attempt.laid


def expect_written_properly(season: Season, last_day: date) -> None:
    entered: set[str] = set()
    for row in season.visits:
        assert tuple(row) == VISIT_COLUMNS
        assert row["visit_id"] not in entered
        assert row["replaces"] is None or row["replaces"] in entered
        entered.add(row["visit_id"])
        assert row["seen_on"] <= last_day
        assert row["entered_at"].date() <= last_day + timedelta(days=1)
        assert row["seen_at"] is None or row["seen_at"] <= row["entered_at"]
        for column in ("eggs", "young", "young_days", "dead_young"):
            assert row[column] is None or row[column] >= 0
        for column in ("nest", "adult"):
            assert row[column] is None or row[column] in VISITS[column].words
        for column in ("signs", "actions"):
            assert set((row[column] or VISITS[column].words[0]).split(";")) <= set(
                VISITS[column].words
            )
        assert {row["opened"], row["eggs_warm"]} <= {None, *words.YES_NO}
        if row["opened"] == "no":
            assert (row["nest"], row["eggs"], row["young"]) == (None, None, None)
    moments = [row["entered_at"] for row in season.visits]
    assert moments == sorted(moments)


def test_visits_without_slips_match_the_truth_of_their_day() -> None:
    careful = (Observer("Maren", 1.0, 0.0, 0.0, 0.0, 1.0),)
    made = simulate_season(BOXES[:60], year=2025, seed=5, observers=careful)
    truth = truth_by_box(made)
    counted = 0
    for box, rows in rows_by_box(made).items():
        for row in rows:
            if not row["young"]:
                continue
            counted += 1
            alive = [a for a in truth[box] if a.hatch_day is not None]
            ages = [day_of(row) - (a.hatch_day or 0) for a in alive if a.hatched >= row["young"]]
            assert row["young_days"] in (None, *ages)
    assert counted > 50


def test_ages_are_judged_with_an_error_of_about_a_day(season: Season) -> None:
    truth = truth_by_box(season)
    errors = []
    for box, rows in rows_by_box(season).items():
        for row in rows:
            for attempt in truth[box]:
                hatched, end = attempt.hatch_day, attempt.end_day
                if row["young_days"] and hatched and end and hatched + 4 <= day_of(row) < end:
                    errors.append(row["young_days"] - (day_of(row) - hatched))
    assert len(errors) > 300
    assert abs(sum(errors) / len(errors)) < 0.25
    assert 0.9 < pstdev(errors) < 1.6


def test_people_come_about_weekly_and_miss_a_few_rounds(season: Season) -> None:
    gaps, boxes = [], 0
    for box, rows in rows_by_box(season).items():
        if box in season.cases:
            continue
        boxes += 1
        days = [day_of(row) for row in rows]
        gaps += [b - a for a, b in itertools.pairwise(days)]
    assert boxes == 200
    assert median(gaps) == 7
    assert 0.02 < sum(gap > 10 for gap in gaps) / len(gaps) < 0.1
    assert {row["observer"] for row in season.visits} == {one.name for one in OBSERVERS}


def test_some_leave_a_box_shut_while_the_young_might_jump(season: Season) -> None:
    shut = [row for row in season.visits if row["opened"] == "no" and row["adult"] == "feeding"]
    late = [
        attempt
        for attempt in season.truth
        if attempt.fate == "fledged" and attempt.label == "plain"
    ]
    assert len(late) * 0.2 < len(shut) < len(late) * 1.5


def test_unknown_stays_unknown(season: Season) -> None:
    blank = [row for row in season.visits if row["eggs"] is None]
    zero = [row for row in season.visits if row["eggs"] == 0]
    unnamed = [
        row for row in season.visits if row["nest"] == "loose material" and not row["species"]
    ]
    assert len(blank) > 500
    assert len(zero) > 500
    assert len(unnamed) > 50


def test_every_hard_case_is_dealt_in_turn(season: Season) -> None:
    dealt = list(season.cases.values())
    assert {dealt.count(case) for case in HARD_CASES} == {10}


def test_the_nests_of_a_hard_case_carry_its_name(season: Season) -> None:
    without_nests = {"mouse", "wasps", "out of service"}
    labels = {attempt.label for attempt in season.truth}
    assert labels == (set(HARD_CASES) - without_nests) | {"plain"}
    for attempt in season.truth:
        assert attempt.label in ("plain", season.cases.get(attempt.box))


def test_only_the_named_cases_are_dealt() -> None:
    dealt = deal_cases(BOXES, seed=1, share=0.1, cases=("mouse", "wasps"))
    assert sorted(dealt.values()) == ["mouse"] * 20 + ["wasps"] * 20
    assert deal_cases(BOXES, seed=1, share=0.0) == {}


def test_a_species_or_case_that_is_not_known_is_refused() -> None:
    with pytest.raises(BadValue, match="got 'dodo', column species_mix"):
        simulate_season(["B1"], year=2025, seed=1, species_mix={"dodo": 1.0})
    with pytest.raises(BadValue, match="got 'flood', column cases"):
        simulate_season(["B1"], year=2025, seed=1, cases={"B1": "flood"})


def test_two_thousand_nests_include_every_fate_and_cause() -> None:
    boxes = [f"B{i:04d}" for i in range(2_000)]
    made = simulate_season(boxes, year=2025, seed=1, until=date(2025, 7, 20))
    laid = [attempt for attempt in made.truth if attempt.laid]
    assert len(laid) >= 1_800
    assert {attempt.fate for attempt in made.truth} == {
        "fledged",
        "failed",
        "never laid",
        "ongoing at season end",
    }
    left_to_tests = {"not known", "parent died"}
    assert {attempt.cause for attempt in laid} == {None, *words.CAUSES} - left_to_tests
    assert {attempt.species for attempt in laid} == set(BIOLOGY)
