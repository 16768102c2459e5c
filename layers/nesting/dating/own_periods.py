"""How long incubation and the nestling period last on one trail, from its finished nests.

Each nest gives a likelihood of every number of days: the weight of all its courses with that
number, over the chance expected of it. The chances of a species are the ones that make all its
nests and the guide's own chances together most likely, found by expectation and maximisation
(Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B 39:1-38; from memory). The guide counts as
`GUIDE_NESTS` nests, so few nests change little; a number of days that it rules out stays so.

Only seasons before the last count: a nest under way does not sharpen its own days, and a new
visit changes no other nest.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.dating.evidence import evidence_of, one
from layers.nesting.dating.model import STANDARD
from layers.nesting.dating.priors import tables_for
from layers.nesting.dating.summing import weigh_first
from layers.nesting.guide import Guide, OwnPeriod, OwnPeriods
from layers.nesting.histories import Histories
from layers.words import capitalise

LEAST_NESTS = 20
"""Of fewer nests the guide's figures are used alone (our own choice, no source)."""

GUIDE_NESTS = 10
"""The guide's figures count as so many nests (our own choice, no source)."""

# The latest nests of each species: more would sharpen little and cost time.
_LATEST_NESTS = 150
_ROUNDS = 30

_UNSURE = c.NOTE_MANY_EGGS | c.NOTE_OTHER_NAME | c.NOTE_ADULT_ONLY | c.NOTE_REOPENED


def own_periods(histories: Histories, *, before: int | None = None) -> Mapping[str, OwnPeriods]:
    """Common name -> the periods of the trail's nests.

    Species with fewer than `LEAST_NESTS` nests are left out.

    Parameters
    ----------
    before
        Nests of the seasons before this one count; None = before the last with visits.
    """
    plain = histories.guide.with_own({})
    tables = tables_for(plain, histories.visits.species_names, STANDARD)
    evidence = evidence_of(histories)
    found = {}
    for code, attempts in _finished(histories, before).items():
        species = histories.guide_species[code]
        weights = [
            weigh_first(own.visits, own.starts, own.frames, tables)[1:]
            for own in (one(evidence, attempt) for attempt in attempts)
        ]
        # Where sitting often starts early, days from the last egg are no incubation.
        early = species.starts_before_last_egg
        periods = OwnPeriods(
            None if early else _period(weights, t.SAT, tables.incubation[code + 1]),
            _period(weights, t.STAYED, tables.nestling[code + 1]),
        )
        if periods.incubation is not None or periods.nestling is not None:
            found[species.common] = periods
    return found


def own_period_sentences(guide: Guide) -> list[str]:
    """What the trail's own nests show, beside the guide's range; a sentence each period."""
    found = []
    for name, own in sorted(guide.own.items()):
        species = guide.find(name)
        for period, span, what in (
            (own.incubation, species.incubation_days, "eggs hatch {} days after the last one"),
            (own.nestling, species.nestling_days, "young leave {} days after hatching"),
        ):
            if period is not None:
                took = what.format(f"{period.mean_days:.1f}")
                printed = f"the guide has {span.low:g} to {span.high:g}"
                found.append(f"{capitalise(name)}: {took} (n {period.nests}; {printed}).")
    return found


def same_earlier_nests(before: Histories, after: Histories, box: str) -> bool:
    """Whether a box's visits of the seasons before the last are the same, so that the trail's
    own periods are too.
    """
    last = before.seasons()[-1:]
    if not last or last != after.seasons()[-1:]:
        return False
    was, now = (_seen_before(last[0], histories, box) for histories in (before, after))
    return np.array_equal(was, now)


def _seen_before(season: int, histories: Histories, box: str) -> NDArray[Any]:
    own = histories.visits_of(box)
    seen = histories.observations[own.start : own.stop]
    earlier: NDArray[Any] = seen[seen["season"] < season]
    return earlier


def _finished(histories: Histories, before: int | None) -> dict[int, list[int]]:
    """Attempts with young in seasons before one, by the code of their species."""
    rows = histories.rows
    if len(rows) == 0:
        return {}
    earlier = rows[:, c.SEASON] < (histories.seasons()[-1] if before is None else before)
    sure = (rows[:, c.PHASE] == c.YOUNG) & (rows[:, c.NOTES] & _UNSURE == 0)
    chosen = np.flatnonzero(earlier & sure & (rows[:, c.OVER] >= 0) & (rows[:, c.SPECIES] >= 0))
    chosen = chosen[np.argsort(-rows[chosen, c.FIRST_DAY], kind="stable")]
    found: dict[int, list[int]] = {}
    for attempt in chosen.tolist():
        code = int(rows[attempt, c.SPECIES])
        known = histories.guide.get(histories.visits.species_names[code]) is not None
        own = found.setdefault(code, [])
        if known and len(own) < _LATEST_NESTS:
            own.append(attempt)
    return {code: own for code, own in found.items() if len(own) >= LEAST_NESTS}


def _period(
    weights: list[tuple[NDArray[np.float64], NDArray[np.float64]]],
    row: int,
    expected: NDArray[np.float64],
) -> OwnPeriod | None:
    """The chance of each number of days; None where fewer than `LEAST_NESTS` nests show any."""
    days = np.flatnonzero(expected)
    guide = expected[days]
    # A row each nest: likelihood of each number of days, and the weight of courses without any.
    likely, without = [], []
    for post, sums in weights:
        own = np.zeros(len(days))
        within = days < post.shape[1]
        own[within] = post[row, days[within]]
        if own.sum() > 0.5 * sums[t.TOTAL]:
            likely.append(own / guide / sums[t.TOTAL])
            without.append(1 - own.sum() / sums[t.TOTAL])
    if len(likely) < LEAST_NESTS:
        return None
    each, other = np.array(likely), np.array(without)[:, None]
    chances, mean = guide, 0.0
    for _ in range(_ROUNDS):
        shares = chances * each
        shares = shares / (shares.sum(axis=1, keepdims=True) + other)
        nests = shares.sum(axis=0)
        mean = float((nests * days).sum() / nests.sum())
        chances = (GUIDE_NESTS * guide + nests) / (GUIDE_NESTS + nests.sum())
    return OwnPeriod(len(likely), mean, dict(zip(days.tolist(), chances.tolist(), strict=True)))
