"""Read one box's visits from first to last, and list the attempts in them.

A state machine over the records of `observations.py`, compiled. At each visit it asks
whether what is inside can be the attempt under way, and whether that attempt is
over. Where a single visit does not decide, it looks at the visits that follow
(`following.py`): a count that falls and rises again is a new
clutch, another species written once is a slip of the pen.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled
from layers.nesting.reading.apply_visit import apply_visit, found_over, see_mistaken, take_out
from layers.nesting.reading.fates import (
    AGE_ERROR_DAYS,
    end_building,
    end_eggs,
    end_young,
    lapse,
    latest_hatch,
    limit,
)
from layers.nesting.reading.following import (
    RELAY_DAYS,
    comes_alive,
    hatches_too_late,
    next_species,
    rises_again,
    young_by_mistake,
)

# What is known of the box itself between two visits.
(
    N,  # attempts so far; the last is under way while OPEN
    OPEN,
    BARE,  # 1: known to hold no old nest
    OLD_NEST,  # how much of an old nest there is, as a position in words.NEST
    NO_EGG_DAY,  # last day on which no egg was in the box
    N_STATE,
) = range(6)

# Eggs not looked at for so long, and overdue, are another clutch: longer than any small
# bird sits, and shorter than the time from one clutch to the next (common practice, no source).
OTHER_CLUTCH_GAP_DAYS = 21
# After young have left, parents linger; a sitting adult counts for a new nest only after this
# (common practice, no source).
LINGER_DAYS = 10
# Eggs or a brood thought lost or gone that is seen alive within this time is the same one.
SAME_BROOD_DAYS = 14


@compiled
def _begin(rows: Any, state: Any, box: int, visit: int, v: Any, species: int, no_egg: int) -> None:
    """Open a new attempt at a visit."""
    row = rows[state[N]]
    for k in range(len(row)):
        row[k] = c.MISSING
    row[c.BOX], row[c.SEASON] = box, v.season
    row[c.SPECIES], row[c.SPECIES_SEEN] = species, 1 if species >= 0 else 0
    row[c.FIRST], row[c.ALIVE], row[c.OVER] = visit, visit, -1
    row[c.FIRST_DAY], row[c.ALIVE_DAY] = v.day, v.day
    row[c.PHASE], row[c.LAID] = c.BUILDING, 0
    row[c.NOTES] = c.NOTE_ON_OLD_NEST if state[N] > 0 and state[BARE] == 0 else 0
    row[c.STABLE], row[c.COLD_RUN], row[c.DEAD] = 0, 0, 0
    row[c.AGES], row[c.AGED_HATCH] = 0, 0
    row[c.FATE], row[c.CAUSE], row[c.WHY] = c.ONGOING, c.NO_CAUSE, c.WHY_ONGOING
    row[c.NO_EGG_DAY] = no_egg
    state[N] += 1
    state[OPEN] = 1


@compiled
def _too_late_for(row: Any, limits: Any, v: Any) -> bool:
    """Whether young of this age on this day must be another brood."""
    if v.day - row[c.ALIVE_DAY] < limit(limits, row, c.INCUBATION_LEAST):
        # None can have been laid and hatched since: a count or an age is wrong.
        return False
    hatched = row[c.HATCH_HI] if row[c.PHASE] == c.YOUNG else latest_hatch(row, limits)
    if v.day > hatched + limit(limits, row, c.NESTLING_MOST) + 3:
        return True
    return v.age >= 0 and v.day - v.age - AGE_ERROR_DAYS > hatched + 5


@compiled
def _brood_goes_on(seen: Any, limits: Any, row: Any, at: int, hi: int) -> bool:
    """Whether the brood under way is seen again after a visit, before new eggs could hatch."""
    least = limit(limits, row, c.INCUBATION_LEAST)
    for j in range(at + 1, hi):
        if seen[j].day - seen[at].day >= least or seen[j].no_young or seen[j].emptied:
            return False
        if seen[j].young > 0:
            return not _too_late_for(row, limits, seen[j])
    return False


@compiled
def _newcomer_possible(limits: Any, v: Any, days: int) -> bool:
    """Whether the visit's species could have come this far in so many days from nothing."""
    if v.young > 0:
        return days >= limits[v.species + 1, c.INCUBATION_LEAST] + RELAY_DAYS
    return days >= (max(v.eggs, 1) - 1) * limits[v.species + 1, c.LAY_DAYS] + 2


