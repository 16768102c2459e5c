"""What the API answers with, for its OpenAPI document and for tests."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, with_config

from layers.trail.map_schema import BoxRow
from layers.trail.schema import VisitRow


class Shape(BaseModel):
    """Base of every answer: tests check that nothing else is in it."""

    model_config = ConfigDict(extra="forbid")


class Point(Shape):
    type: Literal["Point"]
    coordinates: tuple[float, float]


class BoxProperties(BoxRow):
    """A box's columns, and what it is on the requested day."""

    occupancy: str
    species: str | None
    fate: str | None
    days_since_visit: int | None
    overdue: bool


def strict(*shapes: type) -> None:
    """Let types of the layers that the API answers with be as strict as a `Shape`."""
    for shape in shapes:
        with_config(ConfigDict(extra="forbid"))(shape)


strict(BoxProperties, VisitRow)


class BoxFeature(Shape):
    type: Literal["Feature"]
    id: str
    geometry: Point | None
    properties: BoxProperties


class BoxCollection(Shape):
    """GeoJSON (RFC 7946), with the day that the states are of."""

    type: Literal["FeatureCollection"]
    on: str
    features: list[BoxFeature]


class Nest(Shape):
    """One attempt."""

    box: str
    attempt: int
    season: int
    species: str | None
    first_seen: str
    last_seen: str
    stage: str
    eggs_max: int | None
    young_max: int | None
    young_fledged: int | None
    fate: str
    fledged_chance: float | None
    cause: str | None
    reasons: list[str]


class Found(Shape):
    """One visit as its box's card shows it."""

    visit_id: str
    date: str
    time: str | None
    observer: str | None
    species: str | None
    inside: str
    stage: str | None
    signs: list[str]
    actions: list[str]
    note: str | None
    own_columns: dict[str, str]


class BarPart(Shape):
    """One stage of an attempt; `to` is the first day after it."""

    from_: Annotated[str, Field(alias="from")]
    to: str
    stage: str


class DatedEvent(Shape):
    """When one event was or will be: the likeliest day, and whole days, both included."""

    event: str
    best: str
    within_80: tuple[str, str]
    within_95: tuple[str, str]
    chance: float
    event_label: str
    best_text: str
    interval_80: str
    interval_95: str


class ForecastDays(Shape):
    """One thing that comes next; `last` is null where it holds from `first` on."""

    kind: str
    first: str
    last: str | None
    best: str | None
    chance: float
    goes_on: float
    memory: bool
    sources: list[str]
    text: str


class PicturePart(Shape):
    """A bar of a picture; `to` is the first day after it."""

    style: str
    from_: Annotated[str, Field(alias="from")]
    to: str


class PictureRow(Shape):
    label: str
    parts: list[PicturePart]


class Picture(Shape):
    """A nest's days drawn along one axis; `to` is the first day after it."""

    from_: Annotated[str, Field(alias="from")]
    to: str
    marks: list[str]
    rows: list[PictureRow]


class NestWithDays(Nest):
    """An attempt with its days, from the visits up to `known_on`."""

    bar: list[BarPart]
    known_on: str
    days: list[DatedEvent]
    forecast: list[ForecastDays]
    contradiction: str | None
    date_reasons: list[str]
    memory: list[str]
    picture: Picture | None


class Needed(Shape):
    """What a box needs on a day, and how to approach it."""

    due: bool
    urgency: str
    until: str | None
    reasons: list[str]
    approach: str
    approach_text: str
    expected: str


class Card(Shape):
    """All that is known of one box; `facts` are label and text in the trail's units.

    `due` is null where the box does not stand on that day.
    """

    on: str
    box: str
    name: str | None
    section: str | None
    lon: float | None
    lat: float | None
    facts: list[tuple[str, str]]
    due: Needed | None
    attempts: list[NestWithDays]
    visits: list[Found]
    cautions: list[str]


class Near(Shape):
    box: str
    distance_m: float
    bearing_deg: float | None
    direction: str


class VisitList(Shape):
    """Visits in the order they were entered; `next` is the address of those that follow, if any."""

    visits: list[VisitRow]
    next: str | None


class Health(Shape):
    status: Literal["ok"]
    version: int
    boxes: int
    visits: int
    on: str
