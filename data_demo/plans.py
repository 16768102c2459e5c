"""Draws what will happen in one nest."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from random import Random

from data_demo.biology import Biology
from data_demo.nest import Cause, Loss, Plan

_EPOCH = date(1970, 1, 1).toordinal()

# Chance a day that a whole nest is lost. Invented, so that about seven nests in ten with
# eggs fledge young; boxes studied by Radunzel et al. 1997 gave 62 to 76 %.
_LOST_A_DAY = 0.009

_EGG_CAUSES: dict[Cause, float] = {
    "predator": 0.5,
    "taken over": 0.2,
    "abandoned": 0.22,
    "cold or wet": 0.04,
    "insects": 0.04,
}
_YOUNG_CAUSES: dict[Cause, float] = {
    "predator": 0.62,
    "taken over": 0.05,
    "young died": 0.15,
    "cold or wet": 0.11,
    "insects": 0.07,
}

# Small young may still be thrown out by another bird, or chilled; grown ones hardly.
_OLDEST_TAKEN_OVER_DAYS = 4
_OLDEST_CHILLED_DAYS = 11


def day_number(day: date) -> int:
    """Days from 1970-01-01."""
    return day.toordinal() - _EPOCH


def day_in(season: int, month_day: tuple[int, int]) -> int:
    """Day number of a month and day in a season's year."""
    return day_number(date(season, *month_day))


def draw_first_egg(bird: Biology, *, season: int, random: Random) -> int:
    """The day of a first clutch's first egg."""
    spread = max(-2.0, min(2.5, random.gauss(0.0, 1.0)))
    return day_in(season, bird.first_egg) + round(spread * bird.first_egg_spread_days)


def draw_plan(
    bird: Biology,
    *,
    first_egg_day: int,
    building_days: int,
    random: Random,
    clutch: int | None = None,
    eggs_lost: int | None = None,
    unhatched: int | None = None,
    label: str = "plain",
) -> Plan:
    """A nest that nothing befalls as a whole.

    Parameters
    ----------
    clutch, eggs_lost, unhatched
        Eggs laid, eggs that vanish while sat upon, and eggs that stay in the nest
        unhatched; None draws them. At least one egg hatches.
    """
    size = _draw_clutch(bird, random) if clutch is None else clutch
    if eggs_lost is None:
        eggs_lost = int(random.random() < 0.03)
    left = max(1, size - eggs_lost)
    if unhatched is None:
        unhatched = sum(random.random() < 0.07 for _ in range(left))
    young = max(1, left - unhatched)
    laying = [0]
    while len(laying) < size:
        laying.append(laying[-1] + 1 + (random.random() < 0.06))
    incubation_days = random.randint(*bird.incubation_days)
    vanish = range(laying[-1] + 1, laying[-1] + incubation_days - 1)
    early = min(size - 1, random.randint(1, 2)) if bird.sits_early else 0
    shortest, usual, longest = bird.nestling_days
    nestling_days = round(random.triangular(shortest, longest, usual))
    leave_early = young > 2 and nestling_days > shortest and random.random() < 0.2
    leaves_early = random.randint(1, young // 2) if leave_early else 0
    die = [age for age in range(1, nestling_days - 2) if random.random() < 0.02]
    return Plan(
        species=bird.species,
        start_day=first_egg_day - building_days,
        building_days=building_days,
        laying=tuple(laying),
        egg_losses=tuple(sorted(random.sample(vanish, size - left))),
        sitting_offset=laying[-1 - early],
        incubation_days=incubation_days,
        hatching=_draw_hatching(young, bird=bird, random=random),
        nestling_days=nestling_days,
        young_losses=tuple((age, random.random() < 0.4) for age in die[: young - leaves_early - 1]),
        leaves_early=leaves_early,
        label=label,
    )


def befall(plan: Plan, *, random: Random) -> Plan:
    """The same nest after chance has had its say; often nothing happens."""
    never = random.random() < 0.02
    for day in range(plan.first_egg_day + 1, plan.hatch_day if never else plan.end_day):
        if random.random() < _LOST_A_DAY:
            cause = _draw_cause(day - plan.hatch_day, random)
            return replace(plan, loss=Loss(day, cause))
    return never_hatches(plan, random=random) if never else plan


def never_hatches(plan: Plan, *, random: Random) -> Plan:
    """The same nest with eggs that are kept warm past their time and never hatch."""
    loss = Loss(plan.hatch_day + random.randint(6, 16), "did not hatch")
    return replace(plan, hatching=(), young_losses=(), leaves_early=0, loss=loss)


def _draw_cause(age_days: int, random: Random) -> Cause:
    """To what a nest is lost; `age_days` of the young, below 1 while there are eggs."""
    causes = dict(_EGG_CAUSES if age_days < 1 else _YOUNG_CAUSES)
    if age_days > _OLDEST_TAKEN_OVER_DAYS:
        del causes["taken over"]
    if age_days > _OLDEST_CHILLED_DAYS:
        del causes["cold or wet"]
    return random.choices(list(causes), list(causes.values()))[0]


def _draw_clutch(bird: Biology, random: Random) -> int:
    low, high = bird.clutch
    if random.random() < 0.1:
        least, most = bird.clutch_limits
        return random.choice((max(least, low - 1), min(most, high + 1)))
    return random.randint(low, high)


def _draw_hatching(young: int, *, bird: Biology, random: Random) -> tuple[int, ...]:
    """How many hatch on the first day, the next, and the one after."""
    if young == 1 or (not bird.sits_early and random.random() < 0.6):
        return (young,)
    if not bird.sits_early or young < 4:
        late = random.randint(1, young // 2)
        return (young - late, late)
    late = random.randint(1, young // 3)
    latest = random.randint(0, young // 4)
    return (young - late - latest, late, latest)
