"""The weight of every course that an attempt may have taken, given its visits. Compiled.

A course is: day of the first egg, clutch and laying gaps (`laying.py`), start of
sitting, day of hatching, and the day on which the young left or the nest was lost.
All are weighed and summed; nothing is sampled.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled
from layers.nesting.dating import model as m
from layers.nesting.dating import terms as t
from layers.nesting.dating.laying import weigh_laying
from layers.nesting.dating.looks import (
    NEVER,
    eggs_lay_there,
    hatch_chance,
    later_chance,
    sitting_chance,
)

# Courses whose weight is a smaller share of the likeliest are passed over.
_LEAST_SHARE = 1e-9


@compiled
def chance_before(following: tuple[int, Any], days: tuple[int, int, int], chances: Any) -> Any:
    """Chance, for an end on each day, that the next clutch begins when it did.

    `following` are the first day that the next clutch's first egg may have and the chance
    of each day from it on; empty where no clutch followed. `days` are the first and last of
    the answer, and the last on which the nest was alive. No end is favoured where none
    after that goes with the next clutch.

    Attempts of a box are weighed from the last to the first, and each hands on the chances
    of its first egg. Without this, nests followed by another clutch got a 44 % chance of
    fledging where 98 % fledged (`make bench`).
    """
    origin, latest, alive = days
    first_egg, each = following
    chance = np.ones(latest - origin + 1)
    if len(each) == 0:
        return chance
    falls = math.exp(-1.0 / chances[m.NEXT_MEAN_DAYS])
    for e in range(len(chance)):
        chance[e] = 0.0
        for d in range(len(each)):
            waited = first_egg + d - origin - e - chances[m.NEXT_FROM_DAYS]
            if each[d] > 0.0 and waited >= 0.0:
                chance[e] += each[d] * falls**waited
    if chance[alive + 1 - origin :].sum() == 0.0:
        chance[:] = 1.0
    return chance


@compiled
def weigh_ends(
    visits: Any, frame: Any, days: tuple[int, int, int], tables: Any, weights: tuple[Any, Any]
) -> tuple[float, float]:
    """Weigh each end if the first egg hatches on a day: young leave, or the nest is lost.

    `days` are that of hatching, the last on which the nest was alive, and the last on
    which it can end. `weights` are what `chance_before` gave for each day after the one on
    which it was alive, and the weights to fill: row 0 those of leaving on each of these days,
    row 1 those of a loss. Returns the sum of them all, and of those after hatching.
    """
    hatch, alive, last = days
    before, ends = weights
    over, found = frame[t.F_OVER] != c.MISSING, frame[t.F_FOUND]
    nestling, chances, findings = tables.nestling, tables.chances, tables.findings
    loss = chances[m.DAILY_LOSS]
    every, hatched = 0.0, 0.0
    ends[:] = 0.0
    lives = 1.0  # chance of living from `alive` to the day before `end`
    stays = 1.0  # chance that the young have not left by `end`
    for age in range(min(alive + 1 - hatch, len(nestling))):
        stays -= nestling[age]
    for end in range(alive + 1, last + 1):
        age = end - hatch
        leaves = nestling[age] if 0 <= age < len(nestling) else 0.0
        stays = max(stays - leaves, 0.0)
        if leaves == 0.0 and stays <= 1e-12:
            if age >= len(nestling):
                break
            continue
        if leaves > 0.0:
            chance = (
                lives * leaves * later_chance(visits, hatch, end, chances[m.LEFT_YOUNG], chances)
            )
            if over:
                chance *= findings[found, t.FLEDGED] * before[end - alive - 1]
            ends[0, end - alive - 1] = chance
            every += chance
            hatched += chance
        outcome, left = t.LOST_YOUNG, chances[m.LEFT_YOUNG]
        if end <= hatch:
            outcome, left = t.LOST_EGGS, chances[m.LEFT_EGGS]
        chance = lives * loss * stays * later_chance(visits, hatch, end, left, chances)
        chance *= before[end - alive - 1]
        if over and not (found == t.FOUND_EGGS and eggs_lay_there(visits, end)):
            chance *= findings[found, outcome]
        if found == t.FOUND_REMOVED and end != last:
            chance = 0.0
        ends[1, end - alive - 1] = chance
        every += chance
        if end > hatch:
            hatched += chance
        lives *= 1.0 - loss
    return every, hatched


@compiled
def first_evidence(visits: Any) -> int:
    """First day on which eggs, young or a sitting parent were seen; MISSING if never."""
    for k in range(len(visits)):
        if visits[k]["says"] in (t.SHOWS_EGGS, t.SHOWS_EGGS_LEFT, t.SHOWS_SITTING, t.SHOWS_YOUNG):
            return int(visits[k]["day"])
    return c.MISSING


@compiled
def last_first_egg(visits: Any, first: int) -> int:
    """Last day on which the first egg may be laid, if eggs or young were first seen on a day.

    That count may be a slip, at a box in which nothing had been laid: then the next look with
    eggs or young bounds it. Whoever felt warm eggs, or saw a parent sit, did not mean none.
    Without this, 95 % intervals of the first egg held 93.3 % at a visit every three days, with it
    95.1 % (seeds 5001 and 5002 of `tests/nesting/life.py`).
    """
    for k in range(len(visits)):
        says, day = visits[k]["says"], int(visits[k]["day"])
        if day == first and (says == t.SHOWS_SITTING or visits[k]["warm"] == 1):
            return first
        if day > first and says in (t.SHOWS_EGGS, t.SHOWS_SITTING, t.SHOWS_YOUNG):
            return day
    return first


@compiled
def sure_day(visits: Any) -> int:
    """Last day on which young, a sitting parent or warm eggs were seen; MISSING if never.

    More eggs than before show only that the nest lived when they were laid.
    """
    sure = c.MISSING
    for k in range(len(visits)):
        says = visits[k]["says"]
        warm = says == t.SHOWS_EGGS and visits[k]["warm"] == 1
        if warm or says in (t.SHOWS_YOUNG, t.SHOWS_SITTING):
            sure = max(sure, visits[k]["day"])
    return sure


@compiled
def add_given_up(
    visits: Any,
    days: tuple[int, int, int],
    finding: Any,
    tables: Any,
    weights: tuple[Any, Any],
) -> None:
    """Add the courses in which a clutch was complete and given up before the look that
    found more eggs than the ones before, and lay there then.

    `days` are the first of the axis, that of the look, and the last on which the nest can
    end; `finding` is the chance of what found it over, for a loss as eggs on each day of the
    axis. `weights` are those of laying, with survival up to the day of the look, and those
    to add to.

    More eggs than before show that a nest lived when they were laid, not on the day they
    are counted. Without these courses the 95 % intervals of the day of loss held 90 to 91.5
    %, with them 93.3 to 95.2 % (`make bench`, seeds that were not tuned on).
    """
    origin, looked, latest = days
    laid, post = weights
    chances, spans = tables.chances, tables.spans
    loss = chances[m.DAILY_LOSS]
    sure = sure_day(visits)
    lying = visits.copy()
    for k in range(len(lying)):
        if lying[k]["day"] == looked and lying[k]["says"] == t.SHOWS_EGGS:
            lying[k]["says"] = t.SHOWS_EGGS_LEFT
    low, most = spans[t.INCUBATION_LOW], spans[t.INCUBATION_HIGH]
    sat = np.zeros(most + 1)
    for x in range(min(looked - origin, len(laid) + laid.shape[1] - 1)):
        last_egg = origin + x
        first = max(x - laid.shape[1] + 1, 0)
        clutch = 0.0
        for f in range(first, min(x + 1, len(laid))):
            clutch += laid[f, x - f]
        if clutch == 0.0:
            continue
        for i in range(low, most + 1):
            hatch = last_egg + i
            sat[i] = hatch_chance(lying, hatch, chances)
            sat[i] *= sitting_chance(lying, last_egg, hatch, tables)
        for end in range(max(last_egg, sure) + 1, min(looked, latest) + 1):
            course = 0.0
            for i in range(low, most + 1):
                if sat[i] > 0.0 and end <= last_egg + i:
                    left = later_chance(lying, last_egg + i, end, chances[m.LEFT_EGGS], chances)
                    course += sat[i] * left
            # Survival was counted up to the look; it lasted only until the day before the end.
            course *= finding[end - origin] * loss / (1.0 - loss) ** (looked - end + 1)
            post[t.FAILURE, end - origin] += clutch * course
            post[t.COMPLETE, x] += clutch * course
            for f in range(first, min(x + 1, len(laid))):
                post[t.FIRST_EGG, f] += laid[f, x - f] * course


@compiled
def add_large(ends: Any, weight: float, days: tuple[int, int], post: Any) -> None:
    """Add to each day the weight of the courses that have living young of the closing age.

    `days` are the day on which young reach that age, and the last on which the nest was
    alive, both from the first of the axis; `ends` as `weigh_ends` fills it.
    """
    closes, alive = days
    tail = 0.0
    for e in range(ends.shape[1] - 1, -1, -1):
        tail += ends[0, e] + ends[1, e]
        if alive + e >= closes:
            post[t.LARGE_YOUNG, alive + e] += weight * tail
    for day in range(closes, alive):
        post[t.LARGE_YOUNG, day] += weight * tail


@compiled
def own_tables(tables: Any, species: int) -> Any:
    """The tables of one species."""
    return t.Tables(
        tables.spans[species],
        tables.clutch[species],
        tables.interval[species],
        tables.incubation[species],
        tables.nestling[species],
        tables.sitting[species],
        tables.chances,
        tables.findings,
    )


@compiled
def weigh(visits: Any, frame: Any, all_tables: Any, following: tuple[int, Any]) -> Any:
    """First day of the axis, weights of each dated day, and sums over all courses.

    `following` is when the first egg of the next clutch in the box was; see `chance_before`.

    The weights have a row each for FIRST_EGG ... STAYED and a column a day; those of
    FLEDGE and FAILURE are weights of that outcome and day together.
    """
    tables = own_tables(all_tables, frame[t.F_SPECIES])
    spans, chances = tables.spans, tables.chances
    first = first_evidence(visits)
    if first == c.MISSING:
        return 0, np.zeros((t.N_ROWS, 1)), np.zeros(t.N_SUMS)
    over = frame[t.F_OVER] != c.MISSING
    alive = max(frame[t.F_ALIVE], first)
    if over:
        # What was taken out alive, or seen alive and over on one day, lived the day before.
        alive = min(alive, frame[t.F_OVER] - 1)
    sat_low, sat_most = spans[t.INCUBATION_LOW], spans[t.INCUBATION_HIGH]
    laying, stay_most = spans[t.LAYING_MOST], spans[t.NESTLING_HIGH]
    origin = first - laying - sat_most - stay_most
    if frame[t.F_NO_EGG] != c.MISSING:
        # A clutch laid before a visit that missed it was complete and hatched soon after.
        origin = max(origin, frame[t.F_NO_EGG] - laying - sat_most)
    if frame[t.F_NO_EGG_BEFORE] != c.MISSING:
        origin = max(origin, frame[t.F_NO_EGG_BEFORE] + 1)
    n_first = max(min(last_first_egg(visits, first), alive), first) - origin + 1
    if n_first < 1:
        return 0, np.zeros((t.N_ROWS, 1)), np.zeros(t.N_SUMS)

    # laid[f, d]: first egg on day f and last egg d days later; complete[x]: last egg on day x.
    laid = np.zeros((n_first, laying + 1))
    weigh_laying(visits, origin, frame[t.F_NO_EGG], tables, laid)
    complete = np.zeros(n_first + laying)
    for f in range(n_first):
        survives = (1.0 - chances[m.DAILY_LOSS]) ** max(alive - origin - f, 0)
        for d in range(laying + 1):
            laid[f, d] *= survives
            complete[f + d] += laid[f, d]
    least = complete.max() * _LEAST_SHARE

    # courses[x, i]: what else there is to say of a last egg on day x that hatches i days after
    # the shortest incubation, but for the end; hatches[h]: hatching on day h, however laid.
    courses = np.zeros((len(complete), sat_most - sat_low + 1))
    hatches = np.zeros(len(complete) + sat_most)
    never = np.zeros(len(complete))
    seen = np.zeros(len(hatches))
    for h in range(len(hatches)):
        seen[h] = (1.0 - chances[m.NEVER_HATCHES]) * hatch_chance(visits, origin + h, chances)
    young = False
    for k in range(len(visits)):
        young |= visits[k]["says"] == t.SHOWS_YOUNG
    for x in range(len(complete)):
        if complete[x] <= least:
            continue
        for i in range(courses.shape[1]):
            h = x + sat_low + i
            courses[x, i] = sitting_chance(visits, origin + x, origin + h, tables) * seen[h]
            hatches[h] += complete[x] * courses[x, i]
        if not young:
            never[x] = chances[m.NEVER_HATCHES] * sitting_chance(visits, origin + x, NEVER, tables)
    least = hatches.max() * _LEAST_SHARE

    latest = frame[t.F_OVER] if over else origin + len(hatches) + stay_most
    post = np.zeros((t.N_ROWS, max(latest - origin + 1, len(hatches))))
    sums = np.zeros(t.N_SUMS)
    before = chance_before(following, (origin, latest, alive), chances)
    ends = np.zeros((2, max(latest - alive, 0)))
    ended, hatched = np.zeros(len(hatches)), np.zeros(len(hatches))
    for h in range(len(hatches)):
        if hatches[h] <= least:
            continue
        last = min(latest, origin + h + stay_most)
        weights = (before[alive + 1 - origin :], ends)
        days = (origin + h, alive, last)
        ended[h], hatched[h] = weigh_ends(visits, frame, days, tables, weights)
        post[t.HATCH, h] = hatches[h] * hatched[h]
        for e in range(last - alive):
            post[t.FLEDGE, alive + 1 + e - origin] += hatches[h] * ends[0, e]
            if ends[0, e] > 0.0:
                post[t.STAYED, alive + 1 + e - origin - h] += hatches[h] * ends[0, e]
            post[t.FAILURE, alive + 1 + e - origin] += hatches[h] * ends[1, e]
        add_large(ends, hatches[h], (h + spans[t.CLOSES_AT], alive - origin), post)

    # A clutch that never hatches stays there until it is found to be over. Nothing shows when
    # it was given up; what the keeper took out, it was that day.
    since = latest - 1 if frame[t.F_FOUND] == t.FOUND_REMOVED else alive
    given_up = before[since + 1 - origin :] / max(latest - since, 1)
    still_there = later_chance(visits, NEVER, alive + 1 if over else NEVER, 1.0, chances)
    if over:
        still_there *= tables.findings[frame[t.F_FOUND], t.NEVER_HATCHED] * given_up.sum()
    unhatched = 0.0
    for x in range(len(complete)):
        course = never[x] * still_there
        unhatched += complete[x] * course
        for i in range(courses.shape[1]):
            h = x + sat_low + i
            course += courses[x, i] * ended[h]
            post[t.SAT, sat_low + i] += complete[x] * courses[x, i] * hatched[h]
        post[t.COMPLETE, x] = complete[x] * course
        for f in range(max(x - laying, 0), min(x, n_first - 1) + 1):
            post[t.FIRST_EGG, f] += laid[f, x - f] * course
    if over:
        for k in range(len(given_up)):
            post[t.FAILURE, since + 1 + k - origin] += unhatched * given_up[k] / given_up.sum()
    if sure_day(visits) < alive and frame[t.F_FOUND] != t.FOUND_REMOVED:
        finding = before
        if over and frame[t.F_FOUND] != t.FOUND_EGGS:
            finding = before * tables.findings[frame[t.F_FOUND], t.LOST_EGGS]
        add_given_up(visits, (origin, alive, latest), finding, tables, (laid, post))
    sums[t.TOTAL] = post[t.FIRST_EGG].sum()
    sums[t.HATCHED] = post[t.HATCH].sum()
    sums[t.FLEDGED_SUM] = post[t.FLEDGE].sum()
    return origin, post, sums
