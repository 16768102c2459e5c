"""Attempts as plain records, for lists, JSON and cards."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dates, fates_on, stages_on
from layers.nesting.histories import Histories
from layers.nesting.reasons import reasons
from layers.trail.coding import day_number, day_of
from layers.trail.words import CAUSES, FATES, STAGES


def begun(
    histories: Histories, *, on: date, box: str | None = None, season: int | None = None
) -> list[int]:
    """Positions in `histories.rows` of the attempts seen by a day, of one box or season or all."""
    among = range(len(histories)) if box is None else histories.attempts_of(box)
    rows = histories.rows[among.start : among.stop]
    seen = rows[:, c.FIRST_DAY] <= day_number(on)
    if season is not None:
        seen &= rows[:, c.SEASON] == season
    return (among.start + np.flatnonzero(seen)).tolist()


def nests(
    histories: Histories,
    dates: Dates,
    *,
    on: date,
    box: str | None = None,
    season: int | None = None,
) -> list[dict[str, Any]]:
    """Every attempt known on a day, as records sorted by box and time.

    Parameters
    ----------
    histories, dates
        As known on the day (`dating.known_on`).
    on
        The day to look from. An attempt not over by then is `ongoing`, and how many
        young it fledged is left open.
    box, season
        Only these; None = all.

    Returns
    -------
    list of dict
        Keys `box, attempt, season, species, first_seen, last_seen, stage, eggs_max,
        young_max, young_fledged, fate, fledged_chance, cause, reasons`. Days are ISO text.
        `fledged_chance`: that it fledged, or will, given its visits; it decides the fate where
        the end of the nest was not seen. None means not known: a count not made, a species
        not written down, a nest without eggs.
    """
    chosen = begun(histories, on=on, box=box, season=season)
    if not chosen:
        return []
    among = slice(chosen[0], chosen[-1] + 1)
    stages = stages_on(histories, dates, on, among=among)
    fates = fates_on(histories, dates, on, among=among)
    return [
        _record(histories, dates, a, int(stages[a - chosen[0]]), int(fates[a - chosen[0]]))
        for a in chosen
    ]


def _record(
    histories: Histories, dates: Dates, attempt: int, stage: int, fate: int
) -> dict[str, Any]:
    row = histories.rows[attempt]
    over = fate != c.ONGOING
    failed = fate == c.FATE_FAILED
    cause = int(row[c.CAUSE]) if failed else c.NO_CAUSE
    if failed and cause == c.NO_CAUSE:
        cause = c.CAUSE_NOT_KNOWN
    fledged = 0 if failed else _count(row[c.FLEDGED])
    return {
        "box": histories.visits.boxes[row[c.BOX]],
        "attempt": int(histories.numbers[attempt]),
        "season": int(row[c.SEASON]),
        "species": histories.species_name(int(row[c.SPECIES])),
        "first_seen": day_of(row[c.FIRST_DAY]).isoformat(),
        "last_seen": day_of(row[c.ALIVE_DAY]).isoformat(),
        "stage": STAGES[stage],
        "eggs_max": _count(row[c.EGGS_MAX]),
        "young_max": _count(row[c.YOUNG_MAX]),
        "young_fledged": fledged if over else None,
        "fate": FATES[fate],
        "fledged_chance": _chance(dates, attempt),
        "cause": CAUSES[cause] if cause >= 0 else None,
        "reasons": reasons(histories, dates, attempt),
    }


def _chance(dates: Dates, attempt: int) -> float | None:
    fledged = dates.of(attempt).fledged
    return None if fledged is None else round(fledged, 3)


def _count(value: int) -> int | None:
    return int(value) if value >= 0 else None
