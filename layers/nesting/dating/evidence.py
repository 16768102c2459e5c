"""What the visits of each attempt say about its days: vectorised, before any weighing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.histories import Histories
from layers.trail.words import ADULT

EVIDENCE = np.dtype(
    [
        ("day", np.int32),  # days since 1970-01-01
        ("says", np.int8),  # terms.SHOWS_...
        ("eggs", np.int16),  # -1 not recorded; so with the others
        ("young", np.int16),
        ("age", np.int16),
        ("warm", np.int8),  # 1 warm or sat on, 0 cold
    ]
)
"""One record a visit that belongs to an attempt."""

_SIGNS_OF_LOSS = c.SIGNS_RAIDED | c.SIGNS_PERHAPS_RAIDED | c.SIGNS_WEATHER | c.SIGNS_INSECTS
_AGAIN = (c.WHY_GAP, c.WHY_RELAID)
_OTHERS = (c.WHY_TAKEN,)


@dataclass(frozen=True)
class Evidence:
    """The visits of attempts, as evidence.

    Attributes
    ----------
    visits
        Records of type `EVIDENCE`, sorted by attempt and time.
    positions
        Position of each in `Histories.visits`.
    starts
        Attempt i's records are `visits[starts[i]:starts[i + 1]]`.
    frames
        One row an attempt of what holds for it as a whole; columns as in `terms`. An
        attempt that `F_FOLLOWED` marks has the clutch that followed it in the next row.
    """

    visits: NDArray[Any]
    positions: NDArray[np.int64]
    starts: NDArray[np.int64]
    frames: NDArray[np.int64]


def evidence_of(histories: Histories, attempts: range | None = None) -> Evidence:
    """The evidence for some attempts next to each other in `histories`; None = for all."""
    chosen = range(len(histories)) if attempts is None else attempts
    lo, hi = chosen.start, chosen.stop
    own = histories.rows[lo:hi]
    of_boxes = _visits_of_boxes(histories, own)
    among = histories.visit_attempt[of_boxes]
    positions = of_boxes.start + np.flatnonzero((among >= lo) & (among < hi))
    attempt = histories.visit_attempt[positions] - lo
    seen = histories.observations[positions]
    alive = _last_alive(own, seen, attempt, positions)
    visits: NDArray[Any] = np.zeros(len(positions), EVIDENCE)
    visits["day"] = seen["day"]
    visits["eggs"] = seen["eggs"]
    visits["young"] = seen["young"]
    visits["age"] = seen["age"]
    visits["warm"] = np.where(seen["warm"], 1, np.where(seen["cold"], 0, -1))
    visits["says"] = _says(
        own[attempt],
        seen,
        histories.visits.adult[positions],
        alive=positions <= alive[attempt],
        over=positions == own[attempt, c.OVER],
    )
    frames = np.empty((hi - lo, t.N_FRAME), np.int64)
    frames[:, t.F_SPECIES] = own[:, c.SPECIES] + 1
    frames[:, t.F_NO_EGG] = own[:, c.NO_EGG_DAY]
    frames[:, t.F_NO_EGG_BEFORE] = _no_egg_before(histories, own, of_boxes)
    frames[:, t.F_ALIVE] = histories.visits.day[alive]
    frames[:, t.F_OVER] = own[:, c.OVER_DAY]
    frames[:, t.F_FOUND] = _found(histories, own)
    frames[:, t.F_FOLLOWED] = followed(own)
    frames[:, t.F_UNCONFIRMED] = _unconfirmed(histories, own, of_boxes)
    starts = np.searchsorted(attempt, np.arange(hi - lo + 1)).astype(np.int64)
    return Evidence(visits, positions, starts, frames)


def followed(rows: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Which attempts, of rows next to each other, were found over by the clutch in the next row."""
    by_next = np.isin(rows[:, c.WHY], _AGAIN + _OTHERS) & (rows[:, c.OVER] >= 0)
    by_next[:-1] &= rows[1:, c.BOX] == rows[:-1, c.BOX]
    by_next[-1:] = False
    return by_next


