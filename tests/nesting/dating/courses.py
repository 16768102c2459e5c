"""Every course of a nest walked one by one in plain Python: slow, and simple enough to believe.

Takes the same model and expectations as the compiled code, and shares none of its sums.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.dating.evidence import Evidence
from layers.nesting.dating.model import Model

Weights = dict[str, dict[int, float]]


def walk(
    own: Evidence, tables: t.Tables, model: Model, following: Mapping[int, float] | None = None
) -> Weights:
    """Weight of each day of each event, keys `first egg, complete, hatch, fledge, loss`.

    `following` is the chance of each day of the next clutch's first egg.
    """
    before = _before(following, model)
    frame = own.frames[0]
    species = int(frame[t.F_SPECIES])
    clutch, interval = tables.clutch[species], tables.interval[species]
    sitting = tables.sitting[species]
    incubation, nestling = tables.incubation[species], tables.nestling[species]
    visits = [dict(zip(own.visits.dtype.names or (), one, strict=True))
              for one in own.visits[: own.starts[1]]]  # fmt: skip
    told = [v for v in visits if v["says"] not in (t.SHOWS_NOTHING, t.SHOWS_NEAR, t.SHOWS_QUIET)]
    first = min(int(v["day"]) for v in told)
    # The first count may be a slip, of a box in which nothing was laid; the second is not, too.
    living = [int(v["day"]) for v in told if v["says"] in (t.SHOWS_EGGS, t.SHOWS_YOUNG)]
    latest = min((day for day in living if day > first), default=first)
    if any(v["day"] == first and v["warm"] == 1 for v in told):
        latest = first
    over = int(frame[t.F_OVER]) if frame[t.F_OVER] != c.MISSING else None
    alive = max(int(frame[t.F_ALIVE]), first)
    alive = alive if over is None else min(alive, over - 1)
    steps = [(n, _step_chance(interval, n, model)) for n in range(1, len(interval))]
    steps = [(n, chance) for n, chance in steps if chance > 0]
    found: Weights = {name: defaultdict(float) for name in
                      ("first egg", "complete", "hatch", "fledge", "loss")}  # fmt: skip
    sat_low, sat_most = (int(tables.spans[species, at])
                         for at in (t.INCUBATION_LOW, t.INCUBATION_HIGH))  # fmt: skip
    no_egg, before_it = int(frame[t.F_NO_EGG]), int(frame[t.F_NO_EGG_BEFORE])
    earliest = no_egg - int(tables.spans[species, t.LAYING_MOST]) - sat_most
    if before_it != c.MISSING:
        earliest = max(earliest, before_it + 1)
    for size in (n for n in range(len(clutch)) if clutch[n] > 0):
        for path in itertools.product(steps, repeat=size - 1):
            laid_after = list(itertools.accumulate((n for n, _ in path), initial=0))
            if laid_after[-1] > tables.spans[species, t.LAYING_MOST]:
                continue
            weight = clutch[size] * math.prod(chance for _, chance in path)
            for begin in range(earliest, min(latest, max(alive, first)) + 1):
                laying = [begin + after for after in laid_after]
                missed = _count(0, 1, model) if begin <= no_egg else 1.0
                for sat in range(sat_low, sat_most + 1):
                    hatch = laying[-1] + sat
                    course = weight * missed * (1 - model.never_hatches)
                    course *= _seen(visits, laying, hatch, (sitting, incubation), model)
                    for what, day, stays in _ends(alive, over, hatch, nestling) if course else ():
                        chance = course * stays * (1 - model.daily_loss) ** (day - 1 - begin)
                        chance *= _end_chance(what, day, hatch, frame, model) * before(day)
                        found[what][day] += chance
                        found["first egg"][begin] += chance
                        found["complete"][laying[-1]] += chance
                        if what == "fledge" or day > hatch:
                            found["hatch"][hatch] += chance
                    given_up = weight * missed * (1 - model.never_hatches)
                    lying = _left_on(visits, alive)
                    given_up *= _seen(lying, laying, hatch, (sitting, incubation), model)
                    first_day = max(laying[-1], _sure(visits)) + 1
                    last_day = min(alive, hatch)
                    for day in range(first_day, last_day + 1) if given_up else ():
                        chance = given_up * (1 - model.daily_loss) ** (day - 1 - begin)
                        chance *= _end_chance("loss", day, hatch, frame, model) * before(day)
                        chance *= model.left_eggs
                        found["loss"][day] += chance
                        found["first egg"][begin] += chance
                        found["complete"][laying[-1]] += chance
    return found


def _before(following: Mapping[int, float] | None, model: Model) -> Callable[[int], float]:
    """The chance, for an end on a day, that the next clutch begins when it did."""

    def waits(days: int) -> float:
        wait = days - model.next_from_days
        return math.exp(-wait / model.next_mean_days) if wait >= 0 else 0.0

    if following is None:
        return lambda end: 1.0
    return lambda end: sum(chance * waits(day - end) for day, chance in following.items())


def _sure(visits: list[dict[str, Any]]) -> int:
    """Last day on which warm eggs, young or a sitting parent were seen."""
    warm = (t.SHOWS_EGGS, 1)
    days = [
        v["day"] for v in visits if (v["says"], v["warm"]) == warm or v["says"] == t.SHOWS_YOUNG
    ]
    return int(max(days, default=c.MISSING))


def _left_on(visits: list[dict[str, Any]], day: int) -> list[dict[str, Any]]:
    """The visits, the eggs seen on a day only lying there."""
    return [
        visit | {"says": t.SHOWS_EGGS_LEFT} if (visit["says"], visit["day"]) == (t.SHOWS_EGGS, day)
        else visit for visit in visits
    ]  # fmt: skip


def _step_chance(interval: Any, days: int, model: Model) -> float:
    usual = (1 - model.laying_gap) * interval[days]
    return float(usual + model.laying_gap * interval[days - 1])


def _seen(
    visits: list[dict[str, Any]],
    laying: list[int],
    hatch: int,
    periods: tuple[Any, Any],
    model: Model,
) -> float:
    chance, brood = 1.0, 0
    for visit in visits:
        says, day, age = visit["says"], int(visit["day"]), int(visit["age"])
        laid = sum(egg <= day for egg in laying)
        if says in (t.SHOWS_EGGS, t.SHOWS_EGGS_LEFT):
            chance *= _count(int(visit["eggs"]), laid, model)
        if says == t.SHOWS_EGGS and day >= hatch:
            chance *= model.misread * (model.misread_warm if visit["warm"] == 1 else 1.0)
        elif says == t.SHOWS_YOUNG:
            brood = max(brood, max(int(visit["young"]), 0) + max(int(visit["eggs"]), 0))
            if day < hatch:
                chance *= model.misread * (1.0 if age < 0 else 1 / 31)
            elif age >= 0:
                chance *= _age(age, day - hatch, model)
    if brood > 0:
        chance *= _brood(brood, len(laying), model)
    sitting, incubation = periods
    warmth = 0.0
    for column, begins in enumerate(sitting):
        after_last_egg = t.EARLIEST_SITTING + column
        sat = hatch - laying[-1] - min(after_last_egg - t.USUAL_SITTING, 0)
        each = float(begins * incubation[sat]) if 0 <= sat < len(incubation) else 0.0
        for visit in visits:
            if visit["says"] == t.SHOWS_EGGS and visit["warm"] >= 0:
                sits = visit["day"] >= laying[-1] + after_last_egg
                warm = model.warm_sitting if sits else model.warm_laying
                each *= warm if visit["warm"] == 1 else 1 - warm
        warmth += each
    return chance * warmth


def _mixed(right: float, wrong: float, model: Model) -> float:
    return (1 - model.slip) * right + model.slip * wrong


def _any_count(counted: int) -> float:
    return 0.095 if counted < 10 else 0.0008


def _count(counted: int, laid: int, model: Model) -> float:
    right = 1.0
    if counted > laid:
        right = model.egg_over if counted == laid + 1 and counted >= 3 else 0.0
    elif counted < laid:
        right = model.egg_short / 3 ** (laid - counted - 1) if counted > 0 else 0.0
    return _mixed(right, _any_count(counted), model)


def _brood(found: int, laid: int, model: Model) -> float:
    if found > laid:
        alone = model.egg_over * (1 - model.egg_fails) ** laid
        right = alone if found == laid + 1 and found >= 3 else 0.0
    else:
        ways = math.comb(laid, found)
        right = ways * (1 - model.egg_fails) ** found * model.egg_fails ** (laid - found)
    return _mixed(right, _any_count(found), model)


def _age(judged: int, true: int, model: Model) -> float:
    tens = [judged + 10] + ([judged - 10] if judged >= 10 else [])
    wrong = 0.5 / 31 + 0.25 * sum(_judged(ten, true, model) for ten in tens)
    return _mixed(_judged(judged, true, model), wrong, model)


def _judged(judged: int, true: int, model: Model) -> float:
    if abs(judged - true) > model.age_error_most:
        return 0.0

    def below(x: float) -> float:
        return (1 + math.erf((x - true) / model.age_error_days / math.sqrt(2))) / 2

    return below(judged + 0.5) - (0.0 if judged == 0 else below(judged - 0.5))


def _ends(
    alive: int, over: int | None, hatch: int, nestling: Any
) -> Iterator[tuple[str, int, float]]:
    """What may end a nest, when, and the chance of the nestling days that go with it."""
    for stay in (n for n in range(len(nestling)) if nestling[n] > 0):
        leaves = hatch + stay
        for what, day in [("loss", day) for day in range(alive + 1, leaves)] + [("fledge", leaves)]:
            if alive < day and (over is None or day <= over):
                yield what, day, float(nestling[stay])


def _end_chance(what: str, day: int, hatch: int, frame: Any, model: Model) -> float:
    """Of an end on a day, once it is known how long the young would have stayed."""
    chance = model.daily_loss if what == "loss" else 1.0
    if frame[t.F_OVER] != c.MISSING:
        lost = t.LOST_EGGS if day <= hatch else t.LOST_YOUNG
        finding = model.finding[int(frame[t.F_FOUND])]
        chance *= finding[t.FLEDGED if what == "fledge" else lost]
    return chance
