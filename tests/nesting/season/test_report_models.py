"""What the report's models say of survival, and where they say nothing."""

from __future__ import annotations

from typing import Any

import pytest

from layers.nesting.season.covariates import NO_GUARD
from layers.nesting.season.report import SeasonReport, format_cell, sheets
from tests.nesting.season.reports import box_frame, fledged, looks, lost, record, report_of, texts

pytestmark = pytest.mark.slow


def lost_young(box: str) -> list[dict[str, Any]]:
    """As the nest that fledged, but robbed of its young."""
    robbed = ("05-17", {"nest": "none", "eggs": 0, "young": 0, "signs": "nest torn"})
    return [*fledged(box)[:4], *looks(box, robbed)]


def guarded_and_not() -> SeasonReport:
    """A hundred boxes, guarded ones robbed less often."""
    boxes = [f"A{number:02}" for number in range(100)]
    kinds = {0: lost, 1: lost_young}
    stories = []
    for number, box in enumerate(boxes):
        every = 2 if number < 50 else 5
        kind = fledged if number % every else kinds[number // every % 2]
        stories.append(kind(box))
    frame = box_frame(boxes, guards=[None] * 50 + ["cone"] * 50)
    return report_of(*stories, boxes=boxes, frame=frame, by="guard")


def test_models_give_survival_at_their_values_with_intervals() -> None:
    report = guarded_and_not()
    (guards,) = [one for one in report.predictions if one.term == "guards"]
    assert (guards.nests, guards.losses, guards.enough) == (100, 35, True)
    cone, none = guards.each
    assert (cone.value, none.value) == ("cone", NO_GUARD)
    assert (cone.success.n, none.success.n) == (50, 50)
    for one in (cone, none):
        assert one.success.estimate is not None
        assert one.success.interval is not None
        assert one.with_eggs is not None
        assert one.with_young is not None
        lengths = report.survival.periods
        assert lengths is not None
        product = one.with_eggs**lengths.eggs.days * one.with_young**lengths.young.days
        assert one.success.estimate == pytest.approx(product)
        assert one.success.interval.low < one.success.estimate < one.success.interval.high
    assert "By a model of guard and the stage of the nest (100 nests, 35 losses" in texts(
        report, "groups"
    )
    in_json = record(report)["models"]["predictions"]
    assert in_json[0]["each"][0]["success"]["estimate"] in {
        one.success.estimate for one in guards.each
    }
    (sheet,) = [sheet for sheet in sheets(report) if sheet.name == "predictions"]
    assert [row[:2] for row in sheet.rows] == [("guards", "cone"), ("guards", NO_GUARD)]


def test_where_losses_are_few_no_sentence_states_what_a_model_predicts() -> None:
    report = report_of(
        fledged("A1"),
        lost("A2"),
        frame=box_frame(("A1", "A2", "A3"), guards=["cone", None, None]),
        by="guard",
    )
    assert all(not one.enough for one in report.predictions)
    assert "By a model of" not in texts(report)


def test_a_value_that_the_data_put_no_bound_on_has_no_survival() -> None:
    boxes = [f"A{number:02}" for number in range(40)]
    kinds = [lost] * 6 + [lost_young] * 6 + [fledged] * 28
    stories = [kind(box) for kind, box in zip(kinds, boxes, strict=True)]
    frame = box_frame(boxes, guards=[None] * 20 + ["cone"] * 20)
    report = report_of(*stories, boxes=boxes, frame=frame, by="guard")
    (guards,) = [one for one in report.predictions if one.term == "guards"]
    cone, none = guards.each
    assert (cone.with_eggs, cone.success.estimate, cone.success.interval) == (None, None, None)
    (sheet,) = [sheet for sheet in sheets(report) if sheet.name == "predictions"]
    assert [format_cell(cell) for cell in sheet.rows[0]][3:] == [
        "not known",
        "not known",
        "no answer (20 nests watched)",
    ]
    assert none.success.n == 20


def test_a_hole_of_many_widths_is_predicted_at_three_of_them() -> None:
    boxes = [f"A{number:02}" for number in range(30)]
    stories = [lost(box) if number % 3 else fledged(box) for number, box in enumerate(boxes)]
    frame = box_frame(boxes, hole_mm=[25.0 + number for number in range(30)])
    report = report_of(*stories, boxes=boxes, frame=frame)
    (hole,) = [one for one in report.predictions if one.term == "hole"]
    assert [one.value for one in hole.each] == ["28 mm", "39 mm", "51 mm"]