def _visits_of_boxes(histories: Histories, own: NDArray[np.int32]) -> slice:
    """The visits to the boxes of attempts next to each other: both are sorted by box."""
    if len(own) == 0:
        return slice(0, 0)
    begin, end = histories.visit_starts[[own[0, c.BOX], own[-1, c.BOX] + 1]].tolist()
    return slice(begin, end)


def _no_egg_before(
    histories: Histories, own: NDArray[np.int32], of_boxes: slice
) -> NDArray[np.int64]:
    """For each attempt the last day before `NO_EGG_DAY` on which a visit recorded no egg."""
    alone = np.full(len(own), c.MISSING, np.int64)
    # Visits are sorted by box and day.
    bare = of_boxes.start + np.flatnonzero(histories.observations["no_eggs"][of_boxes])
    step = 1_000_000
    keys = histories.visits.box[bare].astype(np.int64) * step + histories.visits.day[bare]
    found = np.searchsorted(keys, own[:, c.BOX].astype(np.int64) * step + own[:, c.NO_EGG_DAY]) - 1
    last = np.append(keys, -1)[found]
    looked = np.where(last // step == own[:, c.BOX], last % step, alone)
    return np.where(own[:, c.NO_EGG_DAY] == c.MISSING, alone, looked)


def _unconfirmed(
    histories: Histories, own: NDArray[np.int32], of_boxes: slice
) -> NDArray[np.bool_]:
    """Which attempts were found over by the last look into their box."""
    if len(own) == 0:
        return np.zeros(0, np.bool_)
    first, end = int(own[0, c.BOX]), int(own[-1, c.BOX]) + 1
    looked = of_boxes.start + np.flatnonzero(histories.observations["looked"][of_boxes])
    last = np.full(end - first, -1, np.int64)
    last[histories.visits.box[looked] - first] = looked
    over: NDArray[np.int32] = own[:, c.OVER]
    return (over >= 0) & (over >= last[own[:, c.BOX] - first])


def evidence_of_one(histories: Histories, attempt: int) -> Evidence:
    """The evidence for one attempt, and for the clutches that followed it."""
    box = histories.visits.boxes[histories.rows[attempt, c.BOX]]
    return one(evidence_of(histories, range(attempt, histories.attempts_of(box).stop)), 0)


def one(evidence: Evidence, attempt: int) -> Evidence:
    """The evidence for one attempt of several, and for the clutches that followed it."""
    stop = attempt + 1
    while evidence.frames[stop - 1, t.F_FOLLOWED]:
        stop += 1
    lo, hi = (int(at) for at in evidence.starts[[attempt, stop]])
    return Evidence(
        evidence.visits[lo:hi],
        evidence.positions[lo:hi],
        evidence.starts[attempt : stop + 1] - lo,
        evidence.frames[attempt:stop],
    )


def _young(seen: NDArray[Any]) -> NDArray[np.bool_]:
    """Visits that saw living young, or a parent feeding them."""
    young: NDArray[np.bool_] = (seen["young"] > 0) | (seen["feeding"] & (seen["young"] < 0))
    return young


def _last_alive(
    rows: NDArray[np.int32],
    seen: NDArray[Any],
    attempt: NDArray[np.int32],
    positions: NDArray[np.int64],
) -> NDArray[np.int64]:
    """The last visit that saw each attempt alive, beyond eggs that merely lay there.

    Young, a parent on the nest, warm eggs, or more eggs than at any visit before. An attempt
    without any was alive when it was first met.
    """
    eggs = np.maximum(seen["eggs"], 0).astype(np.int64)
    # The most eggs so far, within each attempt: attempts are set apart by a wide step.
    step = attempt.astype(np.int64) * 1_000
    most = np.maximum.accumulate(eggs + step) - step
    before = np.concatenate([[0], np.where(attempt[1:] == attempt[:-1], most[:-1], 0)])
    grew = (eggs > before[: len(eggs)]) & (positions <= rows[attempt, c.ALIVE])
    lives = _young(seen) | seen["sitting"] | seen["warm"] | grew
    last = rows[:, c.FIRST].astype(np.int64)
    np.maximum.at(last, attempt[lives], positions[lives])
    return last


def _says(
    own: NDArray[np.int32],
    seen: NDArray[Any],
    adult: NDArray[np.int8],
    *,
    alive: NDArray[np.bool_],
    over: NDArray[np.bool_],
) -> NDArray[np.int8]:
    """What each visit says; `own` is the row of its attempt."""
    young = _young(seen)
    # Eggs recorded without the young that were known of show nothing.
    hatched = (own[:, c.YOUNG_DAY] != c.MISSING) & (seen["day"] >= own[:, c.YOUNG_DAY])
    eggs = (seen["eggs"] > 0) & ~young & ~hatched
    late = (seen["eggs"] > 0) & (seen["young"] == 0) & hatched
    begun_laying = (own[:, c.EGG_DAY] != c.MISSING) & (seen["day"] > own[:, c.EGG_DAY])
    missed = (seen["eggs"] == 0) & ~young & ~hatched & begun_laying
    uncounted = (seen["eggs"] < 0) & (seen["young"] < 0)
    begun = (own[:, c.PHASE] >= c.EGGS) & (seen["day"] > own[:, c.NO_EGG_DAY])
    outside = ~seen["looked"] & begun & ~alive & ~over
    kinds = (
        (young & alive, t.SHOWS_YOUNG),
        (eggs & alive, t.SHOWS_EGGS),
        (late & alive, t.SHOWS_EGGS_LATE),
        (missed & alive, t.SHOWS_NO_EGG),
        (eggs & ~over, t.SHOWS_EGGS_LEFT),
        (seen["sitting"] & uncounted & alive & begun, t.SHOWS_SITTING),
        (outside & (adult == ADULT.index("near")), t.SHOWS_NEAR),
        (outside & (adult == ADULT.index("none")), t.SHOWS_QUIET),
    )
    says = np.select([kind for kind, _ in kinds], [code for _, code in kinds], t.SHOWS_NOTHING)
    return says.astype(np.int8)


def _found(histories: Histories, rows: NDArray[np.int32]) -> NDArray[np.int64]:
    """What the visit found that found each attempt over; FOUND_EMPTY also where none did."""
    seen = histories.observations[np.maximum(rows[:, c.OVER], 0)]
    shells = np.where(histories.limits[rows[:, c.SPECIES] + 1, c.LEAVES_AT_ONCE], c.SIGNS_SHELLS, 0)
    left = (seen["signs"] & (c.SIGNS_LEFT | shells)) != 0
    left |= (rows[:, c.NOTES] & c.NOTE_LATE_SIGNS != 0) & (rows[:, c.FATE] == c.FATE_FLEDGED)
    kinds = (
        (rows[:, c.OVER] < 0, t.FOUND_EMPTY),
        (np.isin(rows[:, c.WHY], _AGAIN), t.FOUND_AGAIN),
        (np.isin(rows[:, c.WHY], _OTHERS), t.FOUND_OTHERS),
        (rows[:, c.WHY] == c.WHY_KEEPER, t.FOUND_REMOVED),
        ((seen["dead"] > 0) & ~left & (seen["dead"] >= rows[:, c.YOUNG_LAST]), t.FOUND_DEAD),
        ((seen["dead"] > 0) & ~left, t.FOUND_SOME_DEAD),
        ((seen["signs"] & c.SIGNS_RAIDED) != 0, t.FOUND_LOSS),
        (left, t.FOUND_LEFT),
        (seen["eggs"] > 0, t.FOUND_EGGS),
        ((seen["signs"] & _SIGNS_OF_LOSS) != 0, t.FOUND_LOSS),
    )
    return np.select([kind for kind, _ in kinds], [code for _, code in kinds], t.FOUND_EMPTY)
