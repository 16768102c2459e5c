"""The season in numbers."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import ConfigDict, Field

from layers.nesting.season.report import GROUPINGS
from layers.nesting.season.report.facts import Counts
from layers.nesting.season.result import Interval
from layers.nesting.season.samples import LeftOut
from server.season.view import BY, record_of, requested_season
from server.web.problems import documented
from server.web.queries import AboutDay
from server.web.responses import Live, cached_json, requested_day
from server.web.shapes import Shape, strict

router = APIRouter(tags=["season"])

strict(Counts, Interval, LeftOut)


class AboutSeason(AboutDay):
    year: Annotated[
        int | None,
        Field(
            description="The season, named after the year it begins in; the present or last one "
            "if left out.",
            ge=1900,
            le=2200,
        ),
    ] = None
    species: Annotated[
        str, Field(description="Only nests of this species, by any name of the guide; empty = all.")
    ] = ""
    by: Annotated[str, Field(description=f"What nests are grouped by: {', '.join(GROUPINGS)}.")] = (
        BY
    )


class Doubt(Shape):
    """Why to be careful with a number; some kinds bring numbers of their own."""

    model_config = ConfigDict(extra="allow")

    doubt: str
    text: str


class Measure(Shape):
    """One number with what it rests on; `estimate` is null where the data give no answer."""

    name: str
    unit: str
    estimate: float | None
    interval: Interval | None
    standard_error: float | None
    n: int
    counted: str
    about: str
    warnings: list[Doubt]
    left_out: dict[str, int]
    parts: dict[str, float]
    sentence: str


class Apart(Shape):
    """A season without the nests of one species."""

    species: str
    nests: int
    counts: Counts
    young: Measure


class Sentence(Shape):
    """A sentence of the report, and the values it was made from."""

    passage: str
    text: str
    values: dict[str, str | int | float]


class Method(Shape):
    assumptions: list[str]
    not_when: list[str]
    reference: str


class Season(Shape):
    """A season's report; `methods` describes what each `about` names."""

    trail: str
    season: int
    species: str | None
    on: str
    last_visit: str | None
    over: bool
    use: dict[str, Any]
    counts: Counts
    survival: dict[str, Any]
    hatching: Measure
    young: Measure
    per_attempt: Measure
    per_successful: Measure
    per_box: Measure
    apart: Apart | None
    each_species: list[dict[str, Any]]
    groups: dict[str, Any]
    losses: dict[str, Measure]
    years: dict[str, Any]
    weeks: dict[str, Any]
    boxes: list[dict[str, Any]]
    models: dict[str, Any] | None
    left_out: dict[str, list[LeftOut]]
    sentences: list[Sentence]
    methods: dict[str, Method]


@router.get("/api/season", response_model=Season, responses=documented(422, 500))
def season(request: Request, live: Live, query: Annotated[AboutSeason, Query()]) -> Response:
    """How the boxes did in a season: every measure, and the report's sentences."""
    contents, today = live.contents(), requested_day(live, query.on)
    question = requested_season(
        contents, year=query.year, species=query.species, by=query.by, today=today
    )
    return cached_json(request, contents, record_of(contents, question, today=today))
