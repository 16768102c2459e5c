"""Visits of an archive as the reader of histories takes them.

Words stay in the file for people; beside them are their codes, so that to read a partition costs no
more than to load numbers. Codes are those of the word lists of the day of writing, whose hash is
written with them: where the lists have changed since, the words are coded again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from layers.pooling.columns import CODES
from layers.trail.coding import CODED_COLUMNS, code_visits
from layers.trail.schema import VISITS
from layers.trail.visits import UNKNOWN, Visits
from layers.trail.words import ACTIONS, SIGNS

_LISTS = {
    name: VISITS[name].words
    for name in ("nest", "adult", "eggs_warm", "opened", "signs", "actions")
}
WORD_LISTS = hashlib.sha256(json.dumps(_LISTS, sort_keys=True).encode()).hexdigest()[:16]
"""Changes with the words that codes stand for."""

_KEY = b"boxround_word_lists"
_COUNTS = ("eggs", "young", "young_days", "dead_young")
READ_COLUMNS = ("trail", "box_id", "seen_on", "species", *_COUNTS, "current", *CODES)
"""What `joined_visits` needs of a file."""


def with_codes(table: Any, visits: Visits) -> Any:
    """A table of visits with the codes of the same visits, in the same order."""
    for name, kind in CODES.items():
        values = visits.column(name.removeprefix("code_"))
        if name in ("code_signs", "code_actions"):
            # A trail's own words have other places in the list of each trail.
            shipped = SIGNS if name == "code_signs" else ACTIONS
            values = values & ((1 << len(shipped)) - 1)
        at = table.schema.get_field_index(name)
        table = table.set_column(at, pa.field(name, kind), pa.array(values, kind))
    return table.replace_schema_metadata({_KEY: WORD_LISTS})


def recoded(table: Any) -> Any:
    """The table with codes of today's word lists: itself, where it has them."""
    if (table.schema.metadata or {}).get(_KEY) == WORD_LISTS.encode():
        return table
    rows = table.select([name for name in CODED_COLUMNS if name in table.schema.names]).to_pylist()
    # Row numbers keep the order of the table; the box's code is not used.
    given = [{**row, "fid": number, "box": ""} for number, row in enumerate(rows)]
    visits = code_visits(
        given, boxes=(), timezone=ZoneInfo("UTC"), signs_words=SIGNS, actions_words=ACTIONS
    )
    order = np.argsort(visits.row)
    visits = visits.take(order)
    minute = table.column("code_minute")
    fresh = with_codes(table, visits)
    return fresh.set_column(fresh.schema.get_field_index("code_minute"), "code_minute", minute)


def joined_visits(tables: Sequence[Any]) -> tuple[Visits, tuple[str, ...]]:
    """The visits of some tables that hold, as one, and the trail of each box.

    Boxes go by their lasting identifiers, in the order in which they are met.
    """
    table = pa.concat_tables([recoded(one).select(READ_COLUMNS) for one in tables])
    table = table.unify_dictionaries()
    current = table.column("current").to_numpy()
    box, boxes = _coded(table, "box_id", current)
    species, species_names = _coded(table, "species", current)
    trail, trails = _coded(table, "trail", current)
    columns: dict[str, Any] = {
        "box": box,
        "day": table.column("seen_on").cast(pa.int32()).to_numpy()[current],
        "species": species,
    }
    for name in _COUNTS:
        columns[name] = table.column(name).fill_null(UNKNOWN).to_numpy()[current]
    for name in CODES:
        columns[name.removeprefix("code_")] = table.column(name).to_numpy()[current]
    visits = Visits.from_columns(
        columns,
        boxes=boxes,
        species_names=species_names,
        observers=(),
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )
    of_box = np.zeros(len(boxes), np.int64)
    of_box[box] = trail
    return visits, tuple(trails[code] for code in of_box.tolist())


def _coded(
    table: Any, name: str, current: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], tuple[str, ...]]:
    """Codes of the rows that hold, and what they stand for; the chunks share one dictionary."""
    chunks = table.column(name).chunks
    if not chunks:
        return np.zeros(0, np.int64), ()
    codes = np.concatenate([chunk.indices.fill_null(UNKNOWN).to_numpy() for chunk in chunks])
    codes = codes[current]
    words = chunks[0].dictionary.to_pylist()
    # Rows that do not hold leave words behind. The last entry serves code -1.
    used = np.zeros(len(words) + 1, bool)
    used[codes] = True
    used[-1] = False
    place = np.where(used, np.cumsum(used) - 1, UNKNOWN)
    return place[codes], tuple(words[at] for at in np.flatnonzero(used).tolist())
