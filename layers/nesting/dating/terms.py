"""Codes and columns that the compiled dating works with."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

# What a visit says of an attempt
(
    SHOWS_NOTHING,
    SHOWS_EGGS,  # eggs and no young, in a nest that was alive then
    SHOWS_EGGS_LEFT,  # eggs that were not seen alive again: cold now, or given up
    SHOWS_SITTING,  # a parent on the nest; nothing counted
    SHOWS_YOUNG,  # living young, or a parent feeding them
    SHOWS_EGGS_LATE,  # eggs and no young, after a visit that saw young
    SHOWS_NO_EGG,  # no egg, between visits that saw eggs
    SHOWS_NEAR,  # from outside: a parent near the box
    SHOWS_QUIET,  # from outside: no parent seen
) = range(9)

# What the visit that found the attempt over found
(
    FOUND_EMPTY,  # no sign either way
    FOUND_LEFT,  # signs of leaving
    FOUND_LOSS,  # signs of a loss
    FOUND_DEAD,  # as many dead young as were last counted alive
    FOUND_SOME_DEAD,  # fewer
    FOUND_EGGS,  # eggs
    FOUND_AGAIN,  # another clutch of the same species
    FOUND_OTHERS,  # another species
    FOUND_REMOVED,  # the keeper took it out, alive
    N_FOUND,
) = range(10)

# How a nest can come out; a column each of `Model.finding`, and last: the visit is wrong, and
# the nest goes on
FLEDGED, LOST_YOUNG, LOST_EGGS, NEVER_HATCHED, GOES_ON, N_OUTCOMES = range(6)

# The days that are dated; a row each of a posterior
FIRST_EGG, COMPLETE, HATCH, FLEDGE, FAILURE, N_EVENTS = range(6)

# More rows: that living young of the closing age or older are in the nest on a day; and, the
# column being a number of days, that it hatched so long after the last egg, that the young
# left so long after hatching
LARGE_YOUNG, SAT, STAYED, N_ROWS = range(N_EVENTS, N_EVENTS + 4)

# Columns of an attempt's frame
(
    F_SPECIES,  # code of the species + 1
    F_NO_EGG,  # last day without an egg, MISSING if none is known; that visit may be wrong
    F_NO_EGG_BEFORE,  # the last such day before it, which is taken for sure
    F_ALIVE,  # last day on which it was alive
    F_OVER,  # day on which it was found over, MISSING if none
    F_FOUND,
    F_FOLLOWED,  # 1 if the next attempt here is the clutch by which it was found over
    F_UNCONFIRMED,  # 1 without a look inside after the visit that found it over
    N_FRAME,
) = range(9)

# Columns of a species' spans
(
    CLUTCH_LOW,
    CLUTCH_HIGH,
    INTERVAL_LOW,
    INTERVAL_HIGH,
    INCUBATION_LOW,
    INCUBATION_HIGH,
    NESTLING_LOW,
    NESTLING_HIGH,
    LAYING_MOST,  # most days from the first egg to the last
    CLOSES_AT,  # age of the young from which the box stays closed; huge where it need not
    N_SPANS,
) = range(11)

EARLIEST_SITTING = -3
"""Sitting begins this many days after the last egg at the earliest; see `Tables.sitting`."""

USUAL_SITTING = -1
"""Published incubation periods count from the last egg; sitting that begins earlier than this
many days after it moves hatching forward by as many days."""

# Sums that come with a posterior
TOTAL, HATCHED, FLEDGED_SUM, N_SUMS = range(4)


class Tables(NamedTuple):
    """What is expected of nests and of those who look into them.

    The first six have a row each species code + 1 (row 0 = species not recorded), or are
    such a row.

    Attributes
    ----------
    spans
        Whole numbers; columns as above.
    clutch, interval, incubation, nestling
        Chance of each number: column = eggs, or days. `interval` is without gaps.
    sitting
        Chance that sitting begins `EARLIEST_SITTING` + column days after the last egg.
    chances, findings
        The observation model; places as in `model`.
    """

    spans: NDArray[np.int64]
    clutch: NDArray[np.float64]
    interval: NDArray[np.float64]
    incubation: NDArray[np.float64]
    nestling: NDArray[np.float64]
    sitting: NDArray[np.float64]
    chances: NDArray[np.float64]
    findings: NDArray[np.float64]
