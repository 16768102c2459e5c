"""One nest, day by day: what lies in the box and what became of it.

Days are whole numbers, days since 1970-01-01. A visit on a day sees what `Inside`
says for it; on the day a nest ends a visit sees the remains.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Literal

Doing = Literal["nothing", "building", "laying", "incubating", "feeding"]
Fate = Literal["fledged", "failed", "never laid", "ongoing at season end"]
Cause = Literal[
    "predator",
    "taken over",
    "abandoned",
    "did not hatch",
    "young died",
    "cold or wet",
    "insects",
    "nest removed",
]

NEST_GROWS = ("none", "loose material", "shaped cup", "lined cup")

# Days that a dead nestling can still be distinguished from nest lining; invented.
_DEAD_SEEN_DAYS = 6

# Days that what is left of an earlier nest still shows among new material; invented.
_MARKS_SEEN_DAYS = 6


@dataclass(frozen=True, slots=True)
class Inside:
    """What a person who opens the box on one day can see.

    `doing` is what the adults are at; `marks` are signs, in the words of a visit.
    """

    species: str | None = None
    nest: str = "none"
    eggs: int = 0
    warm: bool = False
    young: int = 0
    age_days: int = 0
    dead_young: int = 0
    doing: Doing = "nothing"
    marks: tuple[str, ...] = ()


EMPTY = Inside()


@dataclass(frozen=True, slots=True)
class Loss:
    """The day on which a whole nest is lost, and to what."""

    day: int
    cause: Cause


@dataclass(frozen=True, slots=True)
class Plan:
    """All that will happen in one nest.

    Attributes
    ----------
    building_days
        From `start_day` to the first egg, or to giving up where no egg is laid.
    laying
        Days after the first egg on which each egg is laid, ascending; may repeat where
        two females lay. Empty: never laid.
    egg_losses
        Days after the first egg on which one egg vanishes.
    sitting_offset
        Days after the first egg from which the eggs are kept warm.
    hatching
        How many hatch on the hatch day, the day after, and so on. Empty: none ever.
    young_losses
        Age on which one young dies, and whether it stays in the nest.
    leaves_early
        Young that leave a day before the last ones.
    loss
        None where some young will leave.
    """

    species: str
    start_day: int
    building_days: int
    laying: tuple[int, ...] = ()
    egg_losses: tuple[int, ...] = ()
    sitting_offset: int = 0
    incubation_days: int = 0
    hatching: tuple[int, ...] = ()
    nestling_days: int = 0
    young_losses: tuple[tuple[int, bool], ...] = ()
    leaves_early: int = 0
    loss: Loss | None = None
    label: str = "plain"

    @property
    def first_egg_day(self) -> int:
        return self.start_day + self.building_days

    @property
    def hatch_day(self) -> int:
        """When the first egg hatches, or would have."""
        return self.first_egg_day + self.laying[-1] + self.incubation_days

    @property
    def end_day(self) -> int:
        if self.loss is not None:
            return self.loss.day
        if not self.laying:
            return self.first_egg_day
        return self.hatch_day + self.nestling_days

    def eggs_on(self, day: int) -> int:
        """Eggs in the nest on a day before hatching."""
        offset = day - self.first_egg_day
        laid = sum(at <= offset for at in self.laying)
        return laid - sum(at <= offset for at in self.egg_losses)


@dataclass(frozen=True, slots=True)
class TrueAttempt:
    """What truly happened in one nest.

    Attributes
    ----------
    start_day
        First material, or first day in a cup that was there.
    first_egg_day, incubation_day, hatch_day
        None where it never came to that, or not yet by the season's last day.
    clutch, hatched, fledged
        Eggs laid, hatched, young that left; counted up to the season's last day.
    end_day
        The day the last young left, the nest was lost, or building stopped; on it a
        visit sees the remains (where the keeper removed the nest, the nest itself).
        None while ongoing.
    cause
        Why it failed; None unless failed.
    label
        The hard case it was made for, or "plain".
    """

    box: str
    season: int
    species: str
    label: str
    start_day: int
    laid: bool
    first_egg_day: int | None
    clutch: int
    incubation_day: int | None
    hatch_day: int | None
    hatched: int
    end_day: int | None
    fate: Fate
    cause: Cause | None
    fledged: int


@dataclass(frozen=True, slots=True)
class Life:
    """A nest lived through: one `Inside` per day from `start_day`, then the remains."""

    days: tuple[Inside, ...]
    remains: Inside
    truth: TrueAttempt


def live(plan: Plan, *, box: str, season: int, until: int, found: Inside, random: Random) -> Life:
    """The nest of a plan, day by day, up to its end or to the day `until`.

    Parameters
    ----------
    found
        What the pair found in the box.
    """
    removed = plan.loss is not None and plan.loss.cause == "nest removed"
    ongoing = plan.end_day > until
    last_day = min(plan.end_day - 1 + removed, until)
    days = [_inside(plan, day, found) for day in range(plan.start_day, last_day + 1)]
    laid = sum(plan.first_egg_day + at <= last_day for at in plan.laying)
    sitting = plan.first_egg_day + plan.sitting_offset if laid else None
    hatched = _hatched(plan, last_day) if laid else 0
    failed = plan.loss is not None
    left = days[-1].young + plan.leaves_early if plan.laying and not failed else 0
    fate: Fate = "failed" if failed else "fledged" if plan.laying else "never laid"
    truth = TrueAttempt(
        box=box,
        season=season,
        species=plan.species,
        label=plan.label,
        start_day=plan.start_day,
        laid=laid > 0,
        first_egg_day=plan.first_egg_day if laid else None,
        clutch=laid,
        incubation_day=sitting if sitting is not None and sitting <= last_day else None,
        hatch_day=plan.hatch_day if hatched else None,
        hatched=hatched,
        end_day=None if ongoing else plan.end_day,
        fate="ongoing at season end" if ongoing else fate,
        cause=plan.loss.cause if plan.loss is not None and not ongoing else None,
        fledged=0 if ongoing else left,
    )
    return Life(tuple(days), _remains(plan, days[-1], random), truth)


def _hatched(plan: Plan, day: int) -> int:
    return sum(plan.hatching[: max(0, day - plan.hatch_day + 1)])


def _inside(plan: Plan, day: int, found: Inside) -> Inside:
    if day < plan.first_egg_day:
        built_days = day - plan.start_day + 1
        done = built_days / plan.building_days
        grown = 1 + (done > 0.35) + (done > 0.7)
        if found.species == plan.species:
            grown = max(grown, NEST_GROWS.index(found.nest))
        elif not plan.laying:
            grown = min(grown, 2)
        marks = found.marks if built_days <= _MARKS_SEEN_DAYS else ()
        return Inside(plan.species, NEST_GROWS[grown], doing="building", marks=marks)
    if day < plan.hatch_day or not plan.hatching:
        sits = day >= plan.first_egg_day + plan.sitting_offset
        return Inside(
            plan.species,
            "lined cup",
            eggs=plan.eggs_on(day),
            warm=sits,
            doing="incubating" if sits else "laying",
        )
    age = day - plan.hatch_day
    hatched = _hatched(plan, day)
    lost = [(at, stays) for at, stays in plan.young_losses if at <= age]
    gone = plan.leaves_early if age >= plan.nestling_days - 1 else 0
    return Inside(
        plan.species,
        "lined cup",
        eggs=plan.eggs_on(day) - hatched,
        warm=age < 2,
        young=hatched - len(lost) - gone,
        age_days=age,
        dead_young=sum(stays and age - at < _DEAD_SEEN_DAYS for at, stays in lost),
        doing="feeding",
    )


def _remains(plan: Plan, last: Inside, random: Random) -> Inside:
    """What is left in the box once the nest is over."""
    bare = replace(last, warm=False, young=0, age_days=0, doing="nothing", marks=())
    if not plan.laying:
        return bare
    if plan.loss is None:
        marks = _some(random, {"flattened": 0.8, "droppings": 0.6})
        return replace(bare, marks=marks)
    cause = plan.loss.cause
    if cause == "nest removed":
        return EMPTY
    if cause == "taken over":
        marks = _some(random, {"broken eggs": 0.4, "feathers": 0.15, "dead adult": 0.12})
        return replace(bare, eggs=0, dead_young=0, marks=marks)
    if cause == "predator":
        return _after_predator(bare, last, random)
    if cause in ("abandoned", "did not hatch"):
        return bare
    marks = ()
    if cause == "insects":
        marks = ("ants",)
    elif cause == "cold or wet":
        marks = _some(random, {"wet": 0.7, "cold": 0.3}) or ("cold",)
    carried_off = random.random() < 0.15 and last.young > 1
    return replace(bare, dead_young=last.dead_young + last.young - carried_off, marks=marks)


def _after_predator(bare: Inside, last: Inside, random: Random) -> Inside:
    """An emptied nest: about two in five without a sign, as after a snake."""
    clean = random.random() < 0.4
    signs = {"nest torn": 0.5, "feathers": 0.3, "hair": 0.3}
    if last.eggs:
        signs = {"broken eggs": 0.6} | signs
    marks = () if clean else _some(random, signs)
    left = 1 if last.eggs > 1 and random.random() < 0.05 else 0
    torn = "nest torn" in marks
    return replace(
        bare, nest="loose material" if torn else bare.nest, eggs=left, dead_young=0, marks=marks
    )


def _some(random: Random, chances: dict[str, float]) -> tuple[str, ...]:
    return tuple(word for word, chance in chances.items() if random.random() < chance)
