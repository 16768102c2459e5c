"""The season's table of a made season, by the way that a trail's visits go."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from layers.nesting.dating import date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import read_histories
from layers.nesting.season.exposure import season_table
from layers.nesting.season.tables import SeasonTable
from layers.trail.coding import code_visits
from layers.trail.words import ACTIONS, SIGNS
from tests.nesting.season.raw_seasons import YEAR, RawSeason


def raw_table(season: RawSeason) -> SeasonTable:
    """Read at the end of the year."""
    visits = code_visits(
        season.visits,
        boxes=list(season.boxes),
        timezone=ZoneInfo("America/New_York"),
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )
    histories = read_histories(visits, standard_guide(), season_starts="01-01")
    return season_table(histories, date_attempts(histories), on=dt.date(YEAR, 12, 31))
