"""Sentences made from named values."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from layers.nesting.season.box_use import box_use
from layers.nesting.season.fledglings import fledged_per_box
from layers.nesting.season.report.wording import list_sentence, sentence
from layers.nesting.season.result import format_value
from layers.nesting.season.young import young_fledged
from layers.nesting.timeline import Service
from tests.nesting.season.made import dated_table
from tests.nesting.season.reports import empty, fledged, histories_of, lost

ON = dt.date(2026, 12, 31)


def test_values_are_worded_by_what_they_count() -> None:
    told = sentence(
        "{n:nests}, {m:nests}, {s:share}, {r:daily rate}, {c:count}, {d}.",
        n=1,
        m=2,
        s=0.625,
        r=0.98765,
        c=4.26,
        d=dt.date(2026, 6, 3),
    )
    assert told.text == "1 nest, 2 nests, 62 %, 0.9877, 4.3, 3 June."
    assert told.values["s"] == 0.625


def test_a_sentence_begins_with_a_capital_and_repeats_names_as_they_are() -> None:
    assert sentence("{name} fledged.", name="tree {swallow}").text == "Tree {swallow} fledged."


def test_a_list_names_each_item_with_its_number() -> None:
    told = list_sentence("Lost: ", "{name} {n:nests}", {"predator": 1, "cold or wet": 3})
    assert told.text == "Lost: predator 1 nest, cold or wet 3 nests."
    assert told.values == {"name_0": "predator", "n_0": 1, "name_1": "cold or wet", "n_1": 3}


def test_a_change_that_rounds_to_none_has_no_sign() -> None:
    assert [format_value(change, "per year") for change in (-0.004, 0.0, 0.006, -1.0)] == [
        "0.00", "0.00", "+0.01", "-1.00",
    ]  # fmt: skip


def test_use_and_young_of_some_boxes_are_parts_of_the_whole() -> None:
    boxes = ("A1", "A2", "A3")
    histories = histories_of([*fledged("A1"), *lost("A2"), *empty("A3")], boxes)
    table = dated_table(histories, on=ON)
    among = np.array([True, False, True])
    use = box_use(table, season=2026, service=Service.always(3), among=among)
    assert (use.looked_into, use.standing, use.used.parts["used"]) == (2, 2, 1)
    assert use.used.estimate == 0.5
    assert use.used.left_out == {}
    part = table.of_boxes(among)
    assert len(part) == 1
    assert fledged_per_box(part, young_fledged(table)).estimate == pytest.approx(2.0, abs=0.1)


def test_the_attempts_of_a_season_come_with_the_boxes_checked_in_it() -> None:
    histories = histories_of([*fledged("A1"), *lost("A1", year=2025), *empty("A2")], ("A1", "A2"))
    table = dated_table(histories, on=ON)
    assert table.of_season(2025).checked.tolist() == [[0, 2025]]
    assert table.of_season(2026).checked.tolist() == [[0, 2026], [1, 2026]]
    assert [len(table.of_season(year)) for year in (2024, 2025, 2026)] == [0, 1, 1]
    alone = dated_table(histories, on=ON, seasons=[2026])
    own = table.of_season(2026)
    per_box = fledged_per_box(own, young_fledged(own))
    assert per_box == fledged_per_box(alone, young_fledged(alone))
