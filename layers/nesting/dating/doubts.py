"""Which visit of an attempt is probably wrong, and what would have fitted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import model as m
from layers.nesting.dating import terms as t
from layers.nesting.dating.evidence import Evidence
from layers.nesting.dating.laying import any_count
from layers.nesting.dating.looks import any_age
from layers.nesting.dating.summing import moment_below, weigh_first
from layers.nesting.histories import Histories
from layers.nesting.reading.fates import CLUTCHES_AT_MOST
from layers.trail.coding import day_of
from layers.words import format_count

_PROBABLY = 0.5

# An age this many days from the best day of hatching is checked.
_ODD_AGE_DAYS = 4


@dataclass(frozen=True)
class Doubt:
    """A visit that is probably wrong.

    Attributes
    ----------
    visit
        Its position in `Histories.visits`.
    chance
        How likely it is to be wrong.
    what
        What it records, and what would fit, in a sentence.
    """

    visit: int
    chance: float
    what: str


class BestDays(Protocol):
    """What `suspicious` needs to know of the dates of attempts."""

    @property
    def best(self) -> NDArray[np.int64]: ...
    @property
    def hatched(self) -> NDArray[np.float64]: ...


def suspicious(rows: NDArray[np.int32], evidence: Evidence, dates: BestDays) -> NDArray[np.intp]:
    """The attempts some visit of which does not go well with their best days.

    A quick look at all, so that only few are weighed visit by visit.
    """
    own = np.repeat(np.arange(len(rows)), np.diff(evidence.starts))
    says, day, age = (evidence.visits[name] for name in ("says", "day", "age"))
    hatch, hatched = dates.best[own, t.HATCH], dates.hatched[own] > _PROBABLY
    eggs, young = says == t.SHOWS_EGGS, says == t.SHOWS_YOUNG
    odd = eggs & hatched & (day >= hatch)
    odd |= young & (day < hatch)
    odd |= eggs & (day < dates.best[own, t.FIRST_EGG])
    odd |= young & (age >= 0) & (np.abs(day - age - hatch) > _ODD_AGE_DAYS)
    odd |= (says == t.SHOWS_NO_EGG) | (says == t.SHOWS_EGGS_LATE)
    found = np.bincount(own[odd], minlength=len(rows)) > 0
    found |= (rows[:, c.NOTES] & (c.NOTE_FEWER_EGGS | c.NOTE_MANY_EGGS)) != 0
    no_egg, first = evidence.frames[:, t.F_NO_EGG], dates.best[:, t.FIRST_EGG]
    found |= (no_egg != c.MISSING) & (first <= no_egg)
    return np.flatnonzero(found & (dates.best[:, t.FIRST_EGG] != c.MISSING))


def most_doubtful(histories: Histories, own: Evidence, tables: t.Tables) -> Doubt | None:
    """The visit of an attempt, the first row, that is most probably wrong; None where none is
    wrong more likely than right.
    """
    total = total_weight(own, tables)
    chances: dict[int, float] = {}
    likeliest: dict[int, tuple[float, str]] = {}
    for visit, chance, what in _slips(histories, own, tables) if total > 0 else ():
        share = chance / total
        chances[visit] = chances.get(visit, 0.0) + share
        likeliest[visit] = max(likeliest.get(visit, (0.0, "")), (share, what))
    visit = max(chances, key=lambda one: chances[one], default=-1)
    if visit < 0 or chances[visit] <= _PROBABLY:
        return None
    return Doubt(visit, min(chances[visit], 1.0), likeliest[visit][1])


def _slips(
    histories: Histories, own: Evidence, tables: t.Tables
) -> Iterator[tuple[int, float, str]]:
    """Every way in which a visit can be wrong: its position, the weight of all courses with
    it, and what to say of it.
    """
    slip, misread = tables.chances[m.SLIP], tables.chances[m.MISREAD]
    most = tables.spans[own.frames[0, t.F_SPECIES], t.CLUTCH_HIGH]
    for k in range(own.starts[1]):
        visit, at = own.visits[k], int(own.positions[k])
        says, age = visit["says"], int(visit["age"])
        eggs, young = max(int(visit["eggs"]), 0), max(int(visit["young"]), 0)
        on = _day(int(visit["day"]))
        if says == t.SHOWS_EGGS and most < eggs <= CLUTCHES_AT_MOST * most:
            # Several females may lay in one nest: no slip, though no course of one fits.
            continue
        if says in (t.SHOWS_EGGS, t.SHOWS_EGGS_LATE):
            rest = _without(own, k)
            chance = misread * (tables.chances[m.MISREAD_WARM] if visit["warm"] == 1 else 1.0)
            chance += slip * any_count(eggs) if says == t.SHOWS_EGGS else 0.0
            what = f"the {format_count(eggs, 'egg', 'eggs')} on {on} do not fit the other visits"
            yield at, chance * total_weight(rest, tables), what
        elif says == t.SHOWS_NO_EGG:
            what = f"the visit of {on} records no egg, between visits that record eggs"
            yield at, slip * any_count(0) * total_weight(_without(own, k), tables), what
        elif says == t.SHOWS_YOUNG:
            counted = f"the {_counted(eggs, young)} on {on} do not fit the other visits"
            if eggs + young > most + 1:
                yield at, total_weight(own, tables), counted
                continue
            chance = misread * (any_age(age) if age >= 0 else 1.0)
            what = f"the young on {on} do not fit the other visits, which leave only eggs by then"
            yield at, chance * total_weight(_without(own, k), tables), what
            if age >= 0:
                yield at, *_age_slip(_changed(own, k, age=-1), k, age, tables)
            if eggs + young > 0:
                rest = _changed(own, k, eggs=-1, young=-1)
                yield at, slip * any_count(eggs + young) * total_weight(rest, tables), counted
    no_egg = own.frames[0, t.F_NO_EGG]
    if no_egg != c.MISSING and no_egg != own.frames[0, t.F_NO_EGG_BEFORE]:
        frames = own.frames.copy()
        frames[0, t.F_NO_EGG] = frames[0, t.F_NO_EGG_BEFORE]
        weight = total_weight(replace(own, frames=frames), tables)
        what = f"the visit of {_day(no_egg)} records no egg, but the first was laid before it"
        for at in _visits_on(histories, own, no_egg):
            yield at, slip * any_count(0) * weight, what


def _age_slip(rest: Evidence, k: int, age: int, tables: t.Tables) -> tuple[float, str]:
    """The weight of an age that is a slip, and what to say of it; `rest` is without it."""
    first_day, weights, sums = weigh_first(rest.visits, rest.starts, rest.frames, tables)
    day = int(rest.visits[k]["day"])
    what = f"the age on {_day(day)} reads {age}"
    if sums[t.HATCHED] <= 0:
        return 0.0, what
    middle = moment_below(weights[t.HATCH], sums[t.HATCHED], 0.5)
    fits = day - (first_day + int(np.ceil(middle)) - 1)
    ten_off = abs(abs(age - fits) - 10) <= 1
    # Half of the wrong ages are ten off, and then within a day or so.
    chance = tables.chances[m.SLIP] * (0.5 * any_age(age) + (0.25 / 3 if ten_off else 0.0))
    if ten_off:
        fits = age + 10 if fits > age else age - 10
    if fits >= 0:
        what += f"; {'about ' if not ten_off else ''}{fits} would fit"
    return float(chance * sums[t.TOTAL]), what


def _counted(eggs: int, young: int) -> str:
    counts = ((eggs, "egg", "eggs"), (young, "young", "young"))
    return " and ".join(format_count(*count) for count in counts if count[0] > 0)


def _day(day: int) -> str:
    return f"{day_of(day).day} {day_of(day):%B}"


def _visits_on(histories: Histories, own: Evidence, day: int) -> list[int]:
    """Positions of the visits to the attempt's box on a day that record no egg."""
    box = histories.visits.box[own.positions[0]]
    lo, hi = histories.visit_starts[box : box + 2]
    seen = histories.observations[lo:hi]
    return [int(lo + i) for i in np.flatnonzero((seen["day"] == day) & seen["no_eggs"])][:1]


def _changed(own: Evidence, k: int, **cells: int) -> Evidence:
    """The evidence with some cells of one visit changed."""
    visits = own.visits.copy()
    for name, value in cells.items():
        visits[name][k] = value
    return replace(own, visits=visits)


_LIVING = (t.SHOWS_EGGS, t.SHOWS_SITTING, t.SHOWS_YOUNG)


def _without(own: Evidence, k: int) -> Evidence:
    """The evidence as if one visit had seen nothing."""
    changed = _changed(own, k, says=t.SHOWS_NOTHING)
    first = changed.visits[: own.starts[1]]
    alive = first["day"][np.isin(first["says"], _LIVING)]
    frames: NDArray[Any] = own.frames.copy()
    if len(alive):
        frames[0, t.F_ALIVE] = alive.max()
    return replace(changed, frames=frames)


def total_weight(own: Evidence, tables: t.Tables) -> float:
    """Weight of all courses of an attempt, the first row."""
    return float(weigh_first(own.visits, own.starts, own.frames, tables)[2][t.TOTAL])
