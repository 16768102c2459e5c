"""The columns of the archive's tables, declared once: Arrow types, and the data dictionary."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import pyarrow as pa

from layers.nesting.dating import EVENTS
from layers.trail.field import Field, Kind, column
from layers.trail.map_schema import BOXES
from layers.trail.schema import VISITS

_UNIT_DAY = "from layers.nesting.dating, by all visits up to the day of pooling"

_WORDS = pa.dictionary(pa.int32(), pa.string())
_TYPES: Mapping[Kind, Any] = MappingProxyType(
    {
        "whole": pa.int32(),
        "number": pa.float64(),
        "day": pa.date32(),
        "moment": pa.timestamp("us", "UTC"),
        "word": _WORDS,
        "words": _WORDS,
        "yes or no": _WORDS,
        "id": _WORDS,
    }
)

CODES: Mapping[str, Any] = MappingProxyType(
    {
        "code_minute": pa.int16(),
        "code_nest": pa.int8(),
        "code_adult": pa.int8(),
        "code_eggs_warm": pa.int8(),
        "code_opened": pa.int8(),
        "code_signs": pa.int64(),
        "code_actions": pa.int64(),
    }
)
"""Columns of visits as the reader of histories takes them, so that it need not code words: what
`Visits` holds under the same name."""

ALL = frozenset({"full", "coarse"})
FULL = frozenset({"full"})
NESTS = frozenset({"nests over"})


@dataclass(frozen=True)
class Column:
    """One column: what it means, and in which releases it is filled in."""

    field: Field
    releases: frozenset[str]

    @property
    def name(self) -> str:
        return self.field.name

    @property
    def type(self) -> Any:
        """Its Arrow type."""
        # Repeated texts: a species in thousands of rows is stored once.
        if self.field.name in ("trail", "box_id", "species", "observer"):
            return _WORDS
        return _TYPES.get(self.field.kind, pa.string())


@dataclass(frozen=True)
class ArchiveTable:
    """One table of the archive: `by_season` ones are partitioned by season too."""

    name: str
    note: str
    columns: tuple[Column, ...]
    by_season: bool = True
    geometry: str | None = None


def _of(releases: frozenset[str], *fields: Field) -> tuple[Column, ...]:
    return tuple(Column(field, releases) for field in fields)


_TRAIL = replace(
    column("trail", "uuid", "lasting identifier of the trail; another one in full releases"),
    required=True,
)
_BOX_ID = replace(
    column("box_id", "uuid", "lasting identifier of the box, the same in every archive"),
    required=True,
)
EVENT_COLUMNS = ("first_egg", "complete", "hatch", "fledge", "loss")
"""Names of the dated events as columns, in the order of `dating.EVENTS`."""
ENDS = ("low_95", "low_80", "high_80", "high_95")
"""Ends of the intervals, in the order of `Dates.ends`."""


def _events() -> tuple[Field, ...]:
    fields = []
    for event, name in zip(EVENTS, EVENT_COLUMNS, strict=True):
        given = ", given that this was the end" if event in ("fledging", "loss") else ""
        fields.append(column(name, "day", f"most likely day of {event}{given}"))
        for end in ENDS:
            side, share = end.split("_")
            which = "first" if side == "low" else "last"
            fields.append(
                column(f"{name}_{end}", "day", f"{which} day of the {share} % interval of {event}")
            )
    return tuple(fields)


_COARSE_KINDS = frozenset({"whole", "number", "word", "words", "yes or no", "day"})
_NOT_COARSE = frozenset({"public", "facing_deg"})


def _stored(fields: Sequence[Field]) -> tuple[Column, ...]:
    """Columns of a trail file; a coarse release leaves out persons, moments, ids, and whatever
    text may name a place.
    """
    columns = []
    for one in fields:
        coarse = one.kind in _COARSE_KINDS or one.name == "species"
        releases = ALL if coarse and one.name not in _NOT_COARSE else FULL
        columns.append(Column(replace(one, required=False), releases))
    return tuple(columns)


TABLES: Mapping[str, ArchiveTable] = MappingProxyType(
    {
        "visits": ArchiveTable(
            "visits",
            "One look at one box, as recorded, in the season of its day.",
            (
                *_of(ALL, _TRAIL, _BOX_ID),
                *_stored(VISITS.fields),
                *_of(
                    ALL,
                    column("nest_id", "uuid", "the nesting attempt that it belongs to, if any"),
                    replace(
                        column(
                            "current",
                            "whole",
                            "true: it holds; false: a later row replaces it, or it takes one back",
                        ),
                        required=True,
                    ),
                ),
                *_of(
                    ALL,
                    *(
                        replace(
                            column(name, "whole", f"`{name[5:]}` as a number; -1: none"),
                            required=True,
                        )
                        for name in CODES
                    ),
                ),
            ),
        ),
        "boxes": ArchiveTable(
            "boxes",
            "One nest box; in a coarse release its place is the middle of a grid square.",
            (
                *_of(ALL, _TRAIL, _BOX_ID),
                *_stored(BOXES.fields),
                *_of(
                    frozenset({"coarse"}),
                    column("square", "line", "the square that stands for the place"),
                    column("uncertainty_m", "number", "metres within which the box is"),
                ),
            ),
            by_season=False,
            geometry="point",
        ),
        "attempts": ArchiveTable(
            "attempts",
            f"One nesting attempt with eggs or young, read from the visits; days {_UNIT_DAY}.",
            (
                *_of(ALL, _TRAIL, _BOX_ID),
                *_of(
                    ALL,
                    column("nest_id", "uuid", "lasting identifier of the attempt"),
                    column("attempt", "whole", "number of the attempt in its box and season"),
                    column("species", "line", "common name as in the guide"),
                    column("fate", "word", "ongoing, fledged, failed, unknown, or probably so"),
                    column("first_seen", "day", "first visit that belongs to it"),
                    column("last_seen", "day", "last visit that belongs to it"),
                    column("visits", "whole", "how many visits belong to it"),
                    column("eggs", "whole", "most eggs counted"),
                    column("young", "whole", "most living young counted"),
                    column("fledged", "whole", "young known to have fledged"),
                    column("chance_hatched", "number", "chance that eggs hatched, or will"),
                    column("chance_fledged", "number", "chance that young left, or will"),
                    *_events(),
                ),
            ),
        ),
        "nests": ArchiveTable(
            "nests",
            "One finished nest of a trail that releases nests that are over: the public rows.",
            _of(
                NESTS,
                _TRAIL,
                column("nest", "uuid", "public identifier of the nest, which lasts"),
                column("cell", "line", "its square"),
                column("species", "line", "common name as in the guide"),
                column("ended", "line", "month in which it ended"),
                column("fate", "word", "fledged, failed or unknown"),
                column("eggs", "whole", "most eggs counted; empty also where nests are few"),
                column("young", "whole", "most young counted; empty also where nests are few"),
                column("fledged", "whole", "young that left; empty also where nests are few"),
            ),
        ),
        "squares": ArchiveTable(
            "squares",
            "One grid square of a trail that releases nests that are over: the public rows.",
            _of(
                NESTS,
                _TRAIL,
                column("cell", "line", "middle and size of the square"),
                column("uncertainty_m", "number", "metres from the middle within which boxes are"),
                column("boxes", "whole", "boxes in place on the day of the release"),
                column("nests", "whole", "published nests of all seasons"),
                column("species", "line", "of those nests, joined by ;"),
            ),
            by_season=False,
            geometry="polygon",
        ),
    }
)
"""Every table of an archive by its name."""


def schema_of(table: ArchiveTable) -> Any:
    """The Arrow schema, without the geometry."""
    types = {one.name: CODES.get(one.name, one.type) for one in table.columns}
    if table.name == "visits":
        types["current"] = pa.bool_()
    return pa.schema(list(types.items()))


def dictionary_csv() -> str:
    """The data dictionary: every column of every table, for people."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(("table", "column", "type", "releases", "meaning"))
    for table in TABLES.values():
        types = schema_of(table)
        for one in table.columns:
            releases = "; ".join(sorted(one.releases))
            kind = str(types.field(one.name).type).replace("dictionary<values=string, ", "text <")
            kind = "text" if kind.startswith(("text", "string")) else kind
            writer.writerow((table.name, one.name, kind, releases, one.field.description))
        if table.by_season:
            note = "year in which the season begins: in the folder's name, not in the file"
            writer.writerow((table.name, "season", "int32", "", note))
        if table.geometry:
            writer.writerow((table.name, "geometry", table.geometry, "", "EPSG:4326"))
    return text.getvalue()
