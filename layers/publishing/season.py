"""A season's numbers through the rules of the public view."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd

from layers.nesting.dating import date_attempts
from layers.nesting.histories import Histories, read_histories
from layers.nesting.season.report import SeasonSummary, Sentence, season_summary
from layers.publishing.nests import WITHHELD, guards, made_by, told_until
from layers.publishing.statements import CLOSED
from layers.trail.settings import Settings


def public_season(
    histories: Histories, *, season: int, on: date, boxes: pd.DataFrame, settings: Settings
) -> SeasonSummary:
    """What the public may read of a season on a day, by the keeper's rules.

    Hidden boxes, visits made after the month that is told, and nests of a withheld species
    are taken away before anything is counted.

    Parameters
    ----------
    boxes
        The trail's boxes, columns as `Trail.boxes()` gives them.
    """
    rules = settings.public_rules
    if not rules.is_open:
        return SeasonSummary(season, (Sentence(CLOSED, {}),), ())
    shown = [
        box
        for box, word in zip(boxes["box"], boxes["public"], strict=True)
        # A word that a desktop GIS wrote and nobody knows hides the box.
        if (rules.unmarked if word is None else word) in ("shown", "coarse")
    ]
    until = told_until(on, delay_days=rules.delay_days)
    visits = made_by(histories.visits, boxes=shown, until=until)
    told = read_histories(visits, histories.guide, season_starts=histories.season_starts)
    return season_summary(
        told,
        date_attempts(told),
        season=season,
        # All of the last day that is told has passed.
        on=until + timedelta(days=1),
        settings=settings,
        boxes=shown,
        attempts=guards(told, rules) != WITHHELD,
    )
