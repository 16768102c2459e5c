"""Histories: the visits of each box, read as attempts.

`read_histories` reads all boxes at once; `Histories.replaced` reads one box anew
after a visit was added to it. Sentences are made on demand (`reasons.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.errors import NotKnown
from layers.nesting import attempt_columns as c
from layers.nesting.guide import Guide, Species
from layers.nesting.limits import species_limits
from layers.nesting.reading.attempts import read_all
from layers.nesting.reading.observations import observations_of
from layers.trail.coding import day_number
from layers.trail.visits import Visits


@dataclass(frozen=True)
class Histories:
    """Every attempt in the visits.

    Attributes
    ----------
    visits
        The visits read: corrected rows left out.
    rows
        One row an attempt, sorted by box and time; columns by the names in
        `attempt_columns`. Days are days since 1970-01-01.
    visit_attempt
        For each visit the position of its attempt in `rows`; -1 = none.
    visit_stage
        For each visit the position in `words.STAGES` it found the nest in; -1 = no nest.
    observations
        For each visit what it says by itself: records of type `observations.OBSERVATION`.
    """

    visits: Visits
    guide: Guide
    season_starts: str
    limits: NDArray[np.int32]
    rows: NDArray[np.int32]
    visit_attempt: NDArray[np.int32]
    visit_stage: NDArray[np.int8]
    observations: NDArray[Any]

    def __len__(self) -> int:
        """How many attempts there are."""
        return len(self.rows)

    @cached_property
    def visit_starts(self) -> NDArray[np.int64]:
        """Where each box's visits begin: shape (boxes + 1,)."""
        return self.visits.starts()

    @cached_property
    def attempt_starts(self) -> NDArray[np.int64]:
        """Where each box's attempts begin in `rows`: shape (boxes + 1,)."""
        codes = np.arange(len(self.visits.boxes) + 1)
        return np.searchsorted(self.rows[:, c.BOX], codes).astype(np.int64)

    @cached_property
    def numbers(self) -> NDArray[np.int32]:
        """The number of each attempt within its box and season, from 1."""
        size = len(self.rows)
        if size == 0:
            return np.zeros(0, np.int32)
        keys = self.rows[:, c.BOX].astype(np.int64) * 10_000 + self.rows[:, c.SEASON]
        first = np.r_[True, keys[1:] != keys[:-1]]
        position = np.arange(size)
        starts = np.maximum.accumulate(np.where(first, position, 0))
        return (position - starts + 1).astype(np.int32)

    @cached_property
    def _codes(self) -> dict[str, int]:
        return {box: code for code, box in enumerate(self.visits.boxes)}

    def box_code(self, box: str) -> int:
        """Position of a box in `visits.boxes`; `NotKnown` if there is none of that id."""
        try:
            return self._codes[box]
        except KeyError:
            raise NotKnown(f"Expected the id of a box, got {box!r}") from None

    def attempts_of(self, box: str) -> range:
        """Positions in `rows` of a box's attempts."""
        code = self.box_code(box)
        return range(int(self.attempt_starts[code]), int(self.attempt_starts[code + 1]))

    def visits_of(self, box: str) -> range:
        """Positions in `visits` of a box's visits."""
        code = self.box_code(box)
        return range(int(self.visit_starts[code]), int(self.visit_starts[code + 1]))

    def species_name(self, code: int) -> str | None:
        """The species of a code; None where it is not recorded."""
        return None if code < 0 else self.visits.species_names[code]

    @cached_property
    def guide_species(self) -> tuple[Species, ...]:
        """The guide's species of each code, the wide one last: that of code -1, and of names
        that the guide does not have.
        """
        unknown = self.guide.unknown
        known = (self.guide.get(name) or unknown for name in self.visits.species_names)
        return (*known, unknown)

    def seasons(self) -> list[int]:
        """Seasons with visits, first to last."""
        if len(self.visits) == 0:
            return []
        seasons = self.observations["season"]
        return list(range(int(seasons.min()), int(seasons.max()) + 1))

    def up_to(self, on: date) -> Histories:
        """These histories as known on a day: from the visits up to it."""
        earlier = self.visits.day <= day_number(on)
        if earlier.all():
            return self
        return read_histories(
            self.visits.take(earlier), self.guide, season_starts=self.season_starts
        )

    @cached_property
    def known_over(self) -> NDArray[np.int32]:
        """Day from which each attempt is known to be over: found so, or too old to go on."""
        over = self.rows[:, c.OVER_DAY]
        return np.where(over == c.MISSING, self.rows[:, c.LAPSES], over)

    def fates(self, on: date, *, among: slice = slice(None)) -> NDArray[np.int32]:
        """Fate of each attempt as known on a day.

        An attempt not found over by then is ongoing; one that was not looked at for
        longer than it can last has the fate its last visit speaks for. `among` picks
        some of the attempts by their positions.
        """
        rows = self.rows[among]
        final = np.where(rows[:, c.FATE] == c.ONGOING, rows[:, c.LATER_FATE], rows[:, c.FATE])
        over = day_number(on) >= self.known_over[among]
        return np.where(over, final, c.ONGOING).astype(np.int32)

    def of_box(self, box: str, *, until: date | None = None) -> Histories:
        """One box alone, read from its visits up to a day; None = from all."""
        own = self.visits_of(box)
        days = self.visits.day[own.start : own.stop]
        size = (
            len(days) if until is None else int(np.searchsorted(days, day_number(until), "right"))
        )
        visits = self.visits.take(np.arange(own.start, own.start + size))
        alone = visits.recoded(
            box_code=0, boxes=(box,), species_names=visits.species_names, observers=visits.observers
        )
        return read_histories(alone, self.guide, season_starts=self.season_starts)

    def replaced(self, box: str, visits: Visits) -> Histories:
        """These histories with one box's visits replaced, that box alone read anew.

        Parameters
        ----------
        visits
            All visits of the box, corrected rows included, coded for this box alone
            (as `Trail.visits(box)` gives them). A box not met before is not accepted.
        """
        code = self.box_code(box)
        fresh = visits.known_at()
        names = _joined(self.visits.species_names, fresh.species_names)
        observers = _joined(self.visits.observers, fresh.observers)
        fresh = fresh.recoded(
            box_code=code, boxes=self.visits.boxes, species_names=names, observers=observers
        )
        kept = replace(self.visits, species_names=names, observers=observers)
        lo, hi = (int(at) for at in self.visit_starts[code : code + 2])
        merged = kept.spliced(lo, hi, fresh)
        limits = (
            self.limits if names == self.visits.species_names else species_limits(self.guide, names)
        )
        seen = observations_of(fresh, season_starts=self.season_starts)
        rows, attempt, stage = _read(fresh, seen, limits)
        shift = len(fresh) - (hi - lo)
        rows[:, [c.FIRST, c.ALIVE]] += lo
        rows[rows[:, c.OVER] >= 0, c.OVER] += lo
        a_lo, a_hi = (int(at) for at in self.attempt_starts[code : code + 2])
        all_rows = np.concatenate([self.rows[:a_lo], rows, self.rows[a_hi:]])
        after = all_rows[a_lo + len(rows) :]
        for column in (c.FIRST, c.ALIVE, c.OVER):
            _shift(after[:, column], shift)
        _shift(attempt, a_lo)
        later = self.visit_attempt[hi:].copy()
        _shift(later, len(rows) - (a_hi - a_lo))
        found = replace(
            self,
            visits=merged,
            limits=limits,
            rows=all_rows,
            visit_attempt=np.concatenate([self.visit_attempt[:lo], attempt, later]),
            visit_stage=np.concatenate([self.visit_stage[:lo], stage, self.visit_stage[hi:]]),
            observations=_joined_records(self.observations[:lo], seen, self.observations[hi:]),
        )
        # The boxes are the same, and of 100,000 this takes longer than all of the above.
        found.__dict__["_codes"] = self._codes
        return found


