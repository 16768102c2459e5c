"""What is asked about a visit: the cases are a table that the phone's copy is held against too."""

from __future__ import annotations

import json
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest

from data_demo.simulate import simulate_season
from layers.nesting.guide import standard_guide
from layers.nesting.questions import KINDS, figures_of_all, questions
from layers.trail.schema import VISITS

TABLE = json.loads((Path(__file__).parent / "data" / "questions.json").read_text(encoding="utf-8"))
CASES: list[dict[str, Any]] = TABLE["cases"]
GUIDE = standard_guide()


def kinds(case: dict[str, Any], **changed: Any) -> list[str]:
    found = questions(case["box"], case["visit"] | changed, case["history"], GUIDE)
    return [one.kind for one in found]


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["name"]))
def test_each_case_asks_and_asks_nothing_where_it_is_changed(case: dict[str, Any]) -> None:
    assert sorted(kinds(case)) == sorted(case["asks"])
    assert kinds(case, **case["instead"]) == []
    assert kinds(case, confirmed=";".join(case["asks"])) == []


def test_the_table_has_sixty_cases_each_kind_and_the_figures_of_the_guide() -> None:
    assert len(CASES) >= 60
    assert len({case["name"] for case in CASES}) == len(CASES)
    assert {kind for case in CASES for kind in case["asks"]} == set(KINDS)
    figures = json.loads(json.dumps(figures_of_all(GUIDE)))
    assert TABLE["figures"] == {name: figures[name] for name in TABLE["figures"]}
    named = {row.get("species") or "" for case in CASES for row in (case["visit"], case["instead"])}
    assert named <= TABLE["figures"].keys()


def test_questions_are_sentences_that_say_what_the_answer_changes() -> None:
    for case in CASES:
        for one in questions(case["box"], case["visit"], case["history"], GUIDE):
            assert one.text[0].isupper() or one.text[0].isdigit(), one.text
            assert one.text[-1] in ".?", one.text
            assert one.reading[0].isupper(), one.reading
            assert one.reading.endswith("."), one.reading
            assert set(one.columns) <= set(VISITS.columns)


def test_the_three_slips_of_a_pen_name_what_would_fit() -> None:
    first, forty = CASES[0], next(case for case in CASES if case["name"] == "40 for 4")
    (age,) = questions(first["box"], first["visit"], first["history"], GUIDE)
    assert age.text.endswith("8 days after they were judged 5: 13 would fit.")
    (eggs,) = questions(forty["box"], forty["visit"], forty["history"], GUIDE)
    assert eggs.text == "40 eggs: an eastern bluebird lays 4 to 5 as a rule. Is it 4?"


def test_on_99_of_100_visits_of_the_clean_simulator_nothing_is_questioned() -> None:
    boxes = [f"B{number}" for number in range(40)]
    visits = asked = 0
    for interval_days in (3, 7, 10, 14):
        season = simulate_season(
            boxes, year=2026, seed=12_000 + interval_days, interval_days=interval_days
        )
        by_box: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for row in season.visits:
            by_box[row["box"]].append({**row, "seen_on": str(row["seen_on"])})
        for rows in by_box.values():
            rows.sort(key=lambda row: row["seen_on"])
            visits += len(rows)
            asked += sum(bool(questions({}, row, rows[:i], GUIDE)) for i, row in enumerate(rows))
    assert visits > 3500
    assert asked <= 0.01 * visits