@compiled
def _new_season(rows: Any, state: Any, limits: Any, v: Any) -> None:
    """An attempt of an earlier season that cannot last so long is over, seen or not."""
    row = rows[state[N] - 1]
    lapse(row, limits)
    if v.day > row[c.LAPSES]:
        row[c.FATE], row[c.WHY] = row[c.LATER_FATE], row[c.LATER_WHY]
        state[OPEN], state[BARE], state[OLD_NEST] = 0, 1, c.NEST_NONE
        state[NO_EGG_DAY] = c.MISSING


@compiled
def _other_species(
    rows: Any, state: Any, seen: Any, limits: Any, box: int, i: int, hi: int
) -> None:
    """Take a visit's species into the attempt: the same, a slip, or a takeover."""
    row, v = rows[state[N] - 1], seen[i]
    known, phase = row[c.SPECIES], row[c.PHASE]
    if known < 0 or known == v.species:
        row[c.SPECIES] = v.species
        row[c.SPECIES_SEEN] += 1
        return
    follows = next_species(seen, i, hi)
    goes_on = (phase == c.EGGS and (v.eggs > 0 or v.young > 0 or v.sitting)) or (
        phase == c.YOUNG and v.young > 0
    )
    # As many eggs as before are the same ones.
    same = phase == c.EGGS and v.eggs > 0 and v.eggs == row[c.EGGS_LAST]
    if (follows == known and (goes_on or phase == c.BUILDING)) or (same and follows < 0):
        row[c.NOTES] |= c.NOTE_OTHER_NAME
        return
    same = same and row[c.SPECIES_SEEN] <= 1
    if same or (goes_on and not _newcomer_possible(limits, v, v.day - row[c.ALIVE_DAY])):
        # The same eggs or young, under a better name where it was named but once.
        if row[c.SPECIES_SEEN] <= 1 or follows == v.species:
            row[c.SPECIES], row[c.SPECIES_SEEN] = v.species, 1
        row[c.NOTES] |= c.NOTE_OTHER_NAME
        return
    if phase == c.BUILDING:
        end_building(row, 0)
    else:
        if phase == c.EGGS:
            end_eggs(row, limits, v.day, v.signs, True)
        else:
            end_young(row, limits, v.day, v.signs, v.dead)
        if row[c.FATE] != c.FATE_FLEDGED:
            row[c.FATE], row[c.CAUSE], row[c.WHY] = c.FATE_FAILED, c.TAKEN_OVER, c.WHY_TAKEN
            row[c.FLEDGED] = 0
    found_over(row, i, v.day)
    _begin(rows, state, box, i, v, v.species, row[c.ALIVE_DAY])


@compiled
def _alive_after_all(row: Any, limits: Any, seen: Any, i: int) -> bool:
    """Whether eggs or young in a box thought done are those of the attempt thought over."""
    v, over = seen[i], row[c.OVER]
    if v.young <= 0 and v.eggs <= row[c.EGGS_LEFT]:
        return v.warm and row[c.CAUSE] == c.ABANDONED
    if v.young <= 0 and row[c.PHASE] == c.EGGS:
        # One look without eggs, and before a new clutch of so many can have been laid.
        new = RELAY_DAYS + (v.eggs - 1) * limit(limits, row, c.LAY_DAYS)
        missed = over == i - 1 and seen[over].eggs == 0 and row[c.LAID] == 1
        return missed and v.eggs <= row[c.EGGS_MAX] and v.day - row[c.ALIVE_DAY] < new
    return (
        v.young > 0
        and row[c.PHASE] == c.YOUNG
        and v.day - row[c.OVER_DAY] <= SAME_BROOD_DAYS
        and not _too_late_for(row, limits, v)
    )


@compiled
def _late_signs(row: Any, limits: Any, v: Any) -> None:
    """Signs of leaving, written down only on a visit after the one that found the nest empty."""
    undecided = row[c.WHY] == c.WHY_UNDECIDED and row[c.PHASE] == c.YOUNG
    if undecided and v.day - row[c.OVER_DAY] <= SAME_BROOD_DAYS:
        end_young(row, limits, row[c.OVER_DAY], v.signs, 0)
        row[c.NOTES] |= c.NOTE_LATE_SIGNS


