"""What a place is for a box, and where there is room for one more."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from server.siting.view import MOST_SPOTS, room_for, room_json, sited, siting_json
from server.web.problems import documented
from server.web.queries import AboutDay
from server.web.responses import Live, cached_json, requested_day
from server.web.shapes import Shape

router = APIRouter(tags=["siting"])


class AboutSite(AboutDay):
    lat: Annotated[float, Field(description="Latitude in degrees, WGS84.", ge=-90, le=90)]
    lon: Annotated[float, Field(description="Longitude in degrees, WGS84.", ge=-180, le=180)]


class AboutRoom(AboutDay):
    species: Annotated[str, Field(description="Any name of a species of the guide.")]
    most: Annotated[int, Field(description="How many spots at most.", ge=1, le=MOST_SPOTS)] = 10


class Why(Shape):
    text: str
    sources: list[str]


class BoxMeasure(Shape):
    """One measure of the box that the guide describes, in the trail's units."""

    measure: str
    text: str
    sources: list[str]


class SpeciesHere(Shape):
    """What a place is for one species: whether other boxes that could serve it keep away."""

    species: str
    nests: int
    room: Literal["room", "close", "too close", "not known"]
    why: Why
    habitat: str | None
    box: list[BoxMeasure]


class SiteAnswer(Shape):
    lat: float
    lon: float
    on: str
    against: list[Why]
    cautions: list[Why]
    species: list[SpeciesHere]


class HabitatUsed(Shape):
    """In how many of the trail's boxes in a habitat the species has laid, with the 95 % interval
    of that share.
    """

    habitat: str
    used: int
    boxes: int
    low: float
    high: float
    text: str


class SpareSpot(Shape):
    """A place along a path; `next_box` is the nearest box that could serve the species."""

    order: int
    lat: float
    lon: float
    path: str | None
    next_box: str | None
    next_m: float | None
    habitat: HabitatUsed | None


class RoomAnswer(Shape):
    species: str
    on: str
    apart_m: float
    sources: list[str]
    spots: list[SpareSpot]


@router.get("/api/site", response_model=SiteAnswer, responses=documented(422, 500))
def site(request: Request, live: Live, query: Annotated[AboutSite, Query()]) -> Response:
    """What speaks for and against a place for a box, species by species."""
    contents = live.contents()
    found = sited(contents, lon=query.lon, lat=query.lat, on=requested_day(live, query.on))
    return cached_json(request, contents, siting_json(found))


@router.get("/api/site/room", response_model=RoomAnswer, responses=documented(422, 500))
def room(request: Request, live: Live, query: Annotated[AboutRoom, Query()]) -> Response:
    """Spots along the paths with room for one more box for a species: those in the habitats whose
    boxes it uses most first, then the roomiest.
    """
    contents = live.contents()
    found = room_for(contents, query.species, on=requested_day(live, query.on), most=query.most)
    return cached_json(request, contents, room_json(found))
