"""The tables of a trail file: names, columns and kinds, in one place.

`geopackage.py` makes the SQL from this; the docs' table is generated from it too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Kind = Literal["TEXT", "INTEGER", "REAL", "DATE", "DATETIME"]
Geometry = Literal["POINT", "LINESTRING", "POLYGON"]

FORMAT = "boxround 1"
"""Written to `trail.format`; a file with another format is refused."""


@dataclass(frozen=True)
class Column:
    """One column: `note` says unit, words and what it means, for people."""

    name: str
    kind: Kind
    note: str
    unique: bool = False
    required: bool = False


@dataclass(frozen=True)
class Table:
    """One table; `geometry` is None for a table without places."""

    name: str
    geometry: Geometry | None
    note: str
    fields: tuple[Column, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names, without `fid` and the geometry."""
        return tuple(column.name for column in self.fields)

    def kind(self, column: str) -> Kind:
        return next(field.kind for field in self.fields if field.name == column)


BOXES = Table(
    "boxes",
    "POINT",
    "One row a nest box.",
    (
        Column("box", "TEXT", "id painted on the box", unique=True, required=True),
        Column("name", "TEXT", "a name people use"),
        Column("section", "TEXT", "part of the trail"),
        Column("hole_mm", "REAL", "entrance width in millimetres"),
        Column("hole_shape", "TEXT", "round, oval, slot, open, or other words"),
        Column("floor_mm", "REAL", "shorter inside width of the floor in millimetres"),
        Column("depth_mm", "REAL", "floor up to the lower edge of the hole, in millimetres"),
        Column("height_m", "REAL", "hole above ground in metres"),
        Column("facing_deg", "REAL", "compass direction the hole faces, degrees from north"),
        Column("mount", "TEXT", "what it hangs on"),
        Column("guards", "TEXT", "words joined by ;"),
        Column("opens", "TEXT", "side, front, top"),
        Column("pair", "TEXT", "id of the box it is paired with"),
        Column("habitat", "TEXT", "habitat around it"),
        Column("installed_on", "DATE", "first day it stood"),
        Column("removed_on", "DATE", "first day it no longer stood"),
        Column("cleaned_on", "DATE", "last cleaned outside a visit"),
        Column("public", "TEXT", "shown, coarse or hidden on public pages"),
        Column("note", "TEXT", "free text"),
    ),
)

PATHS = Table(
    "paths",
    "LINESTRING",
    "One row a path; heights kept when given.",
    (
        Column("name", "TEXT", "a name people use"),
        Column("kind", "TEXT", "path, track, road, steps, bridge, or other words"),
        Column("open_to", "TEXT", "all, team or closed"),
        Column("level", "INTEGER", "0 on the ground, 1 on a bridge, -1 beneath"),
    ),
)

PLACES = Table(
    "places",
    "POINT",
    "Starts, hazards and landmarks.",
    (
        Column("name", "TEXT", "what people call it"),
        Column("kind", "TEXT", "start, hazard or landmark"),
    ),
)

ZONES = Table(
    "zones",
    "POLYGON",
    "Areas: habitat, keep_out, building, water.",
    (
        Column("name", "TEXT", "what people call it"),
        Column("kind", "TEXT", "habitat, keep_out, building or water"),
        Column("detail", "TEXT", "kind of habitat, reason to keep out, dates"),
    ),
)

VISITS = Table(
    "visits",
    None,
    "One look at one box. Rows are only ever added; a correction replaces an earlier row.",
    (
        Column("visit_id", "TEXT", "uuid", unique=True),
        Column("box", "TEXT", "id of the box", required=True),
        Column("seen_on", "DATE", "local day", required=True),
        Column("seen_at", "DATETIME", "UTC, only where the time is known"),
        Column("observer", "TEXT", "who looked"),
        Column("species", "TEXT", "common name as in the guide"),
        Column("nest", "TEXT", "none, partial, full, lined"),
        Column("eggs", "INTEGER", "eggs counted"),
        Column("eggs_warm", "TEXT", "yes, no"),
        Column("young", "INTEGER", "living young counted"),
        Column("young_days", "INTEGER", "age of the young in days, as judged"),
        Column("dead_young", "INTEGER", "dead young found"),
        Column("adult", "TEXT", "none, near, flushed, sitting, feeding"),
        Column("signs", "TEXT", "words joined by ;"),
        Column("actions", "TEXT", "words joined by ;"),
        Column("opened", "TEXT", "yes, no"),
        Column("note", "TEXT", "free text"),
        Column("entered_at", "DATETIME", "UTC moment the row was entered"),
        Column("replaces", "TEXT", "visit_id of the row that this one corrects"),
    ),
)

TRAIL = Table(
    "trail",
    None,
    "One row: what holds for the whole trail.",
    (
        Column("name", "TEXT", "name of the trail", required=True),
        Column("timezone", "TEXT", "IANA name, such as America/New_York", required=True),
        Column("units", "TEXT", "metric or us; what screens show, files are metric", required=True),
        Column("season_starts", "TEXT", "month-day on which a season begins", required=True),
        Column("visit_every_days", "INTEGER", "days between visits", required=True),
        Column("words", "TEXT", "the trail's own words, as JSON lists by column"),
        Column("guide", "TEXT", "the trail's own species figures, as TOML"),
        Column("public_rules", "TEXT", "what the public may see, as JSON"),
        Column("format", "TEXT", "layout of this file", required=True),
        Column("version", "INTEGER", "rises with every change", required=True),
    ),
)

TABLES: Mapping[str, Table] = MappingProxyType(
    {table.name: table for table in (BOXES, PATHS, PLACES, ZONES, VISITS, TRAIL)}
)
"""Every table of a trail file by name."""

MOST: Mapping[str, int] = MappingProxyType(
    {"eggs": 40, "young": 30, "young_days": 80, "dead_young": 30}
)
"""Above these a count of a visit is a slip; well over any species of the guide, common
practice, no source."""
