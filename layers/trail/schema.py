"""Every field of a trail file, declared once.

A table is an annotated dictionary: its keys are the columns, their types are what
Python code gets, and the `Field` beside each says all else. From these declarations
come the tables and triggers of the file, import, the visit form and its history, the
API's models, CSV with its dictionary, the OGC schema, and the tables of README.
A column added here is added to every file that lacks it when that is opened. Boxes, paths,
places and zones are declared in `map_schema`.

Ranges are wide enough for anything real and narrow enough to find slips (inches taken
for millimetres, an age typed as a count): common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated

from typing_extensions import TypedDict

from layers.trail import words as lists
from layers.trail.field import Field, Table, table_of
from layers.trail.map_schema import BOX_ID, BOXES, PATHS, PLACES, ZONES, Text, Whole
from layers.trail.map_schema import NOTES as _NOTES

FORMAT = "boxround 2"
"""Written to `trail.format`. Older files are brought to it by `layers.trail.migrations`."""


class VisitRow(TypedDict):
    """One look at one box, as stored."""

    visit_id: Annotated[
        str,
        Field(
            "uuid", "lasting id", synonyms=("visit uuid",), automatic=True, unique=True, label="Id"
        ),
    ]
    box: Annotated[str, Field("id", "id of the box", synonyms=BOX_ID, required=True)]
    seen_on: Annotated[
        str,
        Field(
            "day",
            "local day",
            entry="date",
            synonyms=("visit date", "date of visit", "seen on", "day"),
            required=True,
            label="Day",
        ),
    ]
    seen_at: Annotated[
        Text,
        Field(
            "moment",
            "moment in UTC; given as a local time",
            entry="time",
            synonyms=("visit time", "time of visit", "seen at"),
            blank="the time is not known",
            label="Time",
        ),
    ]
    observer: Annotated[
        Text,
        Field(
            "line",
            "who made the visit",
            synonyms=("observers", "observed by", "visitor", "recorder"),
        ),
    ]
    species: Annotated[
        Text,
        Field(
            "line", "common name as in the guide", public=True, synonyms=("bird", "bird species")
        ),
    ]
    nest: Annotated[
        Text, Field("word", "nest material", words=lists.NEST, former=lists.NEST_OF_FORMAT_1)
    ]
    eggs: Annotated[
        Whole,
        Field(
            "whole",
            "eggs counted",
            between=(0, 40),
            public=True,
            synonyms=("number of eggs", "no of eggs", "egg count"),
            blank="not counted",
        ),
    ]
    eggs_warm: Annotated[
        Text,
        Field("yes or no", "whether the eggs were warm", synonyms=("warm eggs", "eggs are warm")),
    ]
    young: Annotated[
        Whole,
        Field(
            "whole",
            "living young counted",
            between=(0, 30),
            public=True,
            synonyms=("live young", "number of young", "no of young", "nestlings", "chicks"),
            blank="not counted",
            label="Living young",
        ),
    ]
    young_days: Annotated[
        Whole,
        Field(
            "whole",
            "age of the young as judged",
            unit="days",
            between=(0, 80),
            synonyms=("age of young", "age of young days", "young age days"),
            label="Age of young",
        ),
    ]
    dead_young: Annotated[
        Whole,
        Field(
            "whole",
            "dead young found",
            between=(0, 30),
            synonyms=("young dead", "dead nestlings", "dead chicks"),
            blank="not counted",
        ),
    ]
    parasite_eggs: Annotated[
        Whole,
        Field(
            "whole",
            "eggs of a brood parasite, such as a cowbird; not counted among the eggs",
            between=(0, 20),
            synonyms=("cowbird eggs", "cuckoo eggs", "parasite egg count"),
            blank="not counted",
        ),
    ]
    parasite_young: Annotated[
        Whole,
        Field(
            "whole",
            "living young of a brood parasite; not counted among the young",
            between=(0, 20),
            synonyms=("cowbird young", "cuckoo young", "cowbird nestlings"),
            blank="not counted",
        ),
    ]
    adult: Annotated[
        Text,
        Field("word", "adult bird at the box", words=lists.ADULT, synonyms=("adults", "parent")),
    ]
    signs: Annotated[
        Text,
        Field(
            "words",
            "signs of what happened",
            words=lists.SIGNS,
            extendable=True,
            synonyms=("sign",),
            blank="none recorded",
        ),
    ]
    actions: Annotated[
        Text,
        Field(
            "words",
            "work done at the visit",
            words=lists.ACTIONS,
            extendable=True,
            synonyms=("action", "work done"),
            blank="none recorded",
            label="Work done",
        ),
    ]
    confirmed: Annotated[
        Text,
        Field(
            "words",
            "what looks odd and was confirmed as right",
            words=lists.CONFIRMED,
            automatic=True,
            blank="nothing to confirm",
        ),
    ]
    opened: Annotated[
        Text,
        Field(
            "yes or no", "whether the box was opened", synonyms=("box opened",), label="Box opened"
        ),
    ]
    note: Annotated[Text, Field("text", "free text", synonyms=_NOTES)]
    own_columns: Annotated[
        Text,
        Field(
            "text",
            "columns of the keeper's own files, as JSON: name and what the cell held",
            automatic=True,
            blank="none",
        ),
    ]
    import_id: Annotated[
        Text,
        Field(
            "uuid",
            "the import that it came with",
            automatic=True,
            blank="it was not imported",
            label="Import",
        ),
    ]
    entered_at: Annotated[
        str,
        Field(
            "moment",
            "moment of entry, in UTC",
            synonyms=("entered",),
            automatic=True,
            label="Entered",
        ),
    ]
    replaces: Annotated[
        Text,
        Field(
            "uuid",
            "id of the visit that this one corrects",
            synonyms=("corrects",),
            automatic=True,
            blank="it corrects none",
        ),
    ]
    withdraws: Annotated[
        Text,
        Field(
            "yes or no",
            "whether it takes back the visit that it replaces",
            automatic=True,
            blank="no",
        ),
    ]


class TrailRow(TypedDict):
    """What holds for the whole trail."""

    name: Annotated[str, Field("line", "name of the trail", public=True, required=True)]
    timezone: Annotated[
        str, Field("line", "IANA name, such as America/New_York", required=True, label="Time zone")
    ]
    units: Annotated[
        str, Field("word", "what screens show; files are metric", words=lists.UNITS, required=True)
    ]
    season_starts: Annotated[
        str, Field("line", "month-day on which a season begins", required=True)
    ]
    visit_every_days: Annotated[
        int,
        Field(
            "whole",
            "days after which a box is due again",
            unit="days",
            between=(1, 60),
            required=True,
            label="Days between visits",
        ),
    ]
    open_ground_m: Annotated[
        Whole,
        Field(
            "whole",
            "longest leg of a round straight over open ground; 0 = boxes are reached from the"
            " nearest point of a path alone",
            unit="m",
            between=(0, 500),
            blank="250",
            label="Longest leg over open ground",
        ),
    ]
    words: Annotated[
        Text,
        Field(
            "text",
            "the trail's own words, as JSON lists by column",
            blank="none",
            label="Own words",
        ),
    ]
    guide: Annotated[
        Text,
        Field("text", "the trail's own species figures, as TOML", blank="none", label="Own guide"),
    ]
    public_rules: Annotated[
        Text, Field("text", "what the public may see, as JSON", blank="the defaults")
    ]
    import_answers: Annotated[
        Text,
        Field(
            "text", "how words of imported files were read, as JSON", automatic=True, blank="none"
        ),
    ]
    trail_id: Annotated[
        Text,
        Field(
            "uuid",
            "what the trail is called among all trails; made once",
            automatic=True,
            blank="made when the file is next opened",
        ),
    ]
    secret_id: Annotated[
        Text,
        Field(
            "uuid",
            "random and never exported: public identifiers are made with it",
            automatic=True,
            blank="made when the file is next opened",
        ),
    ]
    format: Annotated[str, Field("line", "format of this file", automatic=True, required=True)]
    version: Annotated[
        int, Field("whole", "rises with every change", automatic=True, required=True)
    ]


VISITS = table_of(
    "visits",
    None,
    "One look at one box. Rows are only ever added; a correction or a withdrawal replaces an"
    " earlier row.",
    VisitRow,
)
TRAIL = table_of("trail", None, "One row: what holds for the whole trail.", TrailRow)

TABLES: Mapping[str, Table] = MappingProxyType(
    {table.name: table for table in (BOXES, PATHS, PLACES, ZONES, VISITS, TRAIL)}
)
"""Every table of a trail file by name."""

EXTENDABLE: Mapping[str, Field] = MappingProxyType(
    {one.name: one for table in TABLES.values() for one in table.fields if one.extendable}
)
"""Columns to whose words a trail may add; their names are unique among the tables."""
