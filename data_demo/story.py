"""The true story of one box through one season: a diary with one entry a day."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from random import Random

from data_demo.biology import BIOLOGY, Biology
from data_demo.nest import EMPTY, Inside, Life, Plan, TrueAttempt, live
from data_demo.plans import day_in, draw_first_egg, draw_plan

SEASON_OPENS = (3, 1)
"""Month and day with which a box's story begins; no bird has settled by then."""

# Days a keeper waits before she takes eggs for deserted and cleans them out.
_EGGS_LEFT_WAIT_DAYS = 21

# A bird that throws others out may come, and lay, this long before its kind usually lays.
_TAKER_COMES_DAYS_BEFORE = 22
_TAKER_LAYS_DAYS_BEFORE = 12


class BoxStory:
    """A box whose season is being made up, from spring on.

    Attributes
    ----------
    rounds
        Days on which a visit is planned, ascending.
    species_mix
        How often each species takes a box here; weights, any total.
    days
        What is inside, one entry per day from `first_day` to `until`.
    deeds
        What the keeper does at a visit, by day, in the words of `actions`.
    truth
        The attempts so far, in order.
    shaped
        What is made of each nest drawn, before anything befalls it.
    absent
        Spans of days, first and last, without a visit.
    extra_visits
        Days of visits besides the rounds.
    label
        Given to nests that are not themselves a hard case.
    """

    def __init__(
        self,
        box: str,
        *,
        season: int,
        until: int,
        rounds: Sequence[int],
        species_mix: Mapping[str, float],
        random: Random,
        shaped: Callable[[Plan], Plan] = lambda plan: plan,
    ) -> None:
        self.box = box
        self.season = season
        self.until = until
        self.rounds = rounds
        self.species_mix = species_mix
        self.random = random
        self.shaped = shaped
        self.first_day = day_in(season, SEASON_OPENS)
        self.days = [EMPTY] * (until - self.first_day + 1)
        self.deeds: dict[int, str] = {}
        self.truth: list[TrueAttempt] = []
        self.absent: list[tuple[int, int]] = []
        self.extra_visits: set[int] = set()
        self.label = "plain"

    # The diary

    def visit_days(self) -> list[int]:
        """Days of visits, ascending."""
        return sorted(
            day
            for day in {*self.rounds, *self.extra_visits}
            if day <= self.until and not any(a <= day <= b for a, b in self.absent)
        )

    def inside(self, day: int) -> Inside:
        """What is inside on a day."""
        return self.days[day - self.first_day]

    def fill(self, inside: Inside, *, from_day: int, to_day: int | None = None) -> None:
        """Say what is inside from a day on, up to the season's end or another day."""
        start = max(0, from_day - self.first_day)
        stop = len(self.days) if to_day is None else to_day - self.first_day + 1
        self.days[start:stop] = [inside] * (min(stop, len(self.days)) - start)

    # Who comes

    def pick(self, fit: Callable[[Biology], bool] = lambda bird: True) -> Biology:
        """A species of this place that fits, or any that fits if the place has none."""
        weights = {name: w for name, w in self.species_mix.items() if fit(BIOLOGY[name])}
        if not weights:
            weights = {name: 1.0 for name, bird in BIOLOGY.items() if fit(bird)}
        return BIOLOGY[self.random.choices(list(weights), list(weights.values()))[0]]

    def pick_taker(self, *, species: str, day: int) -> Biology | None:
        """A bird that may throw a pair of `species` out on a day; None if none is about."""
        about = [
            BIOLOGY[name]
            for name in self.species_mix
            if name != species
            and BIOLOGY[name].takes_over
            and day_in(self.season, BIOLOGY[name].first_egg) - _TAKER_COMES_DAYS_BEFORE <= day
            and day <= day_in(self.season, BIOLOGY[name].last_start) - 8
        ]
        return self.random.choice(about) if about else None

    # What happens

    def first_nest(
        self,
        bird: Biology,
        *,
        clutch: int | None = None,
        eggs_lost: int | None = None,
        unhatched: int | None = None,
        label: str | None = None,
    ) -> Plan:
        """The season's first nest here. With a label of its own it begins no later than
        is usual, so that more can follow.
        """
        usual = day_in(self.season, bird.first_egg)
        drawn = draw_first_egg(bird, season=self.season, random=self.random)
        plan = draw_plan(
            bird,
            first_egg_day=drawn if label is None else min(usual, drawn),
            building_days=self.random.randint(*bird.building_days),
            random=self.random,
            clutch=clutch,
            eggs_lost=eggs_lost,
            unhatched=unhatched,
            label=self.label if label is None else label,
        )
        return self.shaped(plan)

    def next_nest(
        self, bird: Biology, *, start_day: int, building_days: int, label: str | None = None
    ) -> Plan:
        """A nest begun on a day after another has ended."""
        plan = draw_plan(
            bird,
            first_egg_day=start_day + building_days,
            building_days=building_days,
            random=self.random,
            label=self.label if label is None else label,
        )
        return self.shaped(plan)

    def taker_nest(self, taker: Biology, *, day: int, label: str | None = None) -> Plan:
        """A nest begun by the bird that threw others out on a day."""
        not_before = day_in(self.season, taker.first_egg) - _TAKER_LAYS_DAYS_BEFORE
        building_days = max(self.random.randint(3, 8), not_before - day)
        return self.next_nest(taker, start_day=day, building_days=building_days, label=label)

    def live(self, plan: Plan) -> Life | None:
        """Let a nest happen; None where the season is over before it begins."""
        if plan.start_day > self.until:
            return None
        life = live(
            plan,
            box=self.box,
            season=self.season,
            until=self.until,
            found=self.inside(plan.start_day),
            random=self.random,
        )
        self.truth.append(life.truth)
        start = plan.start_day - self.first_day
        self.days[start : start + len(life.days)] = life.days
        self.fill(life.remains, from_day=plan.start_day + len(life.days))
        if life.truth.cause == "nest removed":
            self.deeds[plan.end_day] = "nest removed"
        return life

    def clean_after(
        self, life: Life, *, before: int | None = None, wait_days: int = 0, chance: float = 0.5
    ) -> bool:
        """Whether the keeper cleans the box out at a visit after a nest's end.

        Parameters
        ----------
        before
            The day on which the next birds settle; None if none do.
        chance
            That she does so at any one visit.
        """
        if life.truth.end_day is None or life.truth.cause == "nest removed":
            return False
        if life.remains.eggs and life.truth.fate == "failed":
            wait_days = max(wait_days, _EGGS_LEFT_WAIT_DAYS)
        for day in self.visit_days():
            if day <= life.truth.end_day + wait_days:
                continue
            if before is not None and day >= before:
                break
            if self.random.random() < chance:
                self.deeds[day] = "cleaned"
                self.fill(EMPTY, from_day=day + 1)
                return True
        return False
