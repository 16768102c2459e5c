"""Nothing on the map or on a card sends a hand into a box in its closed days."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from layers.maps.themes.due import WORDS, due_code
from layers.nesting import attempt_columns as c
from layers.nesting.due import OPEN, due
from layers.nesting.forecast import BANDING, CHECK, CLOSED, forecast
from layers.nesting.nests import begun
from tests.maps.made import SETTINGS, known, made

SEASON = [dt.date(2026, 4, 10) + dt.timedelta(days=by) for by in range(0, 120, 3)]

TO_OPEN = re.compile(
    r"open it|open the box|can be (opened|counted|judged|checked|cleaned|banded)|to be banded"
)
"""Words that send somebody's hand into a box."""


@pytest.mark.parametrize("on", SEASON, ids=str)
def test_nothing_on_card_or_map_advises_to_open_a_box_in_its_closed_days(on: dt.date) -> None:
    trail, (histories, dates) = made(), known(on)
    closed = {
        histories.visits.boxes[histories.rows[a, c.BOX]]
        for a in begun(histories, on=on)
        if histories.rows[a, c.FATE] == c.ONGOING
        and (days := dates.of(a).closed) is not None
        and days[0] <= on <= days[1]
    }
    needed = {one.box: one for one in due(histories, on=on, settings=SETTINGS, dates=dates)}
    for at, box in enumerate(trail.boxes["box"]):
        if box not in closed:
            continue
        assert "distance" in WORDS[due_code(needed[box])] or needed[box].approach == "leave"
        assert not any(reason.needs_open for reason in needed[box].reasons)
        card = trail.card(at, on)
        if card["due"] is None:
            continue  # It does not stand on that day.
        assert card["due"]["approach"] != OPEN
        last = card["attempts"][-1]
        now = [one for one in last["forecast"] if one["first"] <= on.isoformat()]
        # A later visit may have told that the nest was over by that day.
        assert last["fate"] != "ongoing" or CLOSED in [one["kind"] for one in now]
        assert {BANDING, CHECK}.isdisjoint(one["kind"] for one in now)
        texts = [*card["due"]["reasons"], card["due"]["expected"], *card["cautions"]]
        texts += [one["text"] for one in now]
        assert [text for text in texts if TO_OPEN.search(text)] == []


def test_some_boxes_are_closed_on_the_days_looked_at() -> None:
    looks = {one.approach for on in SEASON for one in due(*known(on)[:1], on=on, settings=SETTINGS)}
    assert "watch from a distance; do not open" in looks


def test_over_a_season_banding_days_end_before_the_box_must_stay_closed() -> None:
    compared = 0
    for on in SEASON:
        histories, dates = known(on)
        for attempt in range(len(histories)):
            told = {one.kind: one for one in forecast(histories, dates, attempt, on=on)}
            if BANDING in told and CLOSED in told:
                last = told[BANDING].last
                assert last is not None
                assert last < told[CLOSED].first
                compared += 1
    assert compared > 20
