"""How long a nest has to live: days from first egg to hatching, and on to fledging."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating.terms import FIRST_EGG, FLEDGE, HATCH
from layers.nesting.season.result import Interval, Measure
from layers.nesting.season.tables import SeasonTable

# Fewer nests than this say less than the guide does (common practice, no source).
ENOUGH_DATED = 10
# In how many days an event must lie with a chance of 95 % (our own choice). At weekly visits with
# ages written down, half of first eggs and hatchings do.
WELL_DATED_DAYS = 4
# How few days may lie between the last look alive and the one that found the nest left.
_SHORT_WINDOW_DAYS = 3


@dataclass(frozen=True)
class Period:
    """Length of one stage: mean days, from how many nests, and where it comes from."""

    days: float
    n: int
    source: str


@dataclass(frozen=True)
class Periods:
    """Length of both stages."""

    eggs: Period
    young: Period


def periods(table: SeasonTable) -> Periods | None:
    """How long both stages last, from these nests where enough are dated, else from the guide.

    None where no nest of the table had eggs or young.
    """
    table = table.take(table.laid)
    limits = table.limits
    if len(table) == 0:
        return None
    stays = _stays(table)
    if len(stays) >= ENOUGH_DATED:
        source = f"the {len(stays)} nests of this trail whose young left"
        stayed = Period(float(stays.mean()), len(stays), source)
    else:
        stayed = _period(_own_young_days(table), _guide_young_days(limits))
    return Periods(_period(_own_egg_days(table), _guide_egg_days(limits)), stayed)


def _period(own: NDArray[np.float64], guide: NDArray[np.float64]) -> Period:
    if len(own) >= ENOUGH_DATED:
        return Period(float(own.mean()), len(own), f"{len(own)} well dated nests of this trail")
    few = "no nest" if len(own) == 0 else f"only {len(own)} nest{'s' if len(own) > 1 else ''}"
    text = f"the guide, over the species of {len(guide)} nests ({few} of this trail well dated)"
    return Period(float(guide.mean()), len(guide), text)


def _hatch_dated(table: SeasonTable) -> NDArray[np.bool_]:
    """Where young were seen, and hatching is dated closely."""
    dated = (table.best[:, HATCH] != c.MISSING) & (table.rows[:, c.YOUNG_DAY] != c.MISSING)
    return np.asarray(dated & (table.width_days[:, HATCH] <= WELL_DATED_DAYS), bool)


def _own_egg_days(table: SeasonTable) -> NDArray[np.float64]:
    """First egg to hatching where both are dated closely."""
    dated = _hatch_dated(table) & (table.width_days[:, FIRST_EGG] <= WELL_DATED_DAYS)
    # By the mean over the courses that its visits allow, where there is one.
    by_courses = table.courses.hatches
    hatch = np.where(np.isnan(by_courses), table.hatch, by_courses)
    return np.asarray((hatch - table.first_egg)[dated], float)


def _stays(table: SeasonTable) -> NDArray[np.float64]:
    """Days that young of each nest that fledged are expected to stay; see `leaving_ages`."""
    left = (table.fate == c.FATE_FLEDGED) & ~np.isnan(table.courses.stays)
    stays: NDArray[np.float64] = table.courses.stays[left]
    return stays


def _own_young_days(table: SeasonTable) -> NDArray[np.float64]:
    """Hatching to leaving where both are dated closely."""
    rows, fledge = table.rows, table.best[:, FLEDGE]
    dated = (table.fate == c.FATE_FLEDGED) & (fledge != c.MISSING)
    dated &= rows[:, c.OVER_DAY] != c.MISSING
    dated &= rows[:, c.OVER_DAY] - rows[:, c.ALIVE_DAY] <= _SHORT_WINDOW_DAYS
    days: NDArray[np.float64] = (fledge - table.hatch)[dated & _hatch_dated(table)].astype(float)
    return days


def _guide_egg_days(limits: NDArray[np.int32]) -> NDArray[np.float64]:
    laying = (limits[:, c.CLUTCH_USUAL] - 1) * limits[:, c.LAY_DAYS]
    days: NDArray[np.float64] = (
        laying + (limits[:, c.INCUBATION_LEAST] + limits[:, c.INCUBATION_MOST]) / 2
    )
    return days


def _guide_young_days(limits: NDArray[np.int32]) -> NDArray[np.float64]:
    days: NDArray[np.float64] = (limits[:, c.NESTLING_LEAVES] + limits[:, c.NESTLING_MOST]) / 2
    return days


def period_survival(daily: Measure, *, days: float, name: str) -> Measure:
    """The chance to live through `days` days at a daily rate: s**days.

    Its interval is that of the daily rate, each end raised to the same power; its
    standard error days * s**(days - 1) * SE(s) (delta method).
    """
    if daily.estimate is None:
        return replace(daily, name=name, unit="share")
    interval = daily.interval
    if interval is not None:
        interval = Interval(
            interval.low**days,
            interval.high**days,
            f"{interval.method}, to the power of {days:g} days",
            interval.level,
        )
    error = daily.standard_error
    return replace(
        daily,
        name=name,
        unit="share",
        estimate=daily.estimate**days,
        interval=interval,
        standard_error=None if error is None else days * daily.estimate ** (days - 1) * error,
        parts={**daily.parts, "daily survival": daily.estimate, "days": days},
    )
