"""A season for the public: nothing in it leads to a box, a day or a single nest."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection
from itertools import chain

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from data_demo.demo import make_demo
from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts
from layers.nesting.season.report import SeasonSummary, as_csv, season_summary
from layers.nesting.season.report.summary import LEAST_PUBLISHED, OTHERS, merged
from tests.nesting.season.made import dated_table
from tests.nesting.season.numbers import MONTHS, missing_from
from tests.nesting.season.reports import SETTINGS, Visit, fledged, histories_of, lost, several

AFTER = dt.date(2027, 1, 1)
BOXES = tuple(f"A{number}" for number in range(12))


def summary_of(
    visits: Collection[Visit],
    *,
    season: int = 2026,
    on: dt.date = AFTER,
    ids: tuple[str, ...] = BOXES,
    boxes: Collection[str] = BOXES,
) -> SeasonSummary:
    histories = histories_of(list(visits), ids)
    return season_summary(
        histories, date_attempts(histories), season=season, on=on, settings=SETTINGS, boxes=boxes
    )


def text_of(summary: SeasonSummary) -> str:
    """All that a reader gets."""
    said = " ".join(one.text for one in summary.sentences)
    return said + "\n" + "\n".join(as_csv(sheet) for sheet in summary.tables)


def demo() -> tuple[list[Visit], tuple[str, ...]]:
    made = make_demo()
    return made.visits(), tuple(sorted(row["box"] for row in made.reserve.boxes))


def test_a_season_is_published_once_it_is_over() -> None:
    visits = list(several(fledged, BOXES))
    running = summary_of(visits, on=dt.date(2026, 12, 31))
    assert running.tables == ()
    assert text_of(running).strip() == (
        "Numbers of 2026 are published some weeks after that season is over."
    )
    assert "12 of 12 boxes" in text_of(summary_of(visits))


def test_no_box_day_observer_or_note_appears() -> None:
    visits, ids = demo()
    visits = [row | {"observer": "Wendeline", "note": "behind the old mill"} for row in visits]
    text = text_of(summary_of(visits, ids=ids, boxes=ids))
    assert len(text) > 400
    for box in ids:
        assert box not in text
    assert not re.search(rf"\d+ ({'|'.join(MONTHS)})|\d{{4}}-\d\d", text)
    for written in ("Wendeline", "mill", "Mill Wood", "Pond Meadow"):
        assert written not in text


def test_every_number_of_a_sentence_is_among_its_values() -> None:
    visits, ids = demo()
    for one in summary_of(visits, ids=ids, boxes=ids).sentences:
        values = [v.isoformat() if isinstance(v, dt.date) else v for v in one.values.values()]
        assert missing_from(one.text, values) == []


def test_a_box_that_may_not_count_leaves_no_trace() -> None:
    shown = BOXES[:8]
    without = list(several(fledged, shown))
    hidden = chain(several(lost, BOXES[8:], species="tree swallow"))
    assert text_of(summary_of([*without, *hidden], boxes=shown)) == text_of(
        summary_of(without, boxes=shown)
    )


def test_too_few_nests_are_not_published() -> None:
    few = summary_of(list(several(fledged, BOXES[: LEAST_PUBLISHED - 1])))
    assert few.tables == ()
    assert "fewer than 5 boxes" in text_of(few)
    assert "4" not in text_of(few).replace("2024", "")
    assert "Nobody" not in text_of(summary_of([]))


def test_a_rare_species_goes_with_others() -> None:
    visits = [
        *several(fledged, BOXES[:8]),
        *several(fledged, BOXES[8:10], species="tree swallow"),
        *several(lost, BOXES[10:], species="house wren"),
    ]
    text = text_of(summary_of(visits))
    assert "swallow" not in text
    assert "wren" not in text
    # The four others would be told by the difference, so the bluebirds go with them.
    assert f"{OTHERS},12\n" in text


def test_few_losses_are_not_published_by_the_difference() -> None:
    text = text_of(summary_of([*several(fledged, BOXES[:9]), *several(lost, BOXES[9:])]))
    assert "were lost" not in text
    enough = text_of(summary_of([*several(fledged, BOXES[:6]), *several(lost, BOXES[6:])]))
    assert "Of 12 nests with a known outcome, 6 fledged young and 6 were lost." in enough


def test_a_species_that_the_guide_does_not_have_is_not_repeated() -> None:
    text = text_of(summary_of(list(several(fledged, BOXES, species="the owl by the mill"))))
    assert "mill" not in text
    assert f"{OTHERS},12\n" in text


def test_attempts_that_may_not_count_leave_the_box_unused() -> None:
    histories = histories_of([*several(fledged, BOXES[:9]), *several(lost, BOXES[9:])], BOXES)
    summary = season_summary(
        histories,
        date_attempts(histories),
        season=2026,
        on=AFTER,
        settings=SETTINGS,
        boxes=BOXES,
        attempts=histories.rows[:, c.FATE] == c.FATE_FLEDGED,
    )
    assert "9 of 12 boxes of Alderbeck Reserve" in text_of(summary)


@given(st.dictionaries(st.sampled_from("abcdefghij"), st.integers(1, 12)))
def test_merging_keeps_the_total_and_no_small_number(numbers: dict[str, int]) -> None:
    found = merged(numbers)
    assert sum(found.values()) == sum(numbers.values())
    small = [n for n in found.values() if n < LEAST_PUBLISHED]
    assert small == [] or sum(numbers.values()) < LEAST_PUBLISHED


def test_months_with_few_first_eggs_go_together() -> None:
    visits, ids = demo()
    table = dated_table(histories_of(visits, ids), on=AFTER)
    for season in (2023, 2024, 2025):
        summary = summary_of(visits, season=season, ids=ids, boxes=ids)
        (months,) = [sheet for sheet in summary.tables if sheet.name == "months"]
        numbers = [row[1] for row in months.rows]
        assert all(isinstance(n, int) and n >= LEAST_PUBLISHED for n in numbers)
        # A nest that could not be dated (two females' eggs in one nest) has no month.
        dated = (table.first_egg != c.MISSING) & table.laid & (table.rows[:, c.SEASON] == season)
        assert sum(numbers) == np.sum(dated)  # type: ignore[arg-type]


def test_young_are_published_in_tens_so_that_those_of_no_single_nest_come_out() -> None:
    # Two seasons that differ by the four young of one nest read alike.
    eleven, twelve = (
        text_of(summary_of(list(several(fledged, BOXES[:number])))) for number in (9, 11)
    )
    assert "About 40 young fledged" in eleven
    assert "About 40 young fledged" in twelve
    assert "36" not in eleven
    assert "44" not in twelve


def test_house_sparrows_have_a_line_of_their_own_where_there_are_enough_of_both() -> None:
    def line(sparrows: int, others: int) -> list[str]:
        visits = [
            *chain.from_iterable(fledged(box, species="house sparrow") for box in BOXES[:sparrows]),
            *several(fledged, BOXES[sparrows : sparrows + others]),
        ]
        return [one.text for one in summary_of(visits).sentences if "house sparrows" in one.text]

    (text,) = line(LEAST_PUBLISHED, LEAST_PUBLISHED + 2)
    assert text.startswith(f"{LEAST_PUBLISHED} nests were of house sparrows, which people brought")
    assert "about 30 young of other species fledged" in text
    assert line(LEAST_PUBLISHED - 1, 8) == []
    assert line(8, LEAST_PUBLISHED - 1) == []
