"""Parameters of the API: days, boxes and counts, checked."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from server.live.days import EXPECTED_DAY, read_day

MAX_VISITS_AT_ONCE = 1000
MAX_NEAR = 1000


def _iso_day(value: Any) -> date:
    # pydantic alone would take a plain number for a moment in seconds.
    try:
        return read_day(str(value))
    except ValueError:
        raise PydanticCustomError("day", EXPECTED_DAY) from None


Day = Annotated[date, BeforeValidator(_iso_day)]


class Parameters(BaseModel):
    """Base of every query: a name that is not on it is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class AboutDay(Parameters):
    on: Annotated[Day | None, Field(description="As known on this day; today if left out.")] = None


class AboutNests(AboutDay):
    box: Annotated[str | None, Field(description="Only of this box.")] = None
    season: Annotated[
        int | None,
        Field(description="Only of this season, named after the year it begins in.", ge=1900),
    ] = None


class AboutVisits(Parameters):
    box: Annotated[str | None, Field(description="Only of this box.")] = None
    since: Annotated[Day | None, Field(description="Only visits made on this day or later.")] = None
    limit: Annotated[
        int, Field(description="How many visits at most.", ge=1, le=MAX_VISITS_AT_ONCE)
    ] = 100
    after: Annotated[
        str | None, Field(description="Only visits entered after the one of this id.")
    ] = None
    corrected: Annotated[bool, Field(description="Also give rows that a later row replaces.")] = (
        False
    )


class AboutPlace(Parameters):
    lat: Annotated[float, Field(description="Latitude in degrees, WGS84.", ge=-90, le=90)]
    lon: Annotated[float, Field(description="Longitude in degrees, WGS84.", ge=-180, le=180)]
    k: Annotated[int, Field(description="How many boxes at most.", ge=1, le=MAX_NEAR)] = 5


class Nothing(Parameters):
    """The query of an address that takes no parameters."""
