"""Tables of attempts below each other, with codes that hold in all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.broods import BroodCounts
from layers.nesting.season.courses import Courses
from layers.nesting.season.intervals import Intervals
from layers.nesting.season.tables import SeasonTable


def joined_tables(tables: Sequence[SeasonTable]) -> SeasonTable:
    """One table of all attempts, in the order of the tables; there is one at least."""
    names = tuple(dict.fromkeys(name for table in tables for name in table.species_names))
    place = {name: code for code, name in enumerate(names)}
    boxes_before = _before([len(table.boxes) for table in tables])
    attempts_before = _before([len(table) for table in tables])
    rows, checked, attempt = [], [], []
    for table, box, first in zip(tables, boxes_before, attempts_before, strict=True):
        own = table.rows.copy()
        own[:, c.BOX] += box
        # The last entry serves code -1, "not recorded".
        codes = np.array([*(place[name] for name in table.species_names), -1], np.int32)
        own[:, c.SPECIES] = codes[own[:, c.SPECIES]]
        rows.append(own)
        checked.append(table.checked + np.array([box, 0]))
        attempt.append(np.arange(first, first + len(table)))
    first_table = tables[0]
    return replace(
        first_table,
        boxes=tuple(box for table in tables for box in table.boxes),
        species_names=names,
        attempt=np.concatenate(attempt),
        rows=np.concatenate(rows),
        number=_joined(tables, "number"),
        limits=_joined(tables, "limits"),
        fate=_joined(tables, "fate"),
        best=_joined(tables, "best"),
        width_days=_joined(tables, "width_days"),
        intervals=Intervals(**_nested([t.intervals for t in tables], attempts_before)),
        courses=Courses(**_nested([t.courses for t in tables], attempts_before)),
        broods=BroodCounts(**_nested([t.broods for t in tables], attempts_before)),
        checked=np.concatenate(checked),
    )


def _before(sizes: list[int]) -> list[int]:
    return [0, *np.cumsum(sizes)[:-1].tolist()]


def _joined(tables: Sequence[Any], name: str) -> NDArray[Any]:
    return np.concatenate([getattr(table, name) for table in tables])


def _nested(parts: Sequence[Any], attempts_before: Sequence[int]) -> dict[str, NDArray[Any]]:
    """The arrays of a record of arrays; those named `nest` hold positions of attempts."""
    return {
        name: np.concatenate(
            [
                getattr(part, name) + before if name == "nest" else getattr(part, name)
                for part, before in zip(parts, attempts_before, strict=True)
            ]
        )
        for name in vars(parts[0])
    }
