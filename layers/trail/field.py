"""What a declaration of `layers.trail.schema` says of a column, and of a table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any, Literal, get_type_hints

from layers.trail.words import YES_NO

Kind = Literal[
    "id",
    "uuid",
    "line",
    "text",
    "word",
    "words",
    "yes or no",
    "whole",
    "number",
    "day",
    "moment",
    "recurring days",
]
Storage = Literal["TEXT", "INTEGER", "REAL", "DATE", "DATETIME"]
Geometry = Literal["POINT", "LINESTRING", "POLYGON"]

_STORAGE: Mapping[Kind, Storage] = MappingProxyType(
    {"whole": "INTEGER", "number": "REAL", "day": "DATE", "moment": "DATETIME"}
)
_JSON: Mapping[Storage, Mapping[str, str]] = MappingProxyType(
    {
        "TEXT": {"type": "string"},
        "INTEGER": {"type": "integer"},
        "REAL": {"type": "number"},
        "DATE": {"type": "string", "format": "date"},
        "DATETIME": {"type": "string", "format": "date-time"},
    }
)


@dataclass(frozen=True)
class Field:
    """One column.

    Attributes
    ----------
    note
        What it means, for people; see `description` for the whole of it.
    name
        Name of the column.
    label
        Its name on screens; made from `name` unless given.
    unit
        Unit of a number, as people write it.
    between
        Least and most that a number may be; None = open.
    words
        Words that the column may hold, where it has a list.
    extendable
        Whether a trail may add words of its own.
    former
        Words of older files -> the word that has replaced each.
    synonyms
        Other plain names for the column in files that are imported.
    blank
        What an empty cell means.
    public
        Whether the public may see it, as far as the rules of the trail allow.
    entry
        Its name in forms and imported files, where that is another.
    automatic
        Whether the program fills it in by itself.
    required, unique
        Whether the table refuses an empty cell, or the same value twice.
    """

    kind: Kind
    note: str
    name: str = ""
    label: str = ""
    unit: str | None = None
    between: tuple[int, int] | None = None
    words: tuple[str, ...] = ()
    extendable: bool = False
    former: Mapping[str, str] = field(default_factory=dict)
    synonyms: tuple[str, ...] = ()
    blank: str = "not recorded"
    public: bool = False
    entry: str = ""
    automatic: bool = False
    required: bool = False
    unique: bool = False

    def __post_init__(self) -> None:
        if self.name and not self.label:
            object.__setattr__(self, "label", self.name.replace("_", " ").capitalize())
        if self.kind == "yes or no":
            object.__setattr__(self, "words", YES_NO)

    @property
    def entry_name(self) -> str:
        """The name by which people give it."""
        return self.entry or self.name

    @property
    def storage(self) -> Storage:
        """How the file keeps it."""
        return _STORAGE.get(self.kind, "TEXT")

    @property
    def least(self) -> int | None:
        return None if self.between is None else self.between[0]

    @property
    def most(self) -> int | None:
        return None if self.between is None else self.between[1]

    @property
    def range_text(self) -> str:
        """The range of a number in words; empty where it is open."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.least} to {self.most}{unit}" if self.between else unit.strip()

    @property
    def description(self) -> str:
        """What it means, with its words, its range and what an empty cell means."""
        joined = "words joined by ;, of " if self.kind == "words" else ""
        more = ", and words of the trail's own" if self.extendable else ""
        held = f"{joined}{', '.join(self.words)}{more}" if self.words else self.range_text
        blank = "" if self.required else f"empty: {self.blank}"
        return "; ".join(part for part in (self.note, held, blank) if part)

    def json_schema(self) -> dict[str, Any]:
        """The JSON schema of a value that is there."""
        bounds = {"minimum": self.least, "maximum": self.most}
        return {
            **_JSON[self.storage],
            **{key: value for key, value in bounds.items() if value is not None},
            "title": self.label,
            "description": self.description,
        }

    def __get_pydantic_json_schema__(
        self, core: Any, handler: Callable[[Any], dict[str, Any]]
    ) -> dict[str, Any]:
        """Called by pydantic, so that models made of these columns are documented."""
        return handler(core) | {"title": self.label, "description": self.description}


@dataclass(frozen=True)
class Table:
    """One table; `geometry` is None for a table without places."""

    name: str
    geometry: Geometry | None
    note: str
    fields: tuple[Field, ...]

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """Column names, without `fid` and the geometry."""
        return tuple(column.name for column in self.fields)

    def __getitem__(self, column: str) -> Field:
        return next(field for field in self.fields if field.name == column)


def table_of(name: str, geometry: Geometry | None, note: str, rows: type) -> Table:
    """A table whose columns an annotated dictionary declares."""
    hints = get_type_hints(rows, include_extras=True)
    fields = (replace(hint.__metadata__[0], name=name) for name, hint in hints.items())
    return Table(name, geometry, note, tuple(fields))


def column(name: str, kind: Kind, note: str, *, unit: str | None = None) -> Field:
    """A column of a table that is computed, not stored."""
    return Field(kind, note, name=name, unit=unit)
