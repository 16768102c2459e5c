"""Daily survival by Mayfield's method, with Johnson's variance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.doubts import (
    AllLost,
    Doubt,
    KeeperLosses,
    LongIntervals,
    NoLosses,
    UncertainFates,
    few,
)
from layers.nesting.season.result import NORMAL_95, About, Interval, Measure, Quantity
from layers.nesting.season.samples import for_survival
from layers.nesting.season.tables import SeasonTable

Rule = Literal["midpoint", "40 %"]
Stage = Literal["whole", "eggs", "young"]

# Where in its interval a loss is put. Half: Mayfield 1961, Wilson Bulletin 73:255-261. 40 %:
# Miller & Johnson 1978, Journal of Wildlife Management 42:471-476 (from memory).
_LOSS_AT: dict[Rule, float] = {"midpoint": 0.5, "40 %": 0.4}

# Klett et al. 1986 went over to the 40 % rule for intervals longer than about this (from memory).
LONG_INTERVAL_DAYS = 15

STAGE_WORDS: dict[Stage, str] = {"whole": "", "eggs": " with eggs", "young": " with young"}


def about(rule: Rule) -> About:
    """What Mayfield's method under a rule takes for granted."""
    where = "halfway" if rule == "midpoint" else "at 40 %"
    return About(
        method=f"Mayfield, losses {where} in their interval; standard error by Johnson 1979",
        assumptions=(
            "Every nest has the same chance to live through a day, on every day.",
            f"Losses fall {where} in the interval in which they happened, on average.",
            "Nests are independent of each other.",
        ),
        not_when=(
            "Losses come in a few catastrophes (Johnson & Shaffer 1990, Auk 107:595-600).",
            "Visits are far apart: use the likelihood, which does not place the day of loss.",
            "Survival changes with age or season: part it, or use the regression.",
        ),
        reference=(
            "Mayfield 1961, Wilson Bulletin 73:255-261, and 1975, 87:456-466; "
            "Johnson 1979, Auk 96:651-661"
        ),
    )


@dataclass(frozen=True)
class NestDays:
    """Days at risk and losses. `nests` were watched, `long` of the losses in long intervals."""

    days: float
    losses: int
    nests: int
    long: int


def nest_days(table: SeasonTable, *, rule: Rule = "midpoint", stage: Stage = "whole") -> NestDays:
    """Days of exposure and losses of a stage.

    An interval with a loss ends where the rule puts the loss; the stage in which that
    point falls has the loss.
    """
    i = table.intervals
    at = np.where(i.lost, _LOSS_AT[rule] * i.days, i.days)
    egg = np.minimum(at, i.egg_days)
    lost_with_eggs = i.lost & (at <= i.egg_days)
    if stage == "eggs":
        days, lost = egg, lost_with_eggs
    elif stage == "young":
        days, lost = at - egg, i.lost & ~lost_with_eggs
    else:
        days, lost = at, i.lost
    nests = len(np.unique(i.nest[(days > 0) | lost]))
    long = int(np.sum(lost & (i.days > LONG_INTERVAL_DAYS)))
    return NestDays(float(days.sum()), int(lost.sum()), nests, long)


def daily_survival(stage: Stage, about: About) -> Quantity:
    """Daily survival of a stage by some method."""
    words = STAGE_WORDS[stage]
    return Quantity(
        f"daily survival of nests{words}",
        "daily rate",
        "nests watched",
        about,
        f"day on which a nest{words} was watched",
    )


def mayfield(table: SeasonTable, *, rule: Rule = "midpoint", stage: Stage = "whole") -> Measure:
    """The chance of a nest to live through one day: 1 - losses / days of exposure.

    Its variance is (E - f) f / E**3 with E days of exposure and f losses (Johnson
    1979). The interval is that of the normal curve, cut at 0 and 1.
    """
    quantity = daily_survival(stage, about(rule))
    found = nest_days(table, rule=rule, stage=stage)
    left_out = for_survival(table).left_out()
    if found.days == 0:
        return quantity.without_answer(left_out)
    exposure, losses = found.days, found.losses
    # Losses in very short intervals can outnumber the days that the rule allows them.
    survival = max(1 - losses / exposure, 0.0)
    error = math.sqrt((exposure - losses) * losses / exposure**3) if survival > 0 else 0.0
    low, high = max(survival - NORMAL_95 * error, 0.0), min(survival + NORMAL_95 * error, 1.0)
    return quantity.measured(
        survival,
        interval=Interval(low, high, "normal, Johnson 1979") if error > 0 else None,
        standard_error=error or None,
        n=found.nests,
        warnings=survival_warnings(table, found, survived_some=survival > 0),
        left_out=left_out,
        parts={"losses": losses, "days of exposure": exposure},
    )


def survival_warnings(
    table: SeasonTable, found: NestDays, *, survived_some: bool, midpoint: bool = True
) -> tuple[Doubt, ...]:
    """Doubts about any estimate of daily survival from these days and losses."""
    warnings = few(found.nests, ENOUGH_NESTS, "nests watched")
    if found.losses == 0:
        warnings.append(NoLosses(found.nests, "nests watched"))
    if not survived_some:
        warnings.append(AllLost(found.losses, "nests watched"))
    if midpoint and found.long:
        warnings.append(LongIntervals(found.long, found.losses, LONG_INTERVAL_DAYS))
    unknown = int(np.sum(table.laid & (table.fate == c.FATE_UNKNOWN)))
    if unknown:
        warnings.append(UncertainFates(unknown, int(np.sum(table.laid))))
    taken_out = int(np.sum(table.taken_out))
    if taken_out:
        warnings.append(KeeperLosses(taken_out))
    return tuple(warnings)
