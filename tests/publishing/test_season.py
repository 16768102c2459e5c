"""The season for the public keeps the rules of the public view."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from layers.nesting.season.report import SeasonSummary, as_csv
from layers.publishing.season import public_season
from layers.trail.public_rules import PublicRules
from tests.nesting.season.reports import SETTINGS, Visit, box_frame, fledged, histories_of, several

BOXES = tuple(f"A{number}" for number in range(12))
LATER = dt.date(2027, 3, 1)


def told(
    visits: Sequence[Visit],
    *,
    words: Sequence[str | None] = ("shown",) * 12,
    on: dt.date = LATER,
    rules: PublicRules | None = None,
) -> SeasonSummary:
    return public_season(
        histories_of(visits, BOXES),
        season=2026,
        on=on,
        boxes=box_frame(BOXES, public=list(words)),
        settings=replace(SETTINGS, public_rules=rules or PublicRules()),
    )


def text_of(summary: SeasonSummary) -> str:
    return "\n".join(
        [*(one.text for one in summary.sentences), *(as_csv(sheet) for sheet in summary.tables)]
    )


EVERY = list(several(fledged, BOXES))


def test_hidden_boxes_count_nowhere() -> None:
    words = ["hidden", "a word of somebody's", *["shown", "coarse", None] * 3, "shown"]
    assert "10 of 10 boxes" in text_of(told(EVERY, words=words))
    alone = list(several(fledged, BOXES[2:]))
    assert told(EVERY, words=words) == told(alone, words=words)
    unmarked = PublicRules(unmarked="hidden")
    assert "7 of 7 boxes" in text_of(told(EVERY, words=words, rules=unmarked))


def test_a_withheld_species_counts_nowhere_and_is_not_named() -> None:
    visits = [*several(fledged, BOXES[:6]), *several(fledged, BOXES[6:], species="tree swallow")]
    assert "tree swallow,6\n" in text_of(told(visits))
    text = text_of(told(visits, rules=PublicRules(withheld_species=("Tree Swallow",))))
    assert "swallow" not in text
    assert "6 of 12 boxes" in text
    assert "About 20 young fledged" in text


def test_the_season_waits_for_the_delay_of_the_rules() -> None:
    early = dt.date(2027, 1, 20)
    assert "some weeks after that season is over" in text_of(told(EVERY, on=early))
    assert "12 of 12 boxes" in text_of(told(EVERY, on=early, rules=PublicRules(delay_days=1)))


def test_a_closed_trail_publishes_nothing() -> None:
    summary = told(EVERY, rules=PublicRules(open="no"))
    assert summary.tables == ()
    assert text_of(summary) == "The keepers of this trail show nothing of it to the public."
