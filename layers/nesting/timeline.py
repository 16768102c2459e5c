"""What every box is on every day of a season: occupancy, species and fate.

One table answers all: the map paints it, `occupancy` reads one day of it, and the
browser plays through it without asking again. Days are shown with hindsight, by all
visits of the histories given; for what was known on a day, give those of `dating.known_on`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled
from layers.nesting.dating import Dates, final_fates, stage_days
from layers.nesting.dating.stages import EGG, END, START
from layers.nesting.histories import Histories
from layers.trail.coding import day_number, day_of
from layers.trail.settings import season_days
from layers.trail.words import OCCUPANCY

IN_USE, STARTED, FINISHED, UNUSED, OTHER_ANIMAL, NOT_CHECKED, OUT_OF_SERVICE = range(len(OCCUPANCY))

NAME_NOT_RECORDED = "species not recorded"
"""The last of `Timeline.species_names`, for nests whose visits name no species."""

ALWAYS = np.iinfo(np.int32).max // 2
_MAX_SPECIES = 254


@dataclass(frozen=True)
class Service:
    """From when to when each box stood, in days since 1970-01-01, boxes as in `Visits`.

    `since` is far in the past and `until` (the first day gone) far ahead where no
    day is given.
    """

    since: NDArray[np.int32]
    until: NDArray[np.int32]

    @classmethod
    def always(cls, boxes: int) -> Service:
        """Every box stood all the time."""
        return cls(np.full(boxes, -ALWAYS, np.int32), np.full(boxes, ALWAYS, np.int32))

    @classmethod
    def from_days(cls, installed_on: list[Any], removed_on: list[Any]) -> Service:
        """From two columns of ISO days or dates; None where not given."""
        since = [-ALWAYS if day is None else day_number(day) for day in installed_on]
        until = [ALWAYS if day is None else day_number(day) for day in removed_on]
        return cls(np.array(since, np.int32), np.array(until, np.int32))


@dataclass(frozen=True)
class BoxStates:
    """Every box on one day; shape (boxes,) each, codes as in `Timeline`."""

    occupancy: NDArray[np.uint8]
    species: NDArray[np.uint8]
    fate: NDArray[np.uint8]
    days_since_visit: NDArray[np.int32]


@dataclass(frozen=True)
class Timeline:
    """Every change of every box in one season.

    Attributes
    ----------
    first_day
        The season's first day, in days since 1970-01-01.
    days
        How many days the season has.
    offset
        Shape (boxes + 1,): box i's changes are `offset[i]:offset[i + 1]`; the first
        is on day 0.
    day
        Days after `first_day` on which a state begins.
    occupancy
        Position in `words.OCCUPANCY`.
    species
        0 = none so far, else 1 + position in `species_names`.
    fate
        0 = no eggs so far, else 1 + position in `words.FATES`, of the latest attempt.
    visit_offset, visit_day
        In the same way, the days with a visit.
    """

    first_day: int
    days: int
    offset: NDArray[np.int32]
    day: NDArray[np.int16]
    occupancy: NDArray[np.uint8]
    species: NDArray[np.uint8]
    fate: NDArray[np.uint8]
    species_names: tuple[str, ...]
    visit_offset: NDArray[np.int32]
    visit_day: NDArray[np.int16]

    def on(self, on: date) -> BoxStates:
        """Every box on a day of this season.

        `days_since_visit` counts from the last visit of the season up to that day;
        -1 where there was none.
        """
        day = day_number(on) - self.first_day
        if not 0 <= day < self.days:
            first, last = day_of(self.first_day), day_of(self.first_day + self.days - 1)
            raise BadValue(f"a day from {first} to {last}", str(on))
        at = _latest(self.offset, self.day, day)
        seen = _latest(self.visit_offset, self.visit_day, day)
        seen_day = np.concatenate([self.visit_day, [0]])[seen]
        since = np.where(seen >= 0, day - seen_day, -1).astype(np.int32)
        return BoxStates(self.occupancy[at], self.species[at], self.fate[at], since)


@compiled
def _latest(offset: Any, days: Any, day: int) -> Any:
    """For each box the position of its last entry up to a day; -1 where there is none."""
    boxes = len(offset) - 1
    found = np.empty(boxes, np.int64)
    for box in range(boxes):
        lo, hi = offset[box], offset[box + 1]
        first = lo
        while lo < hi:
            middle = (lo + hi) // 2
            if days[middle] <= day:
                lo = middle + 1
            else:
                hi = middle
        found[box] = lo - 1 if lo > first else -1
    return found


@compiled
def _paint_visits(
    occ: Any, edges: Any, first_day: int, season: int, seen: Any, stage: Any, lo: int, hi: int
) -> int:
    """What the visits alone say: from the first on the box is unused, has another animal, is closed.

    An animal's sign, or a closed box, holds until the next look inside. Returns
    how many edges (days on which something may change) were filled in.
    """
    state = NOT_CHECKED
    count = 0
    for i in range(lo, hi):
        v = seen[i]
        if v.season != season:
            continue
        before = state
        if v.closed:
            state = OUT_OF_SERVICE
        elif v.animal and not c.STAGE_BUILDING <= stage[i] < c.STAGE_OVER:
            state = OTHER_ANIMAL
        elif v.looked or state == NOT_CHECKED:
            state = UNUSED
        if state != before:
            occ[v.day - first_day :] = state
            edges[count] = v.day - first_day
            count += 1
    return count


@compiled
def _paint_attempt(
    occ: Any, who: Any, end: Any, first_day: int, season: int, row: Any, own: Any, name: int
) -> None:
    """One attempt over what the visits say; `own` are its day of begin, first egg and end, and
    its fate.
    """
    begins, ends = max(own[0] - first_day, 0), own[2] - first_day
    laid = own[1] != c.MISSING
    egg = max(own[1] - first_day, begins) if laid else ends
    # What ended early in a season was the business of the one before.
    stop = ends if row[c.SEASON] < season else len(occ)
    occ[begins:egg] = STARTED
    occ[egg:ends] = IN_USE
    who[begins:stop] = name
    if laid:
        end[begins:ends] = 1 + c.ONGOING
        end[ends:stop] = 1 + own[3]
        for k in range(ends, stop):
            if occ[k] == UNUSED or occ[k] == NOT_CHECKED:
                occ[k] = FINISHED


@compiled
def _sort(values: Any, count: int) -> None:
    """Sort the first few values in place; they are nearly in order."""
    for at in range(1, count):
        value, place = values[at], at
        while place > 0 and values[place - 1] > value:
            values[place] = values[place - 1]
            place -= 1
        values[place] = value


@compiled
def _changes(
    season: int,
    first_day: int,
    days: int,
    attempt_starts: Any,
    rows: Any,
    stage_days: Any,
    visit_starts: Any,
    seen: Any,
    stage: Any,
    since: Any,
    until: Any,
    nameless: int,
) -> Any:
    """Offsets, days and the three states of every change, painted a box at a time."""
    boxes = len(since)
    offset = np.zeros(boxes + 1, np.int32)
    room = 8 * boxes + 8
    at_day, states = np.empty(room, np.int16), np.empty((3, room), np.uint8)
    filled = 0
    occ, who, end = np.empty(days, np.uint8), np.empty(days, np.uint8), np.empty(days, np.uint8)
    edges = np.empty(256, np.int64)
    for box in range(boxes):
        occ[:], who[:], end[:] = NOT_CHECKED, 0, 0
        lo, hi = visit_starts[box], visit_starts[box + 1]
        first, last = attempt_starts[box], attempt_starts[box + 1]
        most_edges = hi - lo + 3 * (last - first) + 3
        if most_edges > len(edges):
            edges = np.empty(2 * most_edges, np.int64)
        count = _paint_visits(occ, edges, first_day, season, seen, stage, lo, hi)
        for a in range(first, last):
            row, own = rows[a], stage_days[a]
            if own[0] < first_day + days and own[2] >= first_day:
                known = 0 <= row[c.SPECIES] < nameless - 1
                name = row[c.SPECIES] + 1 if known else nameless
                _paint_attempt(occ, who, end, first_day, season, row, own, name)
                for day in own[:3]:
                    edges[count] = day - first_day
                    count += 1
        if since[box] > first_day:
            occ[: min(since[box] - first_day, days)] = OUT_OF_SERVICE
        if until[box] < first_day + days:
            occ[max(until[box] - first_day, 0) :] = OUT_OF_SERVICE
        edges[count], edges[count + 1] = 0, since[box] - first_day
        edges[count + 2] = until[box] - first_day
        before = -1
        _sort(edges, count + 3)
        for k in edges[: count + 3]:
            if k <= before or not 0 <= k < days:
                continue
            before = k
            if k > 0 and occ[k] == occ[k - 1] and who[k] == who[k - 1] and end[k] == end[k - 1]:
                continue
            if filled == room:
                at_day = np.append(at_day, np.empty(room, np.int16))
                states = np.concatenate((states, np.empty((3, room), np.uint8)), axis=1)
                room *= 2
            at_day[filled] = k
            states[0, filled], states[1, filled], states[2, filled] = occ[k], who[k], end[k]
            filled += 1
        offset[box + 1] = filled
    return offset, at_day[:filled].copy(), states[:, :filled].copy()


def timeline_species(histories: Histories) -> tuple[str, ...]:
    """The species names of every timeline of these histories, `NAME_NOT_RECORDED` last."""
    # Codes fit one byte; species beyond, which no trail has, count as not recorded.
    return (*histories.visits.species_names[:_MAX_SPECIES], NAME_NOT_RECORDED)


def timeline(
    histories: Histories,
    dates: Dates,
    *,
    season: int,
    on: date,
    service: Service | None = None,
) -> Timeline:
    """Every change of every box in a season.

    Parameters
    ----------
    dates
        Those of `histories`.
    on
        The day to look from: a nest that was not seen over, and that may go on after it, is in
        use for as long as it can last.
    service
        From when to when each box stood; None = all the time.
    """
    visits, seen = histories.visits, histories.observations
    boxes = len(visits.boxes)
    stood = Service.always(boxes) if service is None else service
    first, last = season_days(season, histories.season_starts)
    first_day, days = day_number(first), (last - first).days + 1
    names = timeline_species(histories)
    offset, day, states = _changes(
        season,
        first_day,
        days,
        histories.attempt_starts,
        histories.rows,
        _painted_days(histories, dates, on),
        histories.visit_starts,
        seen,
        histories.visit_stage,
        stood.since,
        stood.until,
        len(names),
    )
    here = np.flatnonzero(seen["season"] == season)
    visit_offset = np.searchsorted(visits.box[here], np.arange(boxes + 1)).astype(np.int32)
    return Timeline(
        first_day=first_day,
        days=days,
        offset=offset,
        day=day,
        occupancy=states[0],
        species=states[1],
        fate=states[2],
        species_names=names,
        visit_offset=visit_offset,
        visit_day=(visits.day[here] - first_day).astype(np.int16),
    )


def _painted_days(histories: Histories, dates: Dates, on: date) -> NDArray[np.int32]:
    """Begin, first egg, end and fate of each attempt; what may go on after a day does while it
    can.
    """
    days = stage_days(histories, dates)[:, [START, EGG, END]]
    lapses = histories.rows[:, c.LAPSES]
    ongoing = (histories.rows[:, c.OVER_DAY] == c.MISSING) & (lapses > day_number(on))
    days[ongoing, 2] = lapses[ongoing]
    # Compiled code is prepared for one order in memory; `column_stack` takes what it likes.
    return np.ascontiguousarray(np.column_stack([days, final_fates(histories, dates)]))
