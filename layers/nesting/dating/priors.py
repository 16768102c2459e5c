"""What the guide lets expect before any visit: a chance for every clutch size and period.

The shapes:

- **Clutch.** Every number in the usual clutch is equally likely. Beyond it the chance
  falls off so that the smallest and the largest clutch of the range are e^-4 (0.018) as
  likely as a usual one.
- **Days between eggs.** Every number of the guide's range is equally likely; one day more
  with the chance of a laying gap. A clutch takes at most three days more than the largest
  clutch at the longest interval.
- **Start of sitting.** With the last egg, a day before it or after it; from three days
  before it where the guide says that sitting often starts early. Eggs that were sat on two or
  three days before the last one hatch one or two days earlier after it.
- **Incubation.** Every day of the range is equally likely: the ranges are narrow, and what
  differs between sources is mostly where they begin and stop counting.
- **Nestling days.** Half of the weight is even over the range, half is a triangle with its top
  at the usual value (the middle where none is given; each day gets the area of its stretch,
  half a day to either side): so intervals hold whether the true period is spread out or
  peaked. A share of `_OUTSIDE` is on the day before the range and the day after it.
- **A trail's own periods** (`own_periods.py`) take the place of both where the guide has them.
- **First egg.** Every day that the visits leave open is equally likely.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layers.nesting.attempt_columns import CLUTCH_MOST
from layers.nesting.dating import terms as t
from layers.nesting.dating.model import Model
from layers.nesting.guide import Guide, Span, Species
from layers.nesting.limits import species_limits

# How far the chance of the most extreme clutch is below that of a usual one, as a logarithm.
_CLUTCH_FALL = 4.0

# Days of laying gaps that are allowed for in all, beyond the longest intervals.
_GAPS_MOST = 3

# Chance that sitting begins 3, 2, 1, 0 days before the last egg, or a day after it. Sitting
# with the last egg or the one before it is general knowledge, from memory; the figures are ours.
_SITTING = (0.0, 0.0, 0.3, 0.6, 0.1)
_SITTING_EARLY = (0.15, 0.3, 0.35, 0.2, 0.0)

# Weight of nestling days one day outside the guide's range. On invented nests whose period was
# spread evenly over the range, 95 % intervals held 93.5 % without it and 95.5 to 96.2 % with it.
_OUTSIDE = 0.05

_NEVER_CLOSES = 10_000


def tables_for(guide: Guide, species_names: Sequence[str], model: Model) -> t.Tables:
    """What is expected of the named species; one that the guide does not have gets the wide
    figures of `guide.unknown`.
    """
    limits = species_limits(guide, species_names)
    known = [guide.unknown, *(guide.get(name) or guide.unknown for name in species_names)]
    most = limits[:, CLUTCH_MOST]
    clutch = [_clutch(one, int(cap)) for one, cap in zip(known, most, strict=True)]
    interval = [_even(one.laying_interval_days) for one in known]
    incubation = [_incubation(guide, one) for one in known]
    nestling = [_nestling(guide, one) for one in known]
    spans = np.zeros((len(known), t.N_SPANS), np.int64)
    for one, row, laid, gap, sat, fed in zip(
        known, spans, clutch, interval, incubation, nestling, strict=True
    ):
        for column, chances in (
            (t.CLUTCH_LOW, laid),
            (t.INTERVAL_LOW, gap),
            (t.INCUBATION_LOW, sat),
            (t.NESTLING_LOW, fed),
        ):
            row[column], row[column + 1] = min(chances), max(chances)
        row[t.INCUBATION_LOW] -= _days_earlier(one)
        closes = one.closed_from_day
        row[t.CLOSES_AT] = _NEVER_CLOSES if closes is None else math.floor(closes.low)
        row[t.LAYING_MOST] = (row[t.CLUTCH_HIGH] - 1) * row[t.INTERVAL_HIGH] + _GAPS_MOST
    sitting = [_sitting(one) for one in known]
    return t.Tables(
        spans,
        _table(clutch),
        _table(interval),
        _table(incubation),
        _table(nestling),
        np.array(sitting),
        model.chances(),
        model.findings(),
    )


def _table(rows: list[dict[int, float]]) -> NDArray[np.float64]:
    # Two columns more than needed: a laying gap adds a day.
    table = np.zeros((len(rows), max(max(row) for row in rows) + 2))
    for at, row in enumerate(rows):
        for number, chance in row.items():
            table[at, number] = chance
    return table


def _scaled(weights: dict[int, float]) -> dict[int, float]:
    total = sum(weights.values())
    return {number: weight / total for number, weight in weights.items() if weight > 0}


def _sitting(species: Species) -> tuple[float, ...]:
    return _SITTING_EARLY if species.starts_before_last_egg else _SITTING


def _days_earlier(species: Species) -> int:
    """By how many days sitting before the last egg can move hatching forward."""
    first = next(column for column, chance in enumerate(_sitting(species)) if chance > 0)
    return max(t.USUAL_SITTING - t.EARLIEST_SITTING - first, 0)


def _incubation(guide: Guide, species: Species) -> dict[int, float]:
    own = guide.own.get(species.common)
    if own is not None and own.incubation is not None:
        return dict(own.incubation.chances)
    return _even(species.incubation_days)


def _nestling(guide: Guide, species: Species) -> dict[int, float]:
    own = guide.own.get(species.common)
    if own is not None and own.nestling is not None:
        return dict(own.nestling.chances)
    span = species.nestling_days
    even, peaked = _even(span), _triangle(span)
    inside = {day: (even[day] + peaked.get(day, 0.0)) / 2 for day in even}
    if species.leaves_at_once:
        return inside
    outside = {min(even) - 1: _OUTSIDE / 2, max(even) + 1: _OUTSIDE / 2}
    return outside | {day: (1 - _OUTSIDE) * chance for day, chance in inside.items()}


def _even(span: Span) -> dict[int, float]:
    """The same chance for each whole number from the low end to the high."""
    numbers = range(math.floor(span.low), math.ceil(span.high) + 1)
    return _scaled(dict.fromkeys(numbers, 1.0))


def _clutch(species: Species, most: int) -> dict[int, float]:
    usual, extremes = species.clutch, species.clutch_range
    weights = {}
    for eggs in range(max(math.floor(extremes.low), 1), min(math.ceil(extremes.high), most) + 1):
        if eggs < usual.low:
            beyond = (usual.low - eggs) / max(usual.low - extremes.low, 1)
        else:
            beyond = max(eggs - usual.high, 0) / max(min(extremes.high, most) - usual.high, 1)
        weights[eggs] = math.exp(-_CLUTCH_FALL * beyond)
    return _scaled(weights)


def _triangle(span: Span) -> dict[int, float]:
    low, high = float(span.low), float(span.high)
    top = (low + high) / 2 if span.usual is None else min(max(span.usual, low), high)

    def up_to(x: float) -> float:
        """Area of the triangle left of a point."""
        if x <= low:
            return 0.0
        if x < top:
            return (x - low) ** 2 / ((high - low) * (top - low))
        return 1.0 if x >= high else 1 - (high - x) ** 2 / ((high - low) * (high - top))

    if low == high:
        return {round(low): 1.0}
    days = range(math.floor(low), math.ceil(high) + 1)
    return _scaled({day: up_to(day + 0.5) - up_to(day - 0.5) for day in days})
