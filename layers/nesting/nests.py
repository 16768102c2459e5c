"""Attempts as plain records, for lists, JSON and cards."""

from __future__ import annotations

from datetime import date
from typing import Any

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.nesting.reasons import reasons
from layers.trail.coding import day_of
from layers.trail.words import CAUSES, FATES, STAGES


def _all_of(histories: Histories, box: str | None) -> range:
    return range(len(histories)) if box is None else histories.attempts_of(box)


def begun(
    histories: Histories, *, on: date, box: str | None = None, season: int | None = None
) -> list[int]:
    """Positions in `histories.rows` of the attempts begun by a day, of one box or season or all."""
    chosen = _all_of(histories, box)
    stages = histories.stages(on, among=slice(chosen.start, chosen.stop))
    return [
        a
        for a, stage in zip(chosen, stages, strict=True)
        if stage >= 0 and season in (None, histories.rows[a, c.SEASON])
    ]


def nests(
    histories: Histories,
    *,
    on: date,
    box: str | None = None,
    season: int | None = None,
) -> list[dict[str, Any]]:
    """Every attempt begun by a day, as records sorted by box and time.

    Parameters
    ----------
    on
        The day to look from. An attempt not over by then is `ongoing`, and how many
        young it fledged is left open.
    box, season
        Only these; None = all.

    Returns
    -------
    list of dict
        Keys `box, attempt, season, species, first_seen, last_seen, stage, eggs_max,
        young_max, young_fledged, fate, cause, reasons`. Days are ISO text. None means
        not known: a count nobody made, a species nobody wrote down.
    """
    first = _all_of(histories, box).start
    among = slice(first, _all_of(histories, box).stop)
    stages, fates = histories.stages(on, among=among), histories.fates(on, among=among)
    return [
        _record(histories, a, int(stages[a - first]), int(fates[a - first]))
        for a in begun(histories, on=on, box=box, season=season)
    ]


def _record(histories: Histories, attempt: int, stage: int, fate: int) -> dict[str, Any]:
    row = histories.rows[attempt]
    over = fate != c.ONGOING
    cause = int(row[c.CAUSE]) if fate == c.FATE_FAILED else c.NO_CAUSE
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
        "young_fledged": _count(row[c.FLEDGED]) if over else None,
        "fate": FATES[fate],
        "cause": CAUSES[cause] if cause >= 0 else None,
        "reasons": reasons(histories, attempt),
    }


def _count(value: int) -> int | None:
    return int(value) if value >= 0 else None


def stage_bar(histories: Histories, attempt: int, *, on: date) -> list[dict[str, str]]:
    """The stages of one attempt up to a day, for a season bar.

    Returns
    -------
    list of dict
        `from`, `to` (ISO days, `to` excluded) and `stage`, in order, without gaps.
    """
    row = histories.rows[attempt]
    steps = [
        (int(row[column]), STAGES[code])
        for column, code in (
            (c.START, c.STAGE_BUILDING),
            (c.EGG, c.STAGE_LAYING),
            (c.COMPLETE, c.STAGE_INCUBATING),
            (c.HATCH, c.STAGE_NESTLINGS),
        )
        if row[column] != c.MISSING
    ]
    end = min(int(row[c.END]), (on - date(1970, 1, 1)).days + 1)
    edges = [day for day, _ in steps[1:]] + [end]
    return [
        {
            "from": day_of(begin).isoformat(),
            "to": day_of(min(until, end)).isoformat(),
            "stage": stage,
        }
        for (begin, stage), until in zip(steps, edges, strict=True)
        if begin < min(until, end)
    ]
