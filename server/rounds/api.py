"""The round: which boxes, in what order, over which paths, how long."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Annotated, Any, Literal, ParamSpec, TypeVar

from anyio import to_thread
from fastapi import APIRouter, Query, Request, Response
from pydantic import BeforeValidator, Field

from layers.walking.pace import PACES, pace_of
from layers.walking.round.breaks import NO_BREAKS, Breaks
from layers.walking.round.clock import DAY_MINUTES, clock
from layers.walking.round.problem import MAX_WALKERS
from server.live.ground import Ground
from server.live.trail import LiveTrail
from server.rounds.planning import Planned, planned_once
from server.rounds.request import RoundRequest, Sample, read_time, read_windows
from server.web.problems import documented
from server.web.queries import AboutDay
from server.web.responses import Live, cached, cached_json, requested_day
from server.web.shapes import Shape

router = APIRouter(tags=["round"])

P = ParamSpec("P")
T = TypeVar("T")


GPX = "application/gpx+xml"
GEOJSON = "application/geo+json"
"""Media types: the one in use for GPX (none is registered), and that of RFC 7946."""


def _blank_is_none(value: Any) -> Any:
    # A form sends an empty field as empty text.
    return None if value == "" else value


Blank = BeforeValidator(_blank_is_none)


class BreaksQuery(AboutDay):
    """Breaks of each walk, whether of a day or of a week."""

    break_minutes: Annotated[
        Annotated[float, Field(ge=0, le=DAY_MINUTES, allow_inf_nan=False)] | None,
        Blank,
        Field(description="Minutes of a break; none if left out."),
    ] = None
    break_after: Annotated[
        Annotated[float, Field(ge=1, le=DAY_MINUTES, allow_inf_nan=False)] | None,
        Blank,
        Field(description="A break comes after every so many minutes of the walk."),
    ] = None

    @property
    def breaks(self) -> Breaks:
        """The breaks, none where no minutes are given."""
        return Breaks(self.break_minutes or 0.0, self.break_after or NO_BREAKS.after)


class RoundQuery(BreaksQuery):
    """A round as it is requested; empty fields count as left out."""

    set: Annotated[
        Sample,
        Field(description="The due list, every box in place, some sections, or some boxes."),
    ] = "due"
    section: Annotated[tuple[str, ...], Field(description="Sections, with `set=section`.")] = ()
    boxes: Annotated[
        tuple[str, ...],
        Field(description="Box ids, with `set=boxes`; one value may hold several with commas."),
    ] = ()
    order: Annotated[
        Literal["best", "given"],
        Field(description="The best order, or that of `boxes`, as it was planned before."),
    ] = "best"
    from_: Annotated[
        str | None,
        Blank,
        Field(alias="from", description="Place to set out from; the trail's first start."),
    ] = None
    to: Annotated[str | None, Blank, Field(description="Place to end at; where it began.")] = None
    minutes: Annotated[
        Annotated[float, Field(gt=0, le=DAY_MINUTES, allow_inf_nan=False)] | None,
        Blank,
        Field(description="Time that each walker has."),
    ] = None
    walkers: Annotated[
        int, Field(description="People who share the boxes.", ge=1, le=MAX_WALKERS)
    ] = 1
    pace: Annotated[str, Field(description=f"One of {', '.join(PACES)}, or km/h.")] = "normal"
    leave: Annotated[str, Field(description="When to set out, such as 08:30.")] = clock(
        RoundRequest.leave_at
    )
    stop_minutes: Annotated[
        float,
        Field(
            description="Time for a look inside one box.",
            ge=0,
            le=DAY_MINUTES,
            allow_inf_nan=False,
        ),
    ] = RoundRequest.stop_minutes

    window: Annotated[
        tuple[str, ...],
        Field(
            description="Hours between which the visit to a box may begin, such as "
            "`M05=08:00-10:00`; one value may hold several with commas."
        ),
    ] = ()

    like: Annotated[
        tuple[str, ...],
        Field(
            description="Boxes in the order of an earlier round; the new one stays near it where "
            "that costs little. One value may hold several with commas."
        ),
    ] = ()

    def wanted(self, ground: Ground, *, today: date) -> RoundRequest:
        """The request, with the names of a trail's ground."""
        names = {"boxes": _box_ids(self.boxes, ground), "section": self.section}
        return RoundRequest(
            on=self.on or today,
            which=self.set,
            names=names.get(self.set, ()),
            keep_order=self.order == "given",
            start=self.from_,
            end=self.to,
            budget_minutes=self.minutes,
            walkers=self.walkers,
            pace=pace_of(self.pace),
            stop_minutes=self.stop_minutes,
            leave_at=read_time(self.leave, column="leave"),
            windows=read_windows(self.window, ground.ids),
            like=_box_ids(self.like, ground),
            breaks=self.breaks,
        )