@compiled
def _when_idle(rows: Any, state: Any, seen: Any, limits: Any, box: int, i: int, hi: int) -> None:
    """No attempt is under way: does one begin, does one go on, or is it what one left?"""
    v = seen[i]
    after = state[N] > 0 and state[BARE] == 0
    last = rows[max(state[N] - 1, 0)]
    # A visit that found it gone may be wrong; one that took it out is not.
    gone = state[N] > 0 and not seen[max(last[c.OVER], 0)].emptied and last[c.OVER] >= 0
    begins = False
    if after and v.eggs <= 0 and v.young <= 0 and v.signs & c.SIGNS_LEFT:
        _late_signs(last, limits, v)
    if v.eggs > 0 or v.young > 0:
        if gone and v.season == last[c.SEASON] and _alive_after_all(last, limits, seen, i):
            last[c.FATE], last[c.CAUSE], last[c.WHY] = c.ONGOING, c.NO_CAUSE, c.WHY_ONGOING
            last[c.OVER], last[c.OVER_DAY], last[c.FLEDGED] = -1, c.MISSING, c.MISSING
            last[c.NOTES] |= c.NOTE_REOPENED
            state[OPEN] = 1
            return
        # One more than was left, and cold, is a slip in counting.
        slip = 1 if v.cold and last[c.EGGS_LEFT] > 2 else 0
        left = after and v.young <= 0 and v.eggs <= last[c.EGGS_LEFT] + slip
        begins = not left or (v.warm and v.eggs < last[c.EGGS_LEFT])
        if after and last[c.PHASE] == c.YOUNG and last[c.EGGS_LEFT] < 0 and v.young <= 0:
            # What a brood left unhatched, where it was not counted.
            unhatched = last[c.EGGS_MAX] - last[c.YOUNG_MAX]
            left_over = v.eggs <= unhatched and not v.warm and not rises_again(seen, i, hi)
            begins = begins and not left_over
    elif v.sitting or v.feeding:
        lingering = after and v.day - last[c.OVER_DAY] <= LINGER_DAYS
        begins = not (v.no_eggs or lingering or (after and v.feeding))
    elif v.nest > c.NEST_NONE and not v.animal:
        other = v.species >= 0 and last[c.SPECIES] >= 0 and v.species != last[c.SPECIES]
        fresh = c.NEST_NONE < state[OLD_NEST] < v.nest and v.signs & c.SIGNS_LEFT == 0
        begins = state[BARE] == 1 or (after and not v.emptied and (fresh or other))
        state[OLD_NEST] = max(state[OLD_NEST], v.nest)
    if begins:
        _begin(rows, state, box, i, v, v.species, state[NO_EGG_DAY])


@compiled
def _other_clutch(rows: Any, state: Any, seen: Any, limits: Any, box: int, i: int, hi: int) -> None:
    """Close the attempt, and begin another, where the eggs or young cannot be its own."""
    row, v = rows[state[N] - 1], seen[i]
    gap = v.day - max(row[c.ALIVE_DAY], row[c.EGGS_DAY])
    another, relaid = False, False
    if v.eggs <= 0 and v.young <= 0:
        # A parent sits where all young of before must have left.
        left_by = row[c.HATCH_HI] + limit(limits, row, c.NESTLING_MOST)
        another = v.sitting and not v.no_eggs and row[c.PHASE] == c.YOUNG and v.day > left_by
    elif v.young > 0:
        another = _too_late_for(row, limits, v)
    elif row[c.PHASE] == c.YOUNG:
        # Eggs, and no young where there were young: left over, or new?
        left = row[c.EGGS_LEFT]
        unhatched = left if left >= 0 else max(row[c.EGGS_MAX] - row[c.YOUNG_MAX], 0)
        fresh = v.eggs > unhatched or v.warm or rises_again(seen, i, hi)
        old = v.day - row[c.HATCH_LO] >= limit(limits, row, c.NESTLING_TOO_YOUNG)
        gone = v.young == 0 or (old and (left == 0 or v.eggs > unhatched))
        another = gone and fresh and not v.emptied and not _brood_goes_on(seen, limits, row, i, hi)
    elif gap >= OTHER_CLUTCH_GAP_DAYS and v.day > latest_hatch(row, limits) + 5:
        # As many eggs as before, and no sign of life: still the old ones.
        # Fewer, with signs of leaving or thrown out: what a brood left unhatched.
        left_over = v.eggs < row[c.EGGS_LAST] and (v.emptied or v.signs & c.SIGNS_LEFT != 0)
        differs = v.eggs != row[c.EGGS_LAST] and not left_over
        another = differs or comes_alive(seen, i, hi)
    else:
        fewer = row[c.EGGS_LAST] - v.eggs
        fell = fewer > 0 and (fewer > 1 or row[c.STABLE] == 1) and rises_again(seen, i, hi)
        relaid = gap >= (v.eggs - 1) * limit(limits, row, c.LAY_DAYS) + RELAY_DAYS and (
            fell or hatches_too_late(seen, limits, row, i, hi)
        )
    if not (another or relaid):
        return
    if row[c.PHASE] == c.YOUNG:
        end_young(row, limits, v.day, v.signs, v.dead)
    elif relaid:
        end_eggs(row, limits, v.day, v.signs, True)
        row[c.WHY] = c.WHY_RELAID
    else:
        row[c.FATE], row[c.CAUSE], row[c.WHY] = c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_GAP
    found_over(row, i, v.day)
    name = v.species
    if name < 0 and (relaid or row[c.SPECIES] < 0):
        # The eggs that become more are those of the bird named beside them.
        name = next_species(seen, i, hi)
    name = name if name >= 0 else row[c.SPECIES]
    _begin(rows, state, box, i, v, name, max(row[c.ALIVE_DAY], state[NO_EGG_DAY]))


