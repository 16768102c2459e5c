"""Seasons with what life has: slips of the pen, periods of either shape, sitting that begins
early, observers who write no signs, parents found dead.

Nests come from `data_demo.simulate`, with the eggs that a brood leaves unhatched; this module
draws their periods anew from the guide's ranges and spoils what was written.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Any, Literal

from data_demo.nest import Plan
from data_demo.simulate import Season, simulate_season
from layers.nesting.guide import Guide, Span, standard_guide

Shape = Literal["even", "peaked"]
SHAPES: tuple[Shape, ...] = ("even", "peaked")

# Days by which an early start of sitting moves hatching forward, by chance.
_EARLIER_DAYS = ((0, 0.55), (1, 0.3), (2, 0.15))
_DEAD_PARENT_FOUND = 0.3
_WRITES_NO_SIGNS = 0.25


@dataclass(frozen=True)
class Slips:
    """Chances that one cell of a visit is wrong.

    Attributes
    ----------
    miscount
        A count of three or more is one too high or low.
    count, age, species
        Any other number, tenfold or in the other column; a ten lost or gained, or any age up
        to twenty; another bird's name.
    """

    miscount: float = 0.05
    count: float = 0.01
    age: float = 0.01
    species: float = 0.01


NO_SLIPS = Slips(0.0, 0.0, 0.0, 0.0)


def season_of_life(
    boxes: Sequence[str], *, seed: int, interval_days: int, shape: Shape, slips: Slips
) -> Season:
    """A made season; same seed, same answer."""
    season = simulate_season(
        boxes,
        year=2025,
        seed=seed,
        interval_days=interval_days,
        shaped=_periods(standard_guide(), shape, Random(f"periods {seed}")),
    )
    random = Random(f"slips {seed}")
    lost_parents = {
        (one.box, one.end_day)
        for one in season.truth
        if one.cause == "abandoned" and random.random() < _DEAD_PARENT_FOUND
    }
    signless = {box for box in boxes if random.random() < _WRITES_NO_SIGNS}
    names = sorted({one.species for one in season.truth})
    rows = []
    for row in season.visits:
        told = dict(row)
        if any(box == row["box"] and _within(row, end, 30) for box, end in lost_parents):
            told["signs"] = "dead adult"
        if row["box"] in signless:
            told["signs"] = None
        rows.append(_spoilt(told, slips, names, random))
    return replace(season, visits=tuple(rows))


def _within(row: dict[str, Any], end: int | None, days: int) -> bool:
    day = row["seen_on"].toordinal() - 719_163
    return end is not None and bool(row["eggs"]) and end <= day <= end + days


def _periods(guide: Guide, shape: Shape, random: Random) -> Callable[[Plan], Plan]:
    def days(span: Span) -> int:
        low, high = math.floor(span.low), math.ceil(span.high)
        if shape == "even":
            return random.randint(low, high)
        top = (low + high) / 2 if span.usual is None else float(span.usual)
        return round(random.triangular(low, high, top))

    def shaped(plan: Plan) -> Plan:
        bird = guide.get(plan.species)
        assert bird is not None
        if not plan.laying:
            return plan
        sat, stayed = days(bird.incubation_days), days(bird.nestling_days)
        if bird.starts_before_last_egg:
            choices, weights = zip(*_EARLIER_DAYS, strict=True)
            sat -= int(random.choices(choices, weights)[0])
        last = plan.laying[-1] + sat
        return replace(
            plan,
            incubation_days=sat,
            nestling_days=stayed,
            egg_losses=tuple(min(day, last - 1) for day in plan.egg_losses),
            young_losses=tuple(one for one in plan.young_losses if one[0] < stayed - 2),
        )

    return shaped


def _spoilt(
    row: dict[str, Any], slips: Slips, names: Sequence[str], random: Random
) -> dict[str, Any]:
    for name, other in (("eggs", "young"), ("young", "eggs")):
        count = row[name]
        if count is None:
            continue
        if count >= 3 and random.random() < slips.miscount:
            row[name] = count + random.choice((-1, 1))
        if random.random() < slips.count:
            kind = random.choice(("number", "tenfold", "column"))
            if kind == "number" or count == 0:
                row[name] = random.randint(0, 9)
            elif kind == "tenfold":
                row[name] = 10 * count
            else:
                row[name], row[other] = row[other], count
    age = row["young_days"]
    if age is not None and random.random() < slips.age:
        ten = age - 10 if age >= 10 else age + 10
        row["young_days"] = random.choice((ten, random.randint(0, 20)))
    if row["species"] is not None and random.random() < slips.species:
        row["species"] = random.choice([name for name in names if name != row["species"]])
    return row
