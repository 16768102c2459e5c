"""Which visits may be used for the public, and the finished nests that follow from these alone.

Filter first, then compute: what must not get out is taken away before anything is read
or counted. So whatever is made from the result is the same as if the rest did not exist.

A month is published whole: if nests appeared one by one, the day of appearance would give away
the end of each. "Unused" is not published, since what is left over would be in use. A public
`ETag` is a hash of the body, because the trail's version also rises when a hidden box is
visited. A season for all gives young in tens: an exact sum could be compared with the numbers
of single squares.
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
"""How closely a species is protected."""


@dataclass(frozen=True)
class PublishedNest:
    """A finished nest past its delay: an attempt of the histories that were read for it."""

    histories: Histories
    attempt: int
    protection: int


def published_until(on: date, *, delay_days: int) -> date:
    """The last day of the latest month that ended `delay_days` or more before a day.

    Nests are published a month at a time: published one by one, the day on which one appears
    would give away the day it ended. The day itself, which still goes on, ends no month.
    """
    day_after = on - timedelta(days=max(delay_days, 1) - 1)
    return day_after.replace(day=1) - timedelta(days=1)


def use_known_until(on: date) -> date:
    """The last Sunday before a day: what was known then decides which boxes count as in use.

    Not the day itself: a number that rises while somebody walks the trail would show
    which cell they are in.
    """
    return on - timedelta(days=on.isoweekday())


def published_nests(
    histories: Histories, *, boxes: Iterable[str], rules: PublicRules, until: date
) -> list[PublishedNest]:
    """Attempts in some boxes that were over on a day by what was known then.

    An attempt that was not, or whose species is withheld, goes with all of its visits.
    Nests of a coarse species go too before the others are read, so that these show nothing
    of them.
    """
    visits = visits_up_to(histories.visits, boxes=boxes, until=until)
    both = _filtered(histories, visits, rules=rules, until=until, max_protection=COARSE)
    free = both
    if rules.coarse_species:
        free = _filtered(histories, both.visits, rules=rules, until=until, max_protection=FREE)
    coarse = np.flatnonzero(protection_of(both, rules) == COARSE)
    return [
        *(PublishedNest(free, attempt, FREE) for attempt in range(len(free))),
        *(PublishedNest(both, int(attempt), COARSE) for attempt in coarse),
    ]


def _filtered(
    histories: Histories, visits: Visits, *, rules: PublicRules, until: date, max_protection: int
) -> Histories:
    """Visits read without attempts not over or protected too closely, until nothing more goes."""
    while True:
        read = read_histories(visits, histories.guide, season_starts=histories.season_starts)
        goes = (read.fates(until) == c.ONGOING) | (protection_of(read, rules) > max_protection)
        if not goes.any():
            return read
        # The last entry serves visits that belong to no attempt.
        visits = read.visits.take(~np.append(goes, False)[read.visit_attempt])


def boxes_in_use(
    histories: Histories, *, boxes: Iterable[str], rules: PublicRules, on: date
) -> frozenset[tuple[str, int]]:
    """Boxes with an attempt not published yet, as known on the last Sunday, and its protection."""
    until = day_number(published_until(on, delay_days=rules.delay_days))
    visits = visits_up_to(histories.visits, boxes=boxes, until=use_known_until(on))
    read = read_histories(visits, histories.guide, season_starts=histories.season_starts)
    protection = protection_of(read, rules)
    # A nest found over since then is not published yet, though it may have ended before.
    chosen = np.flatnonzero((read.known_over > until) & (protection != WITHHELD))
    return frozenset(
        (read.visits.boxes[code], int(how))
        for code, how in zip(read.rows[chosen, c.BOX], protection[chosen], strict=True)
    )


def visits_up_to(visits: Visits, *, boxes: Iterable[str], until: date) -> Visits:
    """Visits to some boxes, made up to a day."""
    wanted = set(boxes)
    chosen = np.array([box in wanted for box in visits.boxes], np.bool_)
    return visits.take(chosen[visits.box] & (visits.day <= day_number(until)))


def protection_of(histories: Histories, rules: PublicRules) -> NDArray[np.int8]:
    """How closely the species of each attempt is protected.

    The strictest of all that its visits name: a slip of the pen must not set a nest free.
    Where none is named, or by a name that the guide does not have, it may be the most
    closely protected that the rules know.
    """
    guide, visits = histories.guide, histories.visits
    listed = ((rules.coarse_species, COARSE), (rules.withheld_species, WITHHELD))
    by_name = {_key(name, guide): how for names, how in listed for name in names}
    strictest = max(by_name.values(), default=FREE)
    # The last entry serves code -1, "not recorded".
    by_code = np.array(
        [
            *(
                by_name.get(_key(name, guide), strictest if known(name, guide) is None else FREE)
                for name in visits.species_names
            ),
            strictest,
        ],
        np.int8,
    )
    protection = by_code[histories.rows[:, c.SPECIES]]
    named = (histories.visit_attempt >= 0) & (visits.species >= 0)
    np.maximum.at(protection, histories.visit_attempt[named], by_code[visits.species[named]])
    return protection


def known(name: str | None, guide: Guide) -> str | None:
    """The common name of a species of the guide; None = it has none of that name.

    Whatever else was written down as a species is free text, which is never published.
    """
    species = None if name is None else guide.get(name)
    return None if species is None or species is guide.unknown else species.common


def _key(name: str, guide: Guide) -> str:
    return folded(known(name, guide) or name)
