"""Visits as integer-coded columns: what the histories are computed from.

A pure value: no file, no clock. `layers.trail.store` fills it from a trail file;
tests and the benchmark fill it from frames.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, get_args, get_origin, get_type_hints

import numpy as np
from numpy.typing import NDArray

UNKNOWN = -1
"""Stands for "not recorded" in every count and code column; never a count."""

STILL_CURRENT = np.iinfo(np.int64).max
"""`replaced_s` of a row that no later row has replaced."""


@dataclass(frozen=True)
class Visits:
    """Visits of a trail, sorted by box, day, minute and row.

    Attributes
    ----------
    boxes
        Box ids; `box` holds positions in it. A box without visits is listed too.
    species_names, observers, signs_words, actions_words
        What the codes of `species` and `observer` and the bits of `signs` and
        `actions` (bit i = word i) stand for.
    box, species, observer
        Codes, -1 = not recorded.
    day
        Local days since 1970-01-01.
    minute
        Minutes after local midnight, -1 = time not recorded.
    nest, adult
        Positions in `words.NEST`, `words.ADULT`; -1 = not recorded.
    eggs, young, dead_young
        Counts; -1 = not recorded. `young` counts the living.
    young_days
        Age of the young in days as judged by the observer; -1 = not recorded.
    eggs_warm, opened
        0 no, 1 yes, -1 not recorded.
    signs, actions
        Bit sets; 0 = none recorded.
    entered_s, replaced_s
        UTC seconds: when the row was entered; when a later row replaced it
        (`STILL_CURRENT` if none has).
    row
        The row's number in the trail file.
    others
        Counts, measures and words of columns that the schema declares and no attribute
        names: codes as above, measures as float64 with NaN = not recorded.
    """

    boxes: tuple[str, ...]
    species_names: tuple[str, ...]
    observers: tuple[str, ...]
    signs_words: tuple[str, ...]
    actions_words: tuple[str, ...]
    box: NDArray[np.int32]
    day: NDArray[np.int32]
    minute: NDArray[np.int16]
    species: NDArray[np.int16]
    nest: NDArray[np.int8]
    eggs: NDArray[np.int16]
    eggs_warm: NDArray[np.int8]
    young: NDArray[np.int16]
    young_days: NDArray[np.int16]
    dead_young: NDArray[np.int16]
    adult: NDArray[np.int8]
    signs: NDArray[np.int64]
    actions: NDArray[np.int64]
    opened: NDArray[np.int8]
    observer: NDArray[np.int32]
    entered_s: NDArray[np.int64]
    replaced_s: NDArray[np.int64]
    row: NDArray[np.int64]
    others: Mapping[str, NDArray[Any]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.box)

    @classmethod
    def from_columns(
        cls,
        columns: Mapping[str, Any],
        *,
        boxes: Sequence[str],
        species_names: Sequence[str],
        observers: Sequence[str],
        signs_words: Sequence[str],
        actions_words: Sequence[str],
    ) -> Visits:
        """Take coded columns in any order of rows, and sort them.

        `columns` maps each column name to an array; a column left out is "not
        recorded" throughout (`box` and `day` must be there).
        """
        size = len(columns["box"])
        filled: dict[str, NDArray[Any]] = {}
        for name, dtype in column_types().items():
            if name in columns:
                filled[name] = np.asarray(columns[name]).astype(dtype, copy=False)
            elif name == "replaced_s":
                filled[name] = np.full(size, STILL_CURRENT, dtype)
            elif name == "row":
                filled[name] = np.arange(size, dtype=dtype)
            elif name in ("signs", "actions", "entered_s"):
                filled[name] = np.zeros(size, dtype)
            else:
                filled[name] = np.full(size, UNKNOWN, dtype)
        others = {name: np.asarray(columns[name]) for name in columns.keys() - filled.keys()}
        order = np.lexsort((filled["row"], filled["minute"], filled["day"], filled["box"]))
        if not np.array_equal(order, np.arange(size)):
            filled = {name: column[order] for name, column in filled.items()}
            others = {name: column[order] for name, column in others.items()}
        return cls(
            boxes=tuple(boxes),
            species_names=tuple(species_names),
            observers=tuple(observers),
            signs_words=tuple(signs_words),
            actions_words=tuple(actions_words),
            **filled,
            others=others,
        )

    def column(self, name: str) -> NDArray[Any]:
        """The coded column of a name."""
        found: NDArray[Any] = self.others[name] if name in self.others else getattr(self, name)
        return found

    def starts(self) -> NDArray[np.int64]:
        """Where each box's visits begin: shape (boxes + 1,)."""
        return np.searchsorted(self.box, np.arange(len(self.boxes) + 1)).astype(np.int64)

    def take(self, keep: NDArray[Any]) -> Visits:
        """The visits that a mask or sorted positions choose; box codes are kept."""
        return self._by_column(lambda column: column[keep])

    def of_boxes(self, among: NDArray[np.bool_]) -> Visits:
        """The visits to the boxes of a mask, which alone are listed."""
        own = self.take(among[self.box])
        code = np.cumsum(among) - 1
        boxes = tuple(box for box, chosen in zip(self.boxes, among, strict=True) if chosen)
        return replace(own, boxes=boxes, box=code[own.box].astype(np.int32))

    def known_at(self, moment_s: int | None = None) -> Visits:
        """The visits as recorded at a moment (UTC seconds); None = now, with all corrections."""
        if moment_s is None:
            keep = self.replaced_s == STILL_CURRENT
        else:
            keep = (self.entered_s <= moment_s) & (self.replaced_s > moment_s)
        return self if keep.all() else self.take(keep)

    def recoded(
        self,
        *,
        box_code: int,
        boxes: tuple[str, ...],
        species_names: tuple[str, ...],
        observers: tuple[str, ...],
    ) -> Visits:
        """One box's visits with the codes of longer lists, which must hold all names in use."""

        def recode(codes: NDArray[Any], old: tuple[str, ...], new: tuple[str, ...]) -> NDArray[Any]:
            place = {name: i for i, name in enumerate(new)}
            # The last entry serves code -1, "not recorded".
            table = np.array([*(place[name] for name in old), UNKNOWN])
            recoded: NDArray[Any] = table[codes].astype(codes.dtype)
            return recoded

        return replace(
            self,
            boxes=boxes,
            box=np.full(len(self), box_code, np.int32),
            species_names=species_names,
            species=recode(self.species, self.species_names, species_names),
            observers=observers,
            observer=recode(self.observer, self.observers, observers),
        )

    def spliced(self, lo: int, hi: int, fresh: Visits) -> Visits:
        """These visits with positions `lo` to `hi` replaced by others of the same codes."""
        return self._by_column(
            lambda column, new: np.concatenate([column[:lo], new, column[hi:]]), fresh
        )

    def _by_column(self, change: Callable[..., NDArray[Any]], *more: Visits) -> Visits:
        """These visits with each column changed, given the same column of others too."""
        columns: dict[str, Any] = {
            name: change(*(getattr(visits, name) for visits in (self, *more)))
            for name in column_types()
        }
        others = {
            name: change(column, *(visits.others[name] for visits in more))
            for name, column in self.others.items()
        }
        return replace(self, **columns, others=others)


@cache
def column_types() -> Mapping[str, type[np.generic]]:
    """The attributes that hold one number a visit, and the type of each."""
    columns = {
        name: hint
        for name, hint in get_type_hints(Visits).items()
        if get_origin(hint) is np.ndarray
    }
    # NDArray[T] is ndarray[Any, dtype[T]].
    return {name: get_args(get_args(hint)[1])[0] for name, hint in columns.items()}
