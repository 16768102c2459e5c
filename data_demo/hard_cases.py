"""Seasons in a box that are hard to read from visits, each with a name.

A case is a function that makes up the season of a box. The nests it is about carry its
name as their label; cases that lie in how people visit label every nest of the box.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from random import Random
from types import MappingProxyType

from data_demo.biology import BIOLOGY, Biology
from data_demo.chance import begin, go_on, season_by_chance
from data_demo.nest import Inside, Loss, Plan
from data_demo.plans import befall, day_in, never_hatches
from data_demo.story import BoxStory

SECOND_BROOD = "second brood in the same nest"
TAKEN_OVER = "taken over"
TWO_CLUTCHES_IN_A_GAP = "two clutches in a gap"
PARTLY_HATCHED = "partly hatched"
ABANDONED_COLD = "abandoned cold clutch"
NEVER_HATCHED = "warm but never hatched"
DUMP_LAYING = "dump-laying"
EGG_COUNT_FALLS = "egg count falls"
MATERIAL_ONLY = "material only"
STICK_NEST = "extra stick nest"
MISSED_WEEKS = "missed weeks"
ADULT_SITTING = "adult sitting, no count"
CORRECTIONS = "corrections"
TWO_VISITS_A_DAY = "two visits on one day"
MOUSE = "mouse"
WASPS = "wasps"
OUT_OF_SERVICE = "out of service"
NEVER_VISITED = "never visited"
SAME_CUP = "laid again in the same cup"
THEN_ANOTHER_SPECIES = "failed, then another species"

FATE_IS_MADE = frozenset(
    {
        SECOND_BROOD,
        TAKEN_OVER,
        PARTLY_HATCHED,
        ABANDONED_COLD,
        NEVER_HATCHED,
        DUMP_LAYING,
        EGG_COUNT_FALLS,
        ADULT_SITTING,
        CORRECTIONS,
        TWO_VISITS_A_DAY,
        SAME_CUP,
        THEN_ANOTHER_SPECIES,
    }
)
"""The cases whose nests end as the case needs it; in the others chance has its say."""


def _breeds_twice(bird: Biology) -> bool:
    return bird.again >= 0.4


def _begins_early(bird: Biology) -> bool:
    return bird.first_egg <= (5, 15)


def _last_egg_day(plan: Plan) -> int:
    return plan.first_egg_day + plan.laying[-1]


def _with_luck_after(story: BoxStory, plan: Plan, *, day: int) -> Plan:
    """A nest that lives on a day, and has the luck of any other after it.

    What befalls it empties the box, so that another clutch can follow.
    """
    # Drawn apart: what befalls this nest leaves the boxes after it as they are.
    random = Random(f"{story.box}/{plan.start_day}")
    loss = befall(plan, random=random).loss
    while loss is not None and loss.day <= day:
        loss = befall(plan, random=random).loss
    return plan if loss is None else replace(plan, loss=Loss(loss.day, "predator"))


def _second_brood(story: BoxStory) -> None:
    bird = story.pick(_breeds_twice)
    plan = story.first_nest(bird, label=SECOND_BROOD)
    story.live(plan)
    start_day = plan.end_day + story.random.randint(4, 8)
    second = story.next_nest(bird, start_day=start_day, building_days=1, label=SECOND_BROOD)
    go_on(story, story.live(second))


def _taken_over(story: BoxStory) -> None:
    victim = story.pick(lambda bird: bird.species != "house sparrow" and _begins_early(bird))
    plan = story.first_nest(victim, label=TAKEN_OVER)
    day = story.random.randint(plan.first_egg_day + 2, plan.hatch_day + 2)
    taker = story.pick_taker(species=victim.species, day=day) or BIOLOGY["house sparrow"]
    story.live(replace(plan, loss=Loss(day, "taken over")))
    go_on(story, story.live(story.taker_nest(taker, day=day, label=TAKEN_OVER)))


def _two_clutches_in_a_gap(story: BoxStory) -> None:
    """Eggs at one visit and eggs at the next, with a whole nest's end in between."""
    bird = story.pick(_breeds_twice)
    plan = story.first_nest(bird, label=TWO_CLUTCHES_IN_A_GAP)
    left = _last_egg_day(plan) + story.random.randint(0, 4)
    plan = _with_luck_after(story, plan, day=left)
    story.live(plan)
    start_day = plan.end_day + story.random.randint(4, 9)
    second = story.next_nest(
        bird, start_day=start_day, building_days=2, label=TWO_CLUTCHES_IN_A_GAP
    )
    back = _last_egg_day(second) + story.random.randint(0, 5)
    story.absent.append((left + 1, back - 1))
    story.extra_visits |= {left, back}
    go_on(story, story.live(_with_luck_after(story, second, day=back)))


