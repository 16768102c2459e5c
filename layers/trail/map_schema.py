"""The fields of boxes, paths, places and zones: the tables of what is on the map.

Part of the declarations of `layers.trail.schema`, whose rules hold here too.
"""

from __future__ import annotations

from typing import Annotated

from typing_extensions import TypedDict

from layers.trail import words as lists
from layers.trail.field import Field, table_of

Text = str | None
Whole = int | None
Number = float | None

NOTES = ("notes", "comment", "comments", "remarks")
BOX_ID = ("box id", "box no", "box number", "nest box", "nestbox", "nestbox id")


class BoxRow(TypedDict):
    """One nest box."""

    box: Annotated[
        str, Field("id", "id painted on the box", synonyms=BOX_ID, required=True, unique=True)
    ]
    name: Annotated[Text, Field("line", "a name people use", synonyms=("box name",))]
    section: Annotated[Text, Field("line", "part of the trail")]
    hole_mm: Annotated[
        Number, Field("number", "entrance width", unit="mm", between=(10, 400), label="Hole")
    ]
    hole_shape: Annotated[
        Text, Field("line", "round, oval, slot, open, or other words", synonyms=("shape of hole",))
    ]
    floor_mm: Annotated[
        Number,
        Field("number", "shorter inside width", unit="mm", between=(40, 1500), label="Floor"),
    ]
    depth_mm: Annotated[
        Number,
        Field(
            "number",
            "floor to lower edge of hole",
            unit="mm",
            between=(40, 2500),
            label="Depth below hole",
        ),
    ]
    height_m: Annotated[
        Number, Field("number", "hole above ground", unit="m", between=(0, 60), label="Height")
    ]
    facing_deg: Annotated[
        Number,
        Field(
            "number",
            "compass direction of the hole",
            unit="degrees",
            between=(0, 360),
            synonyms=("facing", "faces", "aspect", "orientation"),
            label="Facing",
        ),
    ]
    mount: Annotated[Text, Field("line", "what it hangs on", synonyms=("mounted on", "mounting"))]
    guards: Annotated[
        Text,
        Field(
            "words",
            "what keeps predators out",
            words=lists.GUARDS,
            extendable=True,
            synonyms=("guard", "predator guard"),
        ),
    ]
    opens: Annotated[Text, Field("line", "side, front, top")]
    pair: Annotated[
        Text,
        Field(
            "id",
            "id of the box it is paired with",
            blank="not paired",
            synonyms=("paired with",),
            label="Paired with",
        ),
    ]
    habitat: Annotated[Text, Field("line", "habitat around it")]
    installed_on: Annotated[
        Text,
        Field(
            "day",
            "first day it stood",
            blank="before all records",
            synonyms=("installed", "date installed"),
            label="Installed",
        ),
    ]
    removed_on: Annotated[
        Text,
        Field(
            "day",
            "first day it no longer stood",
            blank="it stands",
            synonyms=("removed", "date removed"),
            label="Removed",
        ),
    ]
    cleaned_on: Annotated[
        Text,
        Field(
            "day",
            "last cleaned outside a visit",
            synonyms=("cleaned", "date cleaned", "last cleaned"),
            label="Cleaned",
        ),
    ]
    public: Annotated[
        Text,
        Field(
            "word",
            "how public pages show it",
            words=lists.PUBLIC,
            blank="as the public rule `unmarked` says",
        ),
    ]
    note: Annotated[Text, Field("text", "free text", synonyms=(*NOTES, "desc", "description"))]


class PathRow(TypedDict):
    """One path."""

    name: Annotated[Text, Field("line", "a name people use", public=True, synonyms=("path",))]
    kind: Annotated[
        Text, Field("line", "path, track, road, steps, bridge, one way, or others", public=True)
    ]
    open_to: Annotated[
        Text, Field("word", "who may walk it", words=lists.OPEN_TO, blank="all", synonyms=("open",))
    ]
    closed_when: Annotated[
        Text,
        Field(
            "recurring days",
            "when it is closed, such as 03-01/07-31 for every year, or 2026-11-14",
            blank="as `open_to` says, all year",
        ),
    ]
    level: Annotated[
        Whole,
        Field("whole", "0 on the ground, 1 on a bridge, -1 beneath", between=(-9, 9), blank="0"),
    ]


class PlaceRow(TypedDict):
    """A start, a hazard or a landmark."""

    name: Annotated[Text, Field("line", "what people call it", public=True, synonyms=("place",))]
    kind: Annotated[Text, Field("word", "what it is", words=lists.PLACE_KINDS, public=True)]


class ZoneRow(TypedDict):
    """One area."""

    name: Annotated[Text, Field("line", "what people call it", public=True, synonyms=("zone",))]
    kind: Annotated[Text, Field("word", "what it is", words=lists.ZONE_KINDS, public=True)]
    ground: Annotated[
        Text,
        Field(
            "word",
            "whether rounds may leave the paths here, and how hard the going is",
            words=lists.GROUNDS,
            blank="open",
        ),
    ]
    closed_when: Annotated[
        Text,
        Field(
            "recurring days",
            "when to keep out of it, whatever its kind, such as 03-01/07-31 or 2026-11-14",
            blank="a zone to keep out of all year, another never",
        ),
    ]
    detail: Annotated[
        Text,
        Field(
            "text",
            "kind of habitat, reason to keep out, dates",
            synonyms=("details", "desc", "description", "note", "notes"),
        ),
    ]


BOXES = table_of("boxes", "POINT", "One row a nest box.", BoxRow)
PATHS = table_of("paths", "LINESTRING", "One row a path; heights kept when given.", PathRow)
PLACES = table_of("places", "POINT", "Starts, hazards and landmarks.", PlaceRow)
ZONES = table_of("zones", "POLYGON", "Areas: habitat, keep_out, building, water.", ZoneRow)
