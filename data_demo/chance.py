"""A season in a box left to chance: nothing is forced, anything may follow."""

from __future__ import annotations

from dataclasses import replace

from data_demo.biology import BIOLOGY
from data_demo.nest import Life, Loss, Plan
from data_demo.plans import befall, day_in
from data_demo.story import BoxStory

# Shares of boxes and nests; invented.
_BOX_TAKEN = 0.88
_GIVEN_UP_BEFORE_EGGS = 0.05
_SPARROW_NEST_REMOVED = 0.5
_LAYS_AGAIN_AFTER_LOSS = 0.5
_OTHER_SPECIES_FOLLOWS = 0.12


def season_by_chance(story: BoxStory) -> None:
    """One nest after another, or none."""
    if story.random.random() < _BOX_TAKEN:
        begin(story, story.first_nest(story.pick()))


def begin(story: BoxStory, plan: Plan) -> None:
    """A nest with the luck of any other, and what follows it."""
    if story.random.random() < _GIVEN_UP_BEFORE_EGGS:
        plan = replace(plan, laying=())
    else:
        plan = _with_luck(story, plan)
    go_on(story, story.live(plan))


def go_on(story: BoxStory, life: Life | None) -> None:
    """What follows a nest for the rest of the season."""
    while life is not None:
        plan = _next_plan(story, life)
        if plan is None:
            story.clean_after(life)
            return
        life = story.live(_with_luck(story, plan))


def _with_luck(story: BoxStory, plan: Plan) -> Plan:
    plan = befall(plan, random=story.random)
    if plan.species == "house sparrow" and story.random.random() < _SPARROW_NEST_REMOVED:
        plan = _removed_at_a_visit(story, plan)
    if plan.loss is not None and plan.loss.cause == "taken over":
        day = plan.loss.day
        if story.pick_taker(species=plan.species, day=day) is None:
            plan = replace(plan, loss=Loss(day, "predator"))
    return plan


def _removed_at_a_visit(story: BoxStory, plan: Plan) -> Plan:
    """The keeper throws the nest out at her first visit once a few eggs are laid."""
    last_day = plan.loss.day - 1 if plan.loss is not None else plan.hatch_day + 5
    for day in story.visit_days():
        if plan.first_egg_day + 2 <= day <= last_day:
            return replace(plan, loss=Loss(day, "nest removed"))
    return plan


def _next_plan(story: BoxStory, life: Life) -> Plan | None:
    """The nest that follows another, or None; the keeper may clean the box in between."""
    truth, random = life.truth, story.random
    if truth.end_day is None or not truth.laid:
        return None
    if truth.cause == "taken over":
        taker = story.pick_taker(species=truth.species, day=truth.end_day)
        assert taker is not None, "a loss to a taker is planned only where one is about"
        return story.taker_nest(taker, day=truth.end_day)
    bird = BIOLOGY[truth.species]
    again = bird.again if truth.fate == "fledged" else _LAYS_AGAIN_AFTER_LOSS
    roll = random.random()
    if roll < again:
        building_days = random.randint(1, 5)
        start_day = truth.end_day + random.randint(6, 14) - building_days
    elif roll < again + _OTHER_SPECIES_FOLLOWS and len(story.species_mix) > 1:
        bird = story.pick(lambda other: other.species != truth.species)
        building_days = random.randint(*bird.building_days)
        arrives = day_in(story.season, bird.first_egg) - building_days
        start_day = max(truth.end_day + random.randint(3, 14), arrives)
    else:
        return None
    if start_day + building_days > day_in(story.season, bird.last_start):
        return None
    cleaned = story.clean_after(life, before=start_day)
    if (life.remains.eggs or life.remains.dead_young) and not cleaned:
        return None
    return story.next_nest(bird, start_day=start_day, building_days=building_days)
