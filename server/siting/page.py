"""The page on which a keeper looks for a place for a box."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import BeforeValidator, Field

from layers.errors import CallerError
from layers.nesting.siting import ALWAYS, ROOMS
from layers.trail.measures import format_distance
from server.siting.view import Room, room_for, sited, species_with_room
from server.web.problems import STATUS
from server.web.queries import AboutDay
from server.web.responses import Live, cached_page, requested_day

router = APIRouter(include_in_schema=False)

SPOTS = 12

# A form sends an empty text for what was left out.
_Blank = BeforeValidator(lambda value: value or None)


class AboutSitePage(AboutDay):
    lat: Annotated[float | None, Field(ge=-90, le=90), _Blank] = None
    lon: Annotated[float | None, Field(ge=-180, le=180), _Blank] = None
    species: Annotated[str | None, _Blank] = None


@router.get("/site")
def site_page(request: Request, live: Live, query: Annotated[AboutSitePage, Query()]) -> Response:
    """A place judged, or spots with room for a species, or both; and the form."""
    contents = live.contents()
    on = requested_day(live, query.on)
    units = contents.settings.units
    found = room = refused = None
    if query.lat is not None and query.lon is not None:
        found = sited(contents, lon=query.lon, lat=query.lat, on=on)
    if query.species is not None:
        try:
            room = room_for(contents, query.species, on=on, most=SPOTS)
        except CallerError as error:
            refused = error
    values = {
        "on": on,
        "query": query,
        "choices": species_with_room(contents, on=on),
        "found": found,
        "room": room,
        "refused": refused,
        "rooms": ROOMS,
        "always": ALWAYS,
        "spots": _spots(room),
        "units": units,
        "distance": partial(format_distance, units=units),
    }
    answer = cached_page(request, contents, "siting.html", values)
    if refused is not None:
        answer.status_code = STATUS[type(refused)]
    return answer


def _spots(room: Room | None) -> list[list[float]]:
    """Latitude and longitude of each spot, for the map."""
    if room is None:
        return []
    return [[round(one.lat, 6), round(one.lon, 6)] for one in room.spots]
