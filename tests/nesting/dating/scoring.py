"""Hold dates and chances of fledging against the true days of simulated nests.

Intervals have ends within days. A true day is covered to the share of it that lies
within the interval: the expected value of asking whether a moment drawn evenly from
the true day lies within, which is the randomised probability integral transform for whole
numbers (Czado, Gneiting & Held 2009, Biometrics 65:1254-1261; from memory) without its noise.
An interval that is right holds exactly its share; whole days could only hold more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from data_demo.hard_cases import FATE_IS_MADE
from data_demo.nest import TrueAttempt
from data_demo.simulate import Season
from layers.nesting import attempt_columns as c
from layers.nesting.dating import CANNOT_BE_DATED, ONE_DOUBTFUL, Dates, date_attempts, own_periods
from layers.nesting.dating.terms import FAILURE, FIRST_EGG, FLEDGE, HATCH
from layers.nesting.guide import Guide, standard_guide
from layers.nesting.histories import Histories
from layers.trail.coding import day_number
from tests.nesting.scoring import read_season

_NEVER = 10**6


@dataclass
class Cover:
    """One event over many nests: shares of true days covered, and errors of the best day."""

    within_80: list[float] = field(default_factory=list)
    within_95: list[float] = field(default_factory=list)
    days_80: list[bool] = field(default_factory=list)
    days_95: list[bool] = field(default_factory=list)
    errors: list[int] = field(default_factory=list)

    def add(self, ends: Sequence[float], best: int, true_day: int) -> None:
        low95, low80, high80, high95 = ends
        for low, high, share, whole in (
            (low80, high80, self.within_80, self.days_80),
            (low95, high95, self.within_95, self.days_95),
        ):
            share.append(max(0.0, min(high, true_day + 1) - max(low, true_day)))
            whole.append(bool(np.floor(low) <= true_day <= np.ceil(high) - 1))
        self.errors.append(best - true_day)

    def median_error(self) -> float:
        return float(np.median(np.abs(self.errors)))


@dataclass
class DateScore:
    """How well the dates of many nests hold."""

    nests: int = 0
    contradicted: int = 0
    undated: int = 0
    events: dict[int, Cover] = field(
        default_factory=lambda: {e: Cover() for e in (FIRST_EGG, HATCH, FLEDGE, FAILURE)}
    )
    midpoint: list[float] = field(default_factory=list)
    beside_midpoint: list[float] = field(default_factory=list)
    fates: list[tuple[float, bool]] = field(default_factory=list)
    open_fates: list[tuple[float, bool]] = field(default_factory=list)
    fates_by_chance: list[tuple[float, bool]] = field(default_factory=list)


def brier(fates: Sequence[tuple[float, bool]]) -> float:
    """Mean squared difference of the chance given and what came (1 fledged, 0 lost)."""
    return float(np.mean([(chance - came) ** 2 for chance, came in fates]))


def reliability(fates: Sequence[tuple[float, bool]]) -> list[tuple[float, float, int]]:
    """For each fifth of the scale with any: mean chance given, share that fledged, how many."""
    found = []
    for fifth in range(5):
        own = [(p, came) for p, came in fates if min(int(p * 5), 4) == fifth]
        if own:
            chance, came = np.mean(own, axis=0)
            found.append((float(chance), float(came), len(own)))
    return found


def guide_after(season: Season, boxes: Sequence[str]) -> Guide:
    """The guide of a trail in the year after a made season, with the trail's own periods."""
    own = own_periods(read_season(season, boxes), before=2026)
    assert own
    return standard_guide().with_own(own)


def score_dates(
    season: Season, boxes: Sequence[str], into: DateScore, guide: Guide | None = None
) -> None:
    """Add one made season to a score; `guide` with what the trail knew before, if it did."""
    histories = read_season(season, boxes)
    if guide is not None:
        histories = replace(histories, guide=guide)
    dates = date_attempts(histories)
    for truth, attempt in matched(season, histories):
        into.nests += 1
        into.contradicted += int(dates.how[attempt] == ONE_DOUBTFUL)
        if dates.how[attempt] == CANNOT_BE_DATED:
            into.undated += 1
            continue
        _score_events(into, truth, dates, attempt)
        row = histories.rows[attempt]
        seen = min(int(day) for day in (row[c.EGG_DAY], row[c.YOUNG_DAY]) if day != c.MISSING)
        if row[c.NO_EGG_DAY] != c.MISSING and truth.first_egg_day is not None:
            middle = (int(row[c.NO_EGG_DAY]) + seen) / 2
            into.midpoint.append(abs(middle - truth.first_egg_day))
            into.beside_midpoint.append(
                abs(int(dates.best[attempt, FIRST_EGG]) - truth.first_egg_day)
            )
        if truth.fate in ("fledged", "failed") and row[c.WHY] != c.WHY_KEEPER:
            fate = (float(dates.fledged[attempt]), truth.fate == "fledged")
            into.fates.append(fate)
            if truth.label not in FATE_IS_MADE:
                into.fates_by_chance.append(fate)
            if row[c.FATE] in (c.ONGOING, c.FATE_UNKNOWN):
                into.open_fates.append(fate)


def _score_events(into: DateScore, truth: TrueAttempt, dates: Dates, attempt: int) -> None:
    # What the keeper ends by taking the nest out has a day that is known.
    lost = truth.fate == "failed" and truth.cause != "nest removed"
    for event, day in (
        (FIRST_EGG, truth.first_egg_day),
        (HATCH, truth.hatch_day),
        (FLEDGE, truth.end_day if truth.fate == "fledged" else None),
        (FAILURE, truth.end_day if lost else None),
    ):
        best = int(dates.best[attempt, event])
        if day is not None and best != c.MISSING:
            into.events[event].add(dates.ends[attempt, event].tolist(), best, day)


def matched(season: Season, histories: Histories) -> Iterator[tuple[TrueAttempt, int]]:
    """True nests whose eggs or young somebody counted, each with the attempt read that
    shares most days with it; each attempt once.
    """
    over = histories.known_over
    replaced = {row["replaces"] for row in season.visits if row["replaces"]}
    counted: dict[str, list[int]] = {}
    for row in season.visits:
        if row["visit_id"] not in replaced and (row["eggs"] or row["young"]):
            counted.setdefault(row["box"], []).append(day_number(row["seen_on"]))
    best: dict[int, tuple[int, TrueAttempt]] = {}
    for truth in season.truth:
        end = _NEVER if truth.end_day is None else truth.end_day + (truth.cause == "nest removed")
        first = truth.first_egg_day
        if first is None or not any(first <= day < end for day in counted.get(truth.box, ())):
            continue
        shared = [
            (min(int(over[attempt]), end) - max(int(row[c.FIRST_DAY]), truth.start_day), attempt)
            for attempt in histories.attempts_of(truth.box)
            if (row := histories.rows[attempt])[c.LAID]
        ]
        days, attempt = max(shared, default=(0, -1))
        if days > 0 and days > best.get(attempt, (0, truth))[0]:
            best[attempt] = (days, truth)
    for attempt, (_, truth) in sorted(best.items()):
        yield truth, attempt