def _shift(positions: NDArray[np.int32], by: int) -> None:
    """Move positions in place; -1 = none, and stays."""
    np.add(positions, by, out=positions, where=positions >= 0)


def _joined_records(*parts: NDArray[Any]) -> NDArray[Any]:
    """Records end to end, copied as bytes: twelve times as fast as field by field."""
    dtype = parts[0].dtype
    whole = np.dtype((np.void, dtype.itemsize))
    return np.concatenate([part.view(whole) for part in parts]).view(dtype)


def _joined(known: tuple[str, ...], more: Sequence[str]) -> tuple[str, ...]:
    new = [name for name in more if name not in set(known)]
    return (*known, *new) if new else known


def _read(
    visits: Visits, seen: NDArray[Any], limits: NDArray[np.int32]
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int8]]:
    size = len(visits)
    # A visit opens one attempt at most; one spare row serves a trail without visits.
    rows = np.empty((size + 1, c.N_COLUMNS), np.int32)
    attempt, stage = np.empty(size, np.int32), np.empty(size, np.int8)
    found = read_all(visits.starts(), seen, limits, rows, attempt, stage)
    return rows[:found].copy(), attempt, stage


def read_histories(visits: Visits, guide: Guide, *, season_starts: str) -> Histories:
    """Read the visits of every box into attempts.

    Parameters
    ----------
    season_starts
        `MM-DD` on which a season begins.
    """
    current = visits.known_at()
    limits = species_limits(guide, current.species_names)
    seen = observations_of(current, season_starts=season_starts)
    rows, attempt, stage = _read(current, seen, limits)
    return Histories(current, guide, season_starts, limits, rows, attempt, stage, seen)