def _partly_hatched(story: BoxStory) -> None:
    bird = story.pick()
    clutch = story.random.randint(max(4, bird.clutch[0]), bird.clutch[1])
    unhatched = story.random.randint(2, clutch - 2)
    go_on(
        story,
        story.live(
            story.first_nest(
                bird, clutch=clutch, eggs_lost=0, unhatched=unhatched, label=PARTLY_HATCHED
            )
        ),
    )


def _abandoned_cold(story: BoxStory) -> None:
    plan = story.first_nest(story.pick(), label=ABANDONED_COLD)
    day = story.random.randint(_last_egg_day(plan), plan.hatch_day - 2)
    life = story.live(replace(plan, loss=Loss(day, "abandoned")))
    if life is not None:
        story.clean_after(life, wait_days=42, chance=0.3)


def _never_hatched(story: BoxStory) -> None:
    plan = story.first_nest(story.pick(), eggs_lost=0, label=NEVER_HATCHED)
    go_on(story, story.live(never_hatches(plan, random=story.random)))


def _dump_laying(story: BoxStory) -> None:
    """Another female adds eggs on days when the owner lays too."""
    bird = story.pick()
    clutch = bird.clutch[1]
    plan = story.first_nest(bird, clutch=clutch, eggs_lost=0, unhatched=0, label=DUMP_LAYING)
    added = bird.clutch_limits[1] - clutch + story.random.randint(1, 3)
    # The owner covers about her own clutch; the rest stays unhatched.
    twice = sorted(story.random.choices(plan.laying[1:], k=added))
    plan = replace(plan, laying=tuple(sorted([*plan.laying, *twice])))
    if story.random.random() < 0.4:
        day = story.random.randint(_last_egg_day(plan) + 1, plan.hatch_day - 3)
        plan = replace(plan, loss=Loss(day, "abandoned"))
    go_on(story, story.live(plan))


def _egg_count_falls(story: BoxStory) -> None:
    bird = story.pick()
    eggs_lost = story.random.randint(1, 2)
    plan = story.first_nest(bird, clutch=bird.clutch[1], eggs_lost=eggs_lost, label=EGG_COUNT_FALLS)
    go_on(story, story.live(plan))


def _material_only(story: BoxStory) -> None:
    plan = story.first_nest(story.pick(), label=MATERIAL_ONLY)
    story.live(replace(plan, laying=()))


def _stick_nest(story: BoxStory) -> None:
    plan = story.first_nest(BIOLOGY["house wren"], label=STICK_NEST)
    story.live(replace(plan, laying=()))


def _missed_weeks(story: BoxStory) -> None:
    story.label = MISSED_WEEKS
    plan = story.first_nest(story.pick())
    first_day = story.random.randint(plan.first_egg_day - 7, plan.end_day)
    story.absent.append((first_day, first_day + story.random.randint(15, 24)))
    begin(story, plan)


def _of_visiting(label: str) -> Callable[[BoxStory], None]:
    """A case that lies in how people look and write, not in the nest."""

    def any_nest(story: BoxStory) -> None:
        story.label = label
        go_on(story, story.live(story.first_nest(story.pick())))

    return any_nest


