"""How people look into nests, and how nests end: the numbers that no guide gives.

All are our own choice, from common practice and without a source, except where one
is named. They are few and weak: what a visit counted outweighs them. `tests/bench/dating.py`
prints how well the dates hold on simulated nests; the simulator shares no code and no figure
with this module, but the rows of `finding` on empty nests, signs of loss, dead young and
further clutches, and `next_from_days`, were set after a look at its tables, on other seeds
than those printed. `slip` and `misread` come from a model of invented nests with slips from 0
to 3 % of the counts and ages: one setting held its intervals over all of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from layers.nesting.dating import terms as t

_FINDING = (
    # fledged, lost as young, lost as eggs, never hatched; the visit is wrong
    (0.13, 0.50, 0.50, 0.05, 0.002),  # empty, no sign
    (0.83, 0.02, 0.005, 0.0, 0.0002),  # signs of leaving
    (0.005, 0.45, 0.30, 0.03, 0.0002),  # signs of a loss
    (0.001, 0.20, 0.002, 0.0, 0.00001),  # all young dead
    (0.03, 0.12, 0.002, 0.0, 0.0001),  # some young dead, the others gone
    (0.05, 0.03, 0.25, 0.92, 0.002),  # eggs
    (0.50, 0.70, 0.70, 0.20, 0.002),  # another clutch
    (0.20, 0.60, 1.00, 0.30, 0.0005),  # another species
    (0.0, 1.00, 1.00, 1.00, 0.0),  # taken out by the keeper
)


@dataclass(frozen=True)
class Model:
    """Chances of the observation model.

    Attributes
    ----------
    daily_loss
        That a whole nest is lost on any one day. Boxes of eastern bluebirds kept 62 to
        76 % of broods to an age of about ten days (Radunzel et al. 1997), some 27 days
        after the first egg: a loss of 1.0 to 1.8 % a day, of single eggs and young too.
    laying_gap
        That a day is skipped before the next egg.
    never_hatches
        That a clutch is kept to the end and no egg hatches.
    slip
        That a count or an age is a slip of the pen, and may be any number.
    misread, misread_warm
        That a visit's eggs were written as young or the other way round, or that it was at
        another box; and the share of these where the eggs were noted as warm.
    egg_short, egg_over
        That a count of eggs in the nest is one too low (an egg lost or not seen), or one
        too high. Each egg short beyond the first is a third as likely; one or two eggs are
        never counted one too many.
    egg_fails
        That an egg gives no young that is ever counted.
    age_error_days
        Standard deviation of the age that an observer gives the young.
    age_error_most
        Beyond this error an age is a slip; of these, half lost or gained a ten.
    warm_sitting, warm_laying
        That eggs are noted as warm, where warmth is noted, once sitting has begun and before.
    seen_laying, seen_sitting, seen_brooding
        That a parent is found on the nest before sitting begins, while it lasts, and over
        small young.
    brooding_days
        Age up to which young are brooded by day.
    near_eggs, near_young, near_over
        That a look from outside notes a parent near: with eggs, young, or nothing inside.
    quiet_eggs, quiet_young, quiet_over
        That it notes no parent.
    cold_alive, left_eggs, left_young
        That eggs are found cold though alive; that they lie there after the clutch was
        lost, or after the brood was.
    next_from_days, next_mean_days
        After a nest is over, the first egg of the next clutch in its box comes so many days
        later at the earliest, and then so many days later on average, falling off as an
        exponential does. A pair that lost its eggs needs four days or five for new ones
        (from memory), one that throws another out may have its own on the way.
    finding
        For each finding of the visit that found the nest over (rows `terms.FOUND_...`),
        how likely it is after each outcome (columns `FLEDGED, LOST_YOUNG, LOST_EGGS,
        NEVER_HATCHED`), and how likely a visit to a nest that goes on is to be wrong in this
        way (last column). Only the ratios within a row count.
    """

    daily_loss: float = 0.01
    laying_gap: float = 0.05
    never_hatches: float = 0.02
    slip: float = 0.015
    misread: float = 0.003
    misread_warm: float = 0.1
    egg_short: float = 0.03
    egg_over: float = 0.02
    egg_fails: float = 0.1
    age_error_days: float = 1.2
    age_error_most: float = 5.0
    warm_sitting: float = 0.95
    warm_laying: float = 0.04
    seen_laying: float = 0.08
    seen_sitting: float = 0.45
    seen_brooding: float = 0.05
    brooding_days: float = 6.0
    near_eggs: float = 0.2
    near_young: float = 0.3
    near_over: float = 0.1
    quiet_eggs: float = 0.4
    quiet_young: float = 0.2
    quiet_over: float = 0.8
    cold_alive: float = 0.1
    left_eggs: float = 0.35
    left_young: float = 0.03
    next_from_days: float = 2.0
    next_mean_days: float = 10.0
    finding: tuple[tuple[float, ...], ...] = field(default=_FINDING)

    def chances(self) -> NDArray[np.float64]:
        """Every single chance, in the order of the attributes, for the compiled code."""
        return np.array([getattr(self, name) for name in CHANCES])

    def findings(self) -> NDArray[np.float64]:
        """`finding` as an array: shape (N_FOUND, N_OUTCOMES)."""
        table = np.array(self.finding)
        assert table.shape == (t.N_FOUND, t.N_OUTCOMES)
        return table


CHANCES = tuple(name for name in Model.__dataclass_fields__ if name != "finding")
"""Names of the single chances, in order."""

(
    DAILY_LOSS,
    LAYING_GAP,
    NEVER_HATCHES,
    SLIP,
    MISREAD,
    MISREAD_WARM,
    EGG_SHORT,
    EGG_OVER,
    EGG_FAILS,
    AGE_ERROR_DAYS,
    AGE_ERROR_MOST,
    WARM_SITTING,
    WARM_LAYING,
    SEEN_LAYING,
    SEEN_SITTING,
    SEEN_BROODING,
    BROODING_DAYS,
    NEAR_EGGS,
    NEAR_YOUNG,
    NEAR_OVER,
    QUIET_EGGS,
    QUIET_YOUNG,
    QUIET_OVER,
    COLD_ALIVE,
    LEFT_EGGS,
    LEFT_YOUNG,
    NEXT_FROM_DAYS,
    NEXT_MEAN_DAYS,
) = range(len(CHANCES))

STANDARD = Model()
"""The model that Boxround uses."""
