"""Each hard case is what its name says."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import pytest

from data_demo import hard_cases as cases
from data_demo.biology import BIOLOGY
from data_demo.nest import TrueAttempt
from data_demo.plans import day_number
from data_demo.records import Row
from data_demo.simulate import simulate_season

Made = tuple[list[TrueAttempt], list[Row]]
Check = Callable[[Sequence[TrueAttempt], Sequence[Row]], bool]

N_BOXES = 30


def made_as(case: str) -> list[Made]:
    """Truth of the case's own nests, and all rows by day, for each of some boxes."""
    boxes = [f"B{i:02d}" for i in range(N_BOXES)]
    season = simulate_season(boxes, year=2025, seed=8, cases=dict.fromkeys(boxes, case))
    return [
        (
            [truth for truth in season.truth if truth.box == box and truth.label == case],
            sorted(
                (row for row in season.visits if row["box"] == box),
                key=lambda row: (row["seen_on"], row["entered_at"]),
            ),
        )
        for box in boxes
    ]


def days(rows: Sequence[Row]) -> list[int]:
    return [day_number(row["seen_on"]) for row in rows]


def emptied_between(rows: Sequence[Row], first: int | None, last: int) -> bool:
    return any(
        row["actions"] and first is not None and first <= day_number(row["seen_on"]) < last
        for row in rows
    )


def second_brood(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    first, second = truth
    same_nest = not emptied_between(rows, first.end_day, second.start_day)
    return first.fate == "fledged" and first.species == second.species and same_nest


def taken_over(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    first, second = truth
    at_once = first.end_day == second.start_day
    return first.cause == "taken over" and first.species != second.species and at_once


def two_clutches_in_a_gap(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    first, second = truth

    def has_eggs(nest: TrueAttempt, day: int) -> bool:
        over = nest.hatch_day or nest.end_day
        return nest.first_egg_day is not None and nest.first_egg_day <= day < (over or 0)

    return any(
        has_eggs(first, a) and has_eggs(second, b) for a, b in itertools.pairwise(days(rows))
    )


def partly_hatched(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    left = any(row["eggs"] and row["young"] for row in rows)
    return truth[0].fate == "fledged" and truth[0].clutch - truth[0].hatched >= 2 and left


def abandoned_cold(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    end = truth[0].end_day or 0
    still = [row for row in rows if row["eggs"] and day_number(row["seen_on"]) >= end + 21]
    warm = [row for row in rows if row["eggs_warm"] == "yes" and day_number(row["seen_on"]) >= end]
    return truth[0].cause == "abandoned" and len(still) >= 2 and not warm


def never_hatched(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    first = truth[0]
    sat_days = (first.end_day or 0) - (first.incubation_day or 0)
    return first.cause == "did not hatch" and first.hatched == 0 and sat_days >= 16


def dump_laying(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return truth[0].clutch > BIOLOGY[truth[0].species].clutch_limits[1]


def egg_count_falls(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return truth[0].fate == "fledged" and truth[0].hatched < truth[0].clutch


def never_laid(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return truth[0].fate == "never laid" and not any(row["eggs"] for row in rows)


def stick_nest(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return never_laid(truth, rows) and truth[0].species == "house wren"


def missed_weeks(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    seen = days(rows)
    return max(b - a for a, b in itertools.pairwise(seen)) > 15


def two_visits_a_day(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    seen = days(rows)
    return len(seen) - len(set(seen)) == 3


def corrections(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    by_id = {row["visit_id"]: row for row in rows}
    mended = [row for row in rows if row["replaces"]]
    later = all(row["entered_at"] > by_id[row["replaces"]]["entered_at"] for row in mended)
    told = ("seen_on", "species", "eggs", "young")
    other = all(
        [row[name] for name in told] != [by_id[row["replaces"]][name] for name in told]
        for row in mended
    )
    return len(mended) == 2 and later and other


def mouse(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return not truth and sum(row["signs"] == "mouse" for row in rows) >= 3


def wasps(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return not truth and sum(row["signs"] == "wasps" for row in rows) >= 3


def out_of_service(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return not truth and rows[-1]["actions"] == "closed" and rows[-1]["seen_on"].month <= 4


def never_visited(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    return not rows


def same_cup(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    first, second = truth
    same_nest = not emptied_between(rows, first.end_day, second.start_day)
    return first.cause == "predator" and first.species == second.species and same_nest


def then_another_species(truth: Sequence[TrueAttempt], rows: Sequence[Row]) -> bool:
    first, second = truth
    return first.fate == "failed" and first.species != second.species


CHECKS: dict[str, Check] = {
    cases.SECOND_BROOD: second_brood,
    cases.TAKEN_OVER: taken_over,
    cases.TWO_CLUTCHES_IN_A_GAP: two_clutches_in_a_gap,
    cases.PARTLY_HATCHED: partly_hatched,
    cases.ABANDONED_COLD: abandoned_cold,
    cases.NEVER_HATCHED: never_hatched,
    cases.DUMP_LAYING: dump_laying,
    cases.EGG_COUNT_FALLS: egg_count_falls,
    cases.MATERIAL_ONLY: never_laid,
    cases.STICK_NEST: stick_nest,
    cases.MISSED_WEEKS: missed_weeks,
    cases.CORRECTIONS: corrections,
    cases.TWO_VISITS_A_DAY: two_visits_a_day,
    cases.MOUSE: mouse,
    cases.WASPS: wasps,
    cases.OUT_OF_SERVICE: out_of_service,
    cases.NEVER_VISITED: never_visited,
    cases.SAME_CUP: same_cup,
    cases.THEN_ANOTHER_SPECIES: then_another_species,
}


@pytest.mark.parametrize("case", CHECKS)
def test_a_hard_case_is_what_its_name_says(case: str) -> None:
    for truth, rows in made_as(case):
        assert CHECKS[case](truth, rows), (truth, rows)


def test_the_first_of_two_clutches_in_a_gap_has_the_luck_of_any_other() -> None:
    fates = [truth[0].fate for truth, _ in made_as(cases.TWO_CLUTCHES_IN_A_GAP)]
    assert 2 <= fates.count("failed") < fates.count("fledged")


def test_a_sitting_bird_is_left_uncounted_at_most_visits() -> None:
    at_eggs = [
        row
        for truth, rows in made_as(cases.ADULT_SITTING)
        for row in rows
        if truth[0].incubation_day is not None
        and truth[0].hatch_day is not None
        and truth[0].incubation_day <= day_number(row["seen_on"]) < truth[0].hatch_day
    ]
    uncounted = [row for row in at_eggs if row["adult"] == "sitting" and row["eggs"] is None]
    assert len(at_eggs) > N_BOXES
    assert len(uncounted) > len(at_eggs) / 2


def test_a_box_that_no_one_visits_has_nests_all_the_same() -> None:
    assert sum(len(truth) for truth, _ in made_as(cases.NEVER_VISITED)) > N_BOXES / 2


def test_every_hard_case_is_checked_here() -> None:
    assert set(CHECKS) | {cases.ADULT_SITTING} == set(cases.HARD_CASES)