def _mouse(story: BoxStory) -> None:
    """A mouse until spring or for the whole season; birds may follow it."""
    leaves = story.first_day + story.random.randint(35, 60)
    mouse = Inside(nest=story.random.choice(("loose material", "shaped cup")), marks=("mouse",))
    if story.random.random() < 0.5:
        story.fill(mouse, from_day=story.first_day)
        return
    out = next((day for day in story.visit_days() if day >= leaves), None)
    story.fill(mouse, from_day=story.first_day, to_day=out)
    if out is not None:
        story.deeds[out] = "cleaned"
        bird = story.pick(lambda bird: bird.first_egg >= (5, 1))
        start_day = max(out + 3, day_in(story.season, bird.first_egg) - 8)
        go_on(story, story.live(story.next_nest(bird, start_day=start_day, building_days=8)))


def _wasps(story: BoxStory) -> None:
    comes = day_in(story.season, (5, 20)) + story.random.randint(0, 40)
    story.fill(Inside(marks=("wasps",)), from_day=comes)


def _out_of_service(story: BoxStory) -> None:
    shut = day_in(story.season, (4, 1)) + story.random.randint(0, 20)
    story.extra_visits.add(shut)
    story.deeds[shut] = "closed"
    story.absent.append((shut + 1, story.until))


def _never_visited(story: BoxStory) -> None:
    story.label = NEVER_VISITED
    story.absent.append((story.first_day, story.until))
    season_by_chance(story)


def _same_cup(story: BoxStory) -> None:
    bird = story.pick(lambda bird: bird.last_start >= (6, 20))
    plan = story.first_nest(bird, label=SAME_CUP)
    day = story.random.randint(_last_egg_day(plan), plan.hatch_day + 4)
    lost = replace(plan, loss=Loss(day, "predator"))
    story.live(lost)
    start_day = day + story.random.randint(5, 11)
    go_on(
        story,
        story.live(story.next_nest(bird, start_day=start_day, building_days=1, label=SAME_CUP)),
    )


def _then_another_species(story: BoxStory) -> None:
    first = story.pick(_begins_early)
    plan = story.first_nest(first, label=THEN_ANOTHER_SPECIES)
    day = story.random.randint(plan.first_egg_day + 2, plan.hatch_day + 6)
    story.live(replace(plan, loss=Loss(day, "predator")))
    bird = story.pick(lambda bird: bird.species != first.species and bird.last_start >= (6, 20))
    building_days = story.random.randint(*bird.building_days)
    arrives = day_in(story.season, bird.first_egg) - building_days
    start_day = max(day + story.random.randint(4, 10), arrives)
    second = story.next_nest(
        bird, start_day=start_day, building_days=building_days, label=THEN_ANOTHER_SPECIES
    )
    go_on(story, story.live(second))


HARD_CASES: Mapping[str, Callable[[BoxStory], None]] = MappingProxyType(
    {
        SECOND_BROOD: _second_brood,
        TAKEN_OVER: _taken_over,
        TWO_CLUTCHES_IN_A_GAP: _two_clutches_in_a_gap,
        PARTLY_HATCHED: _partly_hatched,
        ABANDONED_COLD: _abandoned_cold,
        NEVER_HATCHED: _never_hatched,
        DUMP_LAYING: _dump_laying,
        EGG_COUNT_FALLS: _egg_count_falls,
        MATERIAL_ONLY: _material_only,
        STICK_NEST: _stick_nest,
        MISSED_WEEKS: _missed_weeks,
        ADULT_SITTING: _of_visiting(ADULT_SITTING),
        CORRECTIONS: _of_visiting(CORRECTIONS),
        TWO_VISITS_A_DAY: _of_visiting(TWO_VISITS_A_DAY),
        MOUSE: _mouse,
        WASPS: _wasps,
        OUT_OF_SERVICE: _out_of_service,
        NEVER_VISITED: _never_visited,
        SAME_CUP: _same_cup,
        THEN_ANOTHER_SPECIES: _then_another_species,
    }
)
"""Every hard case by its name."""
