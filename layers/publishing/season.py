"""A season's numbers through the rules of the public view."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pandas as pd

from layers.nesting.dating import date_attempts
from layers.nesting.histories import Histories, read_histories
from layers.nesting.season.report import SeasonSummary, Sentence, season_summary
from layers.publishing.nests import published_until, visits_up_to, withheld_attempts
from layers.publishing.statements import CLOSED
from layers.trail.settings import Settings


def public_season(
    histories: Histories, *, season: int, on: date, boxes: pd.DataFrame, settings: Settings
) -> SeasonSummary:
    """What the public may read of a season on a day, by the keeper's rules.

    Hidden boxes, visits made after the last published month, and nests of a withheld species
    are taken away before anything is counted.

    Parameters
    ----------
    boxes
        The trail's boxes, columns as `Trail.boxes()` gives them.
    """
    rules = settings.public_rules
    settings = replace(settings, name=rules.name or settings.name)
    if not rules.is_open:
        return SeasonSummary(settings.name, season, (Sentence(CLOSED, {}),), ())
    shown = [
        box
        for box, word in zip(boxes["box"], boxes["public"], strict=True)
        if rules.shown_as(word) is not None
    ]
    until = published_until(on, delay_days=rules.delay_days)
    visits = visits_up_to(histories.visits, boxes=shown, until=until)
    # The trail's own periods rest on hidden boxes too.
    guide = histories.guide.with_own({})
    published = read_histories(visits, guide, season_starts=histories.season_starts)
    return season_summary(
        published,
        date_attempts(published),
        season=season,
        # All of the last published day has passed.
        on=until + timedelta(days=1),
        settings=settings,
        boxes=shown,
        attempts=~withheld_attempts(published, rules),
    )
