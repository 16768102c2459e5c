"""Which columns a file may have, which of them is which of ours, and how its cells are read.

All from the declarations of `layers.trail.schema`.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from types import MappingProxyType
from typing import Any, Literal

from layers.errors import Fault, Refused
from layers.trail.field import Field
from layers.trail.importing import cells
from layers.trail.importing.cells import Cells
from layers.trail.importing.dates import DayOrder, day, stored_moment
from layers.trail.measures import M_PER_FOOT, MM_PER_INCH
from layers.trail.recurring import recurring_days
from layers.trail.schema import TABLES
from layers.trail.words import nearest_words

Kind = Literal["boxes", "visits", "paths", "places", "zones"]
KINDS: tuple[Kind, ...] = ("boxes", "visits", "paths", "places", "zones")

Reader = Callable[[object], Any]
"""Gives the clean value of a cell that is not blank; raises `BadValue`."""

_UNITS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "mm": {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH},
        "m": {"m": 1.0, "cm": 0.01, "ft": M_PER_FOOT},
    }
)
"""Units that a length stored in millimetres or metres may come in, and factors into those."""


def units_of(field: Field) -> Mapping[str, float]:
    """Columns of a file that may hold a length in one unit each, with the factor; else empty."""
    units = _UNITS.get(field.unit or "", {}) if field.kind == "number" else {}
    stem = field.name.removesuffix(f"_{field.unit}")
    return {f"{stem}_{unit}": factor for unit, factor in units.items() if stem != field.name}


def _names(kind: Kind) -> Mapping[str, tuple[str, ...]]:
    names: dict[str, tuple[str, ...]] = {}
    # What the program fills in by itself comes last: a person rarely gives it.
    for field in sorted(TABLES[kind].fields, key=lambda field: field.automatic):
        for name in units_of(field) or (field.entry_name,):
            names[name] = field.synonyms if name in (field.entry_name, field.name) else ()
    return names


COLUMNS: Mapping[Kind, Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {kind: _names(kind) for kind in KINDS}
)
"""Columns a person gives, each with other plain names for it; `hole_in` is in inches."""

REQUIRED: Mapping[Kind, tuple[str, ...]] = MappingProxyType(
    {
        kind: tuple(
            field.entry_name
            for field in TABLES[kind].fields
            if field.required and not field.automatic
        )
        for kind in KINDS
    }
)


def reader_of(
    field: Field,
    *,
    words: Sequence[str] | None = None,
    dates: DayOrder | None = None,
    today: date | None = None,
) -> Reader:
    """What reads the cells of a column.

    Parameters
    ----------
    words
        The words it may hold, where the trail has more than were declared.
    dates
        How days like 03/04/2026 are meant; None = such a day is refused.
    today
        No day is later; None = any day.
    """
    least = -math.inf if field.least is None else field.least
    most = math.inf if field.most is None else field.most
    known = field.words if words is None else words

    def iso_day(value: object) -> str:
        return day(value, order=dates, latest=today).isoformat()

    readers: Mapping[str, Reader] = {
        "id": cells.box_id,
        "uuid": cells.uuid_text,
        "line": cells.line,
        "text": cells.text,
        "word": partial(cells.word, column=field.name, known=known, former=field.former),
        "words": partial(cells.words, column=field.name, known=known),
        "yes or no": cells.yes_no,
        "whole": partial(cells.count, least=least, most=most),
        "number": partial(cells.measure, unit=field.unit or "", low=least, high=most),
        "day": iso_day,
        "moment": stored_moment,
        "recurring days": lambda value: recurring_days(cells.line(value)),
    }
    is_direction = (field.unit, field.between) == ("degrees", (0, 360))
    return cells.facing if is_direction else readers[field.kind]


def read_length(row: Cells, field: Field) -> float | None:
    """A length in its stored unit, from whichever column of it is filled in."""
    units = units_of(field)
    filled = [name for name in units if row.is_filled(name)]
    if len(filled) > 1:
        row.fault("one column of a measure", ", ".join(filled), field.name)
        return None
    if not filled:
        return None
    name = filled[0]
    low, high = field.between or (-math.inf, math.inf)
    parse = partial(
        cells.measure, unit=name.rpartition("_")[2], low=low, high=high, factor=units[name]
    )
    return row.optional(name, parse)


@dataclass(frozen=True)
class Columns:
    """Our columns found in a file.

    Attributes
    ----------
    at
        Our column name to its position in the header.
    chosen
        Our column name to the name in the file.
    others
        Position and name of the columns that stand for none of ours.
    """

    at: Mapping[str, int]
    chosen: Mapping[str, str]
    others: tuple[tuple[int, str], ...]


def choose_columns(
    header: Sequence[str],
    *,
    names: Mapping[str, tuple[str, ...]],
    mapping: Mapping[str, str],
    file: str,
) -> Columns:
    """Match a header with our columns.

    Parameters
    ----------
    names
        Our column names, each with other plain names for it, the likelier first. Case,
        spaces and punctuation of a header do not matter.
    mapping
        Our column name to the file's, as a person gave it; goes before all matching.

    Raises
    ------
    Refused
        A column of `mapping` is not ours or not in the file, or two columns bear the name
        of one of ours.
    """
    faults = []
    at: dict[str, int] = {}
    for ours, theirs in mapping.items():
        position = _position(header, theirs)
        if ours not in names:
            hint = nearest_words(ours, names) or list(names)
            faults.append(
                Fault(f"a column of ours such as {', '.join(hint)}", repr(ours), file=file)
            )
        elif position is None:
            hint = nearest_words(theirs, header) or list(header)
            faults.append(
                Fault(f"a column of the file such as {', '.join(hint)}", repr(theirs), file=file)
            )
        else:
            at[ours] = position
    folded: dict[str, list[int]] = {}
    for i, name in enumerate(header):
        if i not in at.values():
            folded.setdefault(_fold(name), []).append(i)
    for ours, others in names.items():
        for name in () if ours in at else map(_fold, (ours, *others)):
            positions = folded.get(name, [])
            if len(positions) > 1:
                faults.append(
                    Fault(
                        "one column of that name",
                        ", ".join(repr(header[i]) for i in positions),
                        file=file,
                        column=ours,
                    )
                )
            if positions:
                at[ours] = positions[0]
                break
    if faults:
        raise Refused(f"{file} was refused; nothing was added", tuple(faults))
    taken = set(at.values())
    return Columns(
        at=at,
        chosen={ours: header[i] for ours, i in at.items()},
        others=tuple((i, name) for i, name in enumerate(header) if i not in taken),
    )


def _position(header: Sequence[str], name: str) -> int | None:
    """Where a column is: of exactly that name, else of a name that reads the same."""
    if name in header:
        return header.index(name)
    alike = [i for i, theirs in enumerate(header) if _fold(theirs) == _fold(name)]
    return alike[0] if len(alike) == 1 else None


def _fold(name: str) -> str:
    plain = unicodedata.normalize("NFKC", name).casefold()
    return " ".join(re.sub(r"[\W_]+", " ", plain).split())