def _box_ids(values: tuple[str, ...], ground: Ground) -> tuple[str, ...]:
    """Ids from values that are an id each, or hold several; an id may itself hold a comma."""
    every = set(ground.ids)
    found: list[str] = []
    for value in values:
        for part in (value,) if value in every else re.split(r"[,;\n]", value):
            cleaned = part.strip()
            found += [cleaned] if cleaned in every else cleaned.split()
    return tuple(found)


class RoundFileQuery(RoundQuery):
    format: Literal["json", "gpx", "geojson"] = "json"


async def in_turn(request: Request, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
    """What `work` gives, from a thread; a few at a time, so that other requests go on."""
    planners = request.app.state.planners
    return await to_thread.run_sync(partial(work, *given, **named), limiter=planners)


class Stop(Shape):
    """A box of the round, and the leg that leads to it; climb is null where not known."""

    box: str
    order: int
    walker: int
    lon: float
    lat: float
    approach: str
    from_: Annotated[str, Field(alias="from")]
    to: str
    leg_m: float
    leg_minutes: float
    climb_m: float | None
    off_path_m: float
    break_minutes: float
    compass: str
    arrives: str
    waits: float
    stop_minutes: float
    instruction: str


class Home(Shape):
    """The leg from the last stop to the end."""

    from_: Annotated[str, Field(alias="from")]
    to: str
    leg_m: float
    leg_minutes: float
    climb_m: float | None
    off_path_m: float
    break_minutes: float
    compass: str
    instruction: str


class Profile(Shape):
    """Heights along a walk; null where not known."""

    along_m: list[float]
    height_m: list[float | None]


class OneWalk(Shape):
    """What one walker does."""

    walker: int
    boxes: list[str]
    length_m: float
    minutes: float
    climb_m: float | None
    returns_at: str
    home: Home | None
    profile: Profile


class LeftOutShape(Shape):
    box: str
    reason: str


class ProofShape(Shape):
    """How good the round is at worst: what it comes to, and what no round can better."""

    text: str
    optimal: bool
    measure: str
    value: float
    bound: float
    gap: float


class Lines(Shape):
    """The way of each walker, in GeoJSON's form."""

    type: Literal["MultiLineString"]
    coordinates: list[list[tuple[float, float]]]


class RoundShape(Shape):
    """A planned round; lengths in metres, times in minutes or as hours and minutes.

    `order_costs_m` is what the order of an earlier round costs, null where it is walked anew.
    """

    on: str
    set: Sample
    from_: Annotated[str, Field(alias="from")]
    to: str
    stops: list[Stop]
    walks: list[OneWalk]
    length_m: float
    minutes: float
    climb_m: float | None
    leave_at: str
    left_out: list[LeftOutShape]
    warnings: list[str]
    straight: bool
    order_costs_m: float | None
    proof: ProofShape
    geometry: Lines
    path_notes: list[str]
    assumptions: list[str]


@router.get(
    "/api/round",
    response_model=RoundShape,
    responses={
        200: {"content": {GPX: {}, GEOJSON: {}}, "description": "The round"},
        **documented(404, 422, 500),
    },
)
async def round_of_trail(
    request: Request, live: Live, query: Annotated[RoundFileQuery, Query()]
) -> Response:
    """The round that visits boxes with the least walking, as JSON, GPX or GeoJSON."""
    return await in_turn(request, _answer, request, live, query)


def _answer(request: Request, live: LiveTrail, query: RoundFileQuery) -> Response:
    contents = live.contents()
    found = planned_once(
        contents, query.wanted(contents.ground, today=requested_day(live, query.on))
    )
    if query.format == "json":
        return cached_json(request, contents, found.json())
    if query.format == "gpx":
        answer = cached(request, contents, found.gpx().encode(), media_type=GPX)
    else:
        answer = cached_json(request, contents, found.geojson(), media_type=GEOJSON)
    answer.headers["Content-Disposition"] = f'attachment; filename="{file_name(found, query)}"'
    return answer


def file_name(found: Planned, query: RoundFileQuery) -> str:
    """What a downloaded round is called."""
    return f"round-{found.wanted.on}.{query.format}"
