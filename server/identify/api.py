"""Identifying the species: from what was seen of a nest to species of the guide."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from layers.nesting.key import ADULTS, FORMS, GROUNDS, MARKS, MATERIALS, Candidate, Identification
from server.identify.view import MOST_EGGS, MOST_LENGTH_MM, who_it_may_be
from server.web.problems import documented
from server.web.queries import AboutDay
from server.web.responses import Live, cached_json, requested_day
from server.web.shapes import strict

router = APIRouter(tags=["nests"])


class AboutNestSeen(AboutDay):
    material: Annotated[
        list[str],
        Field(
            default_factory=list, description=f"What the nest is made of: {', '.join(MATERIALS)}."
        ),
    ]
    form: Annotated[str | None, Field(description=f"Of the nest: {', '.join(FORMS)}.")] = None
    ground: Annotated[
        str | None, Field(description=f"Colour of the eggs, apart from marks: {', '.join(GROUNDS)}")
    ] = None
    marks: Annotated[str | None, Field(description=f"Of the eggs: {', '.join(MARKS)}.")] = None
    eggs: Annotated[int | None, Field(description="How many eggs.", ge=1, le=MOST_EGGS)] = None
    egg_length_mm: Annotated[
        float | None,
        Field(description="Length of an egg.", gt=0, le=MOST_LENGTH_MM, allow_inf_nan=False),
    ] = None
    adult: Annotated[
        str | None, Field(description=f"The bird seen at the box: {', '.join(ADULTS)}.")
    ] = None
    box: Annotated[
        str | None, Field(description="The box: species that do not pass its hole are left out.")
    ] = None


strict(Candidate, Identification)


@router.get("/api/key", response_model=Identification, responses=documented(404, 422, 500))
def key(request: Request, live: Live, query: Annotated[AboutNestSeen, Query()]) -> Response:
    """Which species a nest may belong to, why, and what to look at next."""
    contents = live.contents()
    answer = who_it_may_be(
        contents,
        on=requested_day(live, query.on),
        materials=query.material,
        form=query.form,
        ground=query.ground,
        marks=query.marks,
        eggs=query.eggs,
        egg_length_mm=query.egg_length_mm,
        adult=query.adult,
        box=query.box,
    )
    return cached_json(request, contents, answer)
