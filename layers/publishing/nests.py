"""Which visits may be told of, and the nests that they alone tell.

Filter first, then compute: what must not get out is taken away before anything is read
or counted. So whatever is made from the result is the same as if the rest did not exist.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.guide import Guide
from layers.nesting.guide.book import folded
from layers.nesting.histories import Histories, read_histories
from layers.trail.coding import day_number
from layers.trail.public_rules import PublicRules
from layers.trail.visits import Visits

FREE, COARSE, WITHHELD = range(3)
"""How closely a species is guarded."""


@dataclass(frozen=True)
class ToldNest:
    """One attempt that may be told: its position in the histories that tell it, and its guard."""

    histories: Histories
    attempt: int
    guard: int


def told_until(on: date, *, delay_days: int) -> date:
    """The last day of the latest month that ended `delay_days` or more before a day.

    Nests are told a month at a time: told one by one, the day on which one appears would
    give away the day it ended. So the day itself, which still goes on, ends no month.
    """
    day_after = on - timedelta(days=max(delay_days, 1) - 1)
    return day_after.replace(day=1) - timedelta(days=1)


def seen_until(on: date) -> date:
    """The last Sunday before a day: up to then it is told which boxes are in use.

    Not the day itself: a number that rises while somebody walks the trail would tell
    which cell they are in.
    """
    return on - timedelta(days=on.isoweekday())


def told(
    histories: Histories, *, boxes: Iterable[str], rules: PublicRules, until: date
) -> list[ToldNest]:
    """What may be told of some boxes: attempts that were over on a day by what was known then.

    An attempt that was not, or whose species is withheld, goes with all of its visits.
    Nests of a coarse species go too before the others are read, so that these tell nothing
    of them.
    """
    visits = made_by(histories.visits, boxes=boxes, until=until)
    all_told = _cut_down(histories, visits, rules=rules, until=until, most=COARSE)
    free = all_told
    if rules.coarse_species:
        free = _cut_down(histories, all_told.visits, rules=rules, until=until, most=FREE)
    coarse = np.flatnonzero(guards(all_told, rules) == COARSE)
    return [
        *(ToldNest(free, attempt, FREE) for attempt in range(len(free))),
        *(ToldNest(all_told, int(attempt), COARSE) for attempt in coarse),
    ]


def _cut_down(
    histories: Histories, visits: Visits, *, rules: PublicRules, until: date, most: int
) -> Histories:
    """Visits read, but for attempts not over or guarded too closely; until nothing more goes."""
    while True:
        read = read_histories(visits, histories.guide, season_starts=histories.season_starts)
        goes = (read.fates(until) == c.ONGOING) | (guards(read, rules) > most)
        if not goes.any():
            return read
        # The last entry serves visits that belong to no attempt.
        visits = read.visits.take(~np.append(goes, False)[read.visit_attempt])


def in_use(
    histories: Histories, *, boxes: Iterable[str], rules: PublicRules, on: date
) -> frozenset[tuple[str, int]]:
    """Boxes with an attempt not told yet, as known on the last Sunday, and how it is guarded."""
    until = day_number(told_until(on, delay_days=rules.delay_days))
    visits = made_by(histories.visits, boxes=boxes, until=seen_until(on))
    read = read_histories(visits, histories.guide, season_starts=histories.season_starts)
    guard = guards(read, rules)
    # A nest found over since then is not told yet, though it may have ended before.
    chosen = np.flatnonzero((read.known_over > until) & (guard != WITHHELD))
    return frozenset(
        (read.visits.boxes[code], int(how))
        for code, how in zip(read.rows[chosen, c.BOX], guard[chosen], strict=True)
    )


def made_by(visits: Visits, *, boxes: Iterable[str], until: date) -> Visits:
    """Visits to some boxes, made up to a day."""
    wanted = set(boxes)
    chosen = np.array([box in wanted for box in visits.boxes], np.bool_)
    return visits.take(chosen[visits.box] & (visits.day <= day_number(until)))


def guards(histories: Histories, rules: PublicRules) -> NDArray[np.int8]:
    """How closely the species of each attempt is guarded.

    The strictest of all that its visits name: a slip of the pen must not set a nest free.
    Where nobody named one, or by a name that the guide does not have, it may be the most
    closely guarded that the rules know.
    """
    guide, visits = histories.guide, histories.visits
    listed = ((rules.coarse_species, COARSE), (rules.withheld_species, WITHHELD))
    guard_of = {_key(name, guide): how for names, how in listed for name in names}
    strictest = max(guard_of.values(), default=FREE)
    # The last entry serves code -1, "not recorded".
    of_code = np.array(
        [
            *(
                guard_of.get(_key(name, guide), strictest if known(name, guide) is None else FREE)
                for name in visits.species_names
            ),
            strictest,
        ],
        np.int8,
    )
    guard = of_code[histories.rows[:, c.SPECIES]]
    named = (histories.visit_attempt >= 0) & (visits.species >= 0)
    np.maximum.at(guard, histories.visit_attempt[named], of_code[visits.species[named]])
    return guard


def known(name: str | None, guide: Guide) -> str | None:
    """The common name of a species of the guide; None = it has none of that name.

    Whatever else somebody wrote down as a species is free text, which is not told.
    """
    species = None if name is None else guide.get(name)
    return None if species is None or species is guide.unknown else species.common


def _key(name: str, guide: Guide) -> str:
    return folded(known(name, guide) or name)