@compiled
def read_box(
    box: int, lo: int, hi: int, seen: Any, limits: Any, rows: Any, attempt: Any, stage: Any
) -> int:
    """How many attempts visits `lo` to `hi` of one box show.

    Fills `rows` (from row 0 on; columns as in `attempt_columns`), and for each
    visit the row of its attempt (-1 none) and the stage it was found in (-1 none).
    """
    state = np.zeros(N_STATE, np.int64)
    state[BARE], state[OLD_NEST], state[NO_EGG_DAY] = 1, c.NEST_NONE, c.MISSING
    for i in range(lo, hi):
        v = seen[i]
        attempt[i], stage[i] = -1, -1
        if state[OPEN] and v.season != seen[i - 1].season:
            _new_season(rows, state, limits, v)
        inside = v.eggs > 0 or v.young > 0 or v.nest > c.NEST_NONE or v.sitting
        if state[OPEN] and v.species >= 0 and inside:
            _other_species(rows, state, seen, limits, box, i, hi)
        if not state[OPEN]:
            _when_idle(rows, state, seen, limits, box, i, hi)
        mistaken = state[OPEN] == 1 and young_by_mistake(seen, limits, rows[state[N] - 1], i, hi)
        if state[OPEN] and not mistaken and rows[state[N] - 1][c.PHASE] >= c.EGGS:
            _other_clutch(rows, state, seen, limits, box, i, hi)

        if state[OPEN]:
            row = rows[state[N] - 1]
            attempt[i] = state[N] - 1
            stage[i] = see_mistaken(row, v, i) if mistaken else apply_visit(row, limits, v, i)
            ended = stage[i] == c.STAGE_OVER
            if v.emptied and not ended:
                take_out(row, limits, v)
                ended = True
            state[BARE] = 0
            state[OLD_NEST] = max(state[OLD_NEST], v.nest)
            if ended:
                found_over(row, i, v.day)
                state[OPEN] = 0
                if row[c.LAID] == 0 and row[c.PHASE] == c.EGGS and state[OLD_NEST] == c.NEST_NONE:
                    # An adult sat in the box, no more: a roost, not a nest.
                    state[N] -= 1
                    for j in range(row[c.FIRST], i + 1):
                        attempt[j], stage[j] = -1, -1
                if v.nest > c.NEST_NONE:
                    state[OLD_NEST] = v.nest
        elif state[N] > 0 and not state[BARE]:
            stage[i] = c.STAGE_OVER
        if not state[OPEN]:
            if v.nest == c.NEST_NONE or v.emptied:
                state[BARE], state[OLD_NEST] = 1, c.NEST_NONE
            if v.no_eggs:
                state[NO_EGG_DAY] = v.day
    for k in range(state[N]):
        lapse(rows[k], limits)
    return state[N]


@compiled
def read_all(starts: Any, seen: Any, limits: Any, rows: Any, attempt: Any, stage: Any) -> int:
    """`read_box` for every box; `starts` says where each box's visits begin.

    Returns how many rows were filled; `attempt` then holds rows of all boxes.
    """
    total = 0
    for box in range(len(starts) - 1):
        lo, hi = starts[box], starts[box + 1]
        if lo == hi:
            continue
        found = read_box(box, lo, hi, seen, limits, rows[total:], attempt, stage)
        for i in range(lo, hi):
            if attempt[i] >= 0:
                attempt[i] += total
        total += found
    return total
