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


def release_day(on: date) -> date:
    """The first day of a day's month: what is published changes on that day alone."""
    return on.replace(day=1)


def published_until(on: date, *, delay_days: int) -> date:
    """The last day of the latest month that ended `delay_days` or more before a day's release.

    Nests are published a month at a time: published one by one, the day on which one appears
    would give away the day it ended.
    """
    day_after = release_day(on) - timedelta(days=max(delay_days, 1) - 1)
    return day_after.replace(day=1) - timedelta(days=1)


def use_known_until(on: date) -> date:
    """The day before a day's release: what was known then decides which boxes are in use."""
    return release_day(on) - timedelta(days=1)


def published_nests(
    histories: Histories, *, boxes: Iterable[str], rules: PublicRules, until: date
) -> Histories:
    """Attempts in some boxes that were over on a day by what was known then, and no others.

    An attempt that was not, or whose species is withheld, goes with all of its visits,
    until nothing more goes.
    """
    visits = visits_up_to(histories.visits, boxes=boxes, until=until)
    # The trail's own periods rest on hidden boxes too.
    guide = histories.guide.with_own({})
    while True:
        read = read_histories(visits, guide, season_starts=histories.season_starts)
        goes = (read.fates(until) == c.ONGOING) | withheld_attempts(read, rules)
        if not goes.any():
            return read
        # The last entry serves visits that belong to no attempt.
        visits = read.visits.take(~np.append(goes, False)[read.visit_attempt])


def boxes_in_use(
    histories: Histories, *, boxes: Iterable[str], rules: PublicRules, on: date
) -> frozenset[str]:
    """Boxes with an attempt not published yet, as known on the day before a day's release."""
    until = day_number(published_until(on, delay_days=rules.delay_days))
    visits = visits_up_to(histories.visits, boxes=boxes, until=use_known_until(on))
    read = read_histories(visits, histories.guide, season_starts=histories.season_starts)
    # A nest found over since then is not published yet, though it may have ended before.
    chosen = np.flatnonzero((read.known_over > until) & ~withheld_attempts(read, rules))
    return frozenset(read.visits.boxes[code] for code in read.rows[chosen, c.BOX])


def visits_up_to(visits: Visits, *, boxes: Iterable[str], until: date) -> Visits:
    """Visits to some boxes, made up to a day."""
    wanted = set(boxes)
    chosen = np.array([box in wanted for box in visits.boxes], np.bool_)
    return visits.take(chosen[visits.box] & (visits.day <= day_number(until)))


def withheld_attempts(histories: Histories, rules: PublicRules) -> NDArray[np.bool_]:
    """Whether each attempt is of a species that is withheld, or may be of one.

    One visit that names such a species is enough: a slip of the pen must not set a nest free.
    So is that no visit names any, or only names that the guide does not have.
    """
    guide, visits = histories.guide, histories.visits
    keys = {_key(name, guide) for name in rules.withheld_species}
    # The last entry serves code -1, "not recorded".
    by_code = np.array(
        [
            *(
                _key(name, guide) in keys or (bool(keys) and guide.known_name(name) is None)
                for name in visits.species_names
            ),
            bool(keys),
        ],
        np.bool_,
    )
    withheld: NDArray[np.bool_] = by_code[histories.rows[:, c.SPECIES]]
    named = (histories.visit_attempt >= 0) & (visits.species >= 0)
    np.logical_or.at(withheld, histories.visit_attempt[named], by_code[visits.species[named]])
    return withheld


def _key(name: str, guide: Guide) -> str:
    return folded(guide.known_name(name) or name)
