"""Rounds of a trail: a request in, the round out; for command, API and pages.

Two plans run at a time in a process; further requests wait without a thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import geopandas as gpd

from layers.errors import BadValue, NotKnown
from layers.nesting.due import CAN_WAIT, DUE, LEAVE, NOT_DUE, OPEN, URGENT, Due
from layers.trail.measures import format_distance
from layers.trail.settings import Settings
from layers.walking.gpx import gpx_text
from layers.walking.network.attach import Site
from layers.walking.network.open_ground import ROUGH_FACTOR
from layers.walking.pace import OFF_PATH_FACTOR
from layers.walking.round import LeftOut, Proof, Round, RoundProblem, StopRequest, plan
from layers.walking.round.legs import Units
from layers.walking.round.written import round_geojson, round_json
from server.live.clock import Clock
from server.live.contents import Contents
from server.live.ground import Ground
from server.rounds.paths import paths_of
from server.rounds.request import RoundRequest, known

NO_START = (
    "The trail has no start place, so the round begins at one of its boxes. To set one, add a "
    "place of kind start: boxround add places."
)
"""A warning of a round."""

WORTH: Mapping[str, float] = MappingProxyType({URGENT: 27.0, DUE: 9.0, CAN_WAIT: 3.0, NOT_DUE: 1.0})
"""Urgency of a box where time is short: one box weighs as much as three of the next
lower urgency (common practice, no source)."""

WATCH_MINUTES = 2.0
"""Time to watch a box from the path, if no less is spent at other boxes (common practice,
no source)."""

MORE_MINUTES: Mapping[str, float] = MappingProxyType(
    {"banding window": 10.0, "clean-out": 5.0, "guard missing": 10.0}
)
"""Kind of a due reason -> time it takes beyond a look inside (common practice, no source)."""

MAX_SECONDS = 20.0
"""A server's search for a better round ends after this; the best so far is given."""


@dataclass(frozen=True, eq=False)
class Planned:
    """A round, with what its page, sheet and files need.

    Attributes
    ----------
    dues
        Box -> what it needs on the day; a box that does not stand is not in it.
    path_notes
        What a walker should know of the paths.
    open_ground_m
        Longest leg straight over open ground; 0 for none.
    leave
        Boxes left out because they are to be left alone.
    """

    wanted: RoundRequest
    round: Round
    start: Site
    end: Site
    trail: str
    units: Units
    dues: Mapping[str, Due]
    path_notes: tuple[str, ...]
    open_ground_m: int
    leave: tuple[Site, ...]

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What the times and the proof take for granted."""
        breaks = self.wanted.breaks
        taken = (
            f"Breaks: {format_minutes(breaks.minutes)} after every {format_minutes(breaks.after)}"
            " of walking and visits, on the way home too.",
        ) * bool(breaks.minutes)
        if not self.open_ground_m or self.round.straight:
            return taken
        reach = format_distance(self.open_ground_m, self.units)
        return (
            *taken,
            f"Assumed: legs of up to {reach} may lead straight over open ground, around water,"
            f" buildings and zones, at {OFF_PATH_FACTOR:.0%} of the pace on paths"
            f" ({ROUGH_FACTOR:.0%} where a zone is marked rough), as if it were level.",
        )

    @property
    def order_notes(self) -> tuple[str, ...]:
        """What the order of an earlier round costs, where it is walked again."""
        more_m = self.round.steady_m
        if more_m is None:
            return ()
        cost = f"{format_distance(more_m, self.units)} more than" if more_m >= 0.5 else "as long as"
        return (f"The order is that of the round before: {cost} the quickest order.",)

    @property
    def proof_text(self) -> str:
        """How good the round is at worst, and what that assumes."""
        return " ".join((describe_proof(self.round.proof), *self.assumptions))

    def json(self) -> dict[str, Any]:
        """The round as values for JSON; lengths in metres whatever the units."""
        head = {
            "on": self.wanted.on.isoformat(),
            "set": self.wanted.which,
            "from": self.start.name,
            "to": self.end.name,
        }
        planned = head | round_json(self.round, units=self.units)
        return planned | {
            "path_notes": list(self.path_notes),
            "assumptions": list(self.assumptions),
        }

    def geojson(self) -> dict[str, Any]:
        """Legs and boxes as a GeoJSON feature collection."""
        return round_geojson(self.round, units=self.units)

    def gpx(self) -> str:
        """The round as text of a GPX 1.1 file."""
        name = f"{self.trail} {self.wanted.on}"
        return gpx_text(
            self.round,
            name=name,
            start=self.start,
            end=self.end,
            leave=self.leave,
            units=self.units,
        )


def planned(
    contents: Contents, wanted: RoundRequest, *, enough: Callable[[], bool] = lambda: False
) -> Planned:
    """The round that is requested.

    Boxes not to be visited are left out with the reason, unless they were named by hand:
    then they are watched from the path.

    Raises
    ------
    NotKnown
        There is no box, section or place of that name; or neither a start nor a box.
    BadValue
        The start cannot be reached, or a figure is out of range.
    """
    ground, settings = contents.ground, contents.settings
    dues = {one.box: one for one in contents.due(wanted.on)}
    requests, left_out = stop_requests(ground, dues, wanted)
    problem, start, end = problem_of(contents, requests, wanted)
    found = plan(problem, pace=wanted.pace, enough=enough)
    every = sorted((*found.left_out, *left_out), key=lambda left: left.box)
    chosen = {*(request.box for request in requests), *(left.box for left in left_out)}
    unused = [window.box for window in wanted.windows if window.box not in chosen]
    warnings = [f"{box} is not in this round: its hours are not used." for box in unused]
    if wanted.start is None and not _sites(ground.places, kind="start"):
        warnings.append(NO_START)
    return Planned(
        wanted,
        replace(found, left_out=tuple(every), warnings=(*found.warnings, *warnings)),
        start,
        end,
        settings.name,
        units_of(settings),
        dues,
        tuple(paths_of(ground, wanted.on).notes),
        settings.open_ground_m,
        _leave(ground, dues, left_out),
    )


def problem_of(
    contents: Contents, requests: tuple[StopRequest, ...], wanted: RoundRequest
) -> tuple[RoundProblem, Site, Site]:
    """The problem over some boxes on the trail's paths, its start and its end."""
    ground = contents.ground
    start = _start(ground, wanted.start, requests)
    end = start if wanted.end is None else _place(ground, wanted.end)
    paths = paths_of(ground, wanted.on)
    problem = RoundProblem(
        paths.network,
        requests,
        start,
        None if end == start else end,
        barriers=paths.barriers,
        open_ground=paths.open_ground(contents.settings),
        barred_by=paths.barred_by,
        hazards=_sites(ground.places, kind="hazard"),
        budget_minutes=wanted.budget_minutes,
        walkers=wanted.walkers,
        leave_at=wanted.leave_at,
        keep_order=wanted.keep_order,
        like=() if wanted.keep_order else wanted.like,
        breaks=wanted.breaks,
    )
    return problem, start, end


def planned_once(contents: Contents, wanted: RoundRequest) -> Planned:
    """What `planned` gives, kept for these contents, the search ended by `MAX_SECONDS`.

    The page, its map, the print sheet and the files all show one round.
    """

    def make() -> Planned:
        ends_s = Clock.now_s() + MAX_SECONDS
        return planned(contents, wanted, enough=lambda: Clock.now_s() > ends_s)

    return contents.once(("round", wanted), make)


def _leave(
    ground: Ground, dues: Mapping[str, Due], left_out: Iterable[LeftOut]
) -> tuple[Site, ...]:
    """Those of the boxes left out that are to be left alone."""
    points = dict(zip(ground.ids, ground.boxes.geometry, strict=True))
    boxes = (left.box for left in left_out if left.box in dues)
    return tuple(
        Site(box, points[box].x, points[box].y)
        for box in boxes
        if dues[box].approach == LEAVE and points[box] is not None
    )


def describe_proof(proof: Proof) -> str:
    if proof.measure == "urgency":
        if proof.optimal:
            return "Proven: no choice of boxes that fits the time is more urgent."
        return f"Another choice of boxes could be at most {proof.gap:.1%} more urgent."
    what = "longest walk" if proof.measure == "minutes of the longest walk" else "round"
    if proof.optimal:
        return f"Proven: no {what} over these boxes is quicker."
    spare = proof.value - proof.bound
    return f"A better plan could make the {what} at most {spare:.1f} min ({proof.gap:.1%}) shorter."


def stop_requests(
    ground: Ground,
    dues: Mapping[str, Due],
    wanted: RoundRequest,
    *,
    worth: Mapping[str, float] = MappingProxyType({}),
) -> tuple[tuple[StopRequest, ...], tuple[LeftOut, ...]]:
    """The boxes to see, and those left out before any planning.

    `worth` is that of some boxes, where it is not by the urgency of the day.
    """
    points = dict(zip(ground.ids, ground.boxes.geometry, strict=True))
    section_of = dict(zip(ground.ids, ground.boxes["section"], strict=True))
    windows = {window.box: window for window in wanted.windows}
    requests, left_out = [], []
    for box in _chosen(ground, dues, wanted):
        one, point = dues.get(box), points[box]
        if one is not None and one.approach == LEAVE and wanted.which != "boxes":
            text = one.approach_text.rstrip(".")
            left_out.append(LeftOut(box, f"it is not to be visited: {text[:1].lower()}{text[1:]}"))
        elif point is None:
            left_out.append(LeftOut(box, "it has no place on the map"))
        else:
            look = one is not None and one.approach != OPEN
            requests.append(
                StopRequest(
                    box,
                    point.x,
                    point.y,
                    minutes=minutes_at(one, wanted.stop_minutes),
                    urgency=worth.get(box, WORTH[NOT_DUE if one is None else one.urgency]),
                    watch_only=look,
                    section=section_of[box] or "",
                    opens_at=windows[box].opens_at if box in windows else None,
                    closes_at=windows[box].closes_at if box in windows else None,
                )
            )
    return tuple(requests), tuple(left_out)


def minutes_at(one: Due | None, stop_minutes: float) -> float:
    """Minutes at a box that needs something on a day, or nothing."""
    if one is not None and one.approach != OPEN:
        return min(WATCH_MINUTES, stop_minutes)
    kinds = () if one is None else (reason.kind for reason in one.reasons)
    return stop_minutes + sum(MORE_MINUTES.get(kind, 0.0) for kind in kinds)


def _chosen(ground: Ground, dues: Mapping[str, Due], wanted: RoundRequest) -> list[str]:
    """Boxes requested, in the order of the trail; by hand also those that do not stand."""
    if wanted.which == "boxes":
        if not wanted.names:
            raise BadValue("the id of at least one box", "none", column="boxes")
        return list(
            dict.fromkeys(known(box, ground.ids, "the id of a box") for box in wanted.names)
        )
    standing = [box for box in ground.ids if box in dues]
    if wanted.which == "section":
        if not wanted.names:
            raise BadValue("the name of at least one section", "none", column="section")
        of_box = dict(zip(ground.ids, ground.boxes["section"], strict=True))
        names = {known(name, sections(ground), "a section of the trail") for name in wanted.names}
        return [box for box in standing if of_box[box] in names]
    if wanted.which == "due":
        return [box for box in standing if dues[box].due or dues[box].approach == LEAVE]
    return standing


def sections(ground: Ground) -> list[str]:
    """Names of the trail's sections, sorted."""
    return sorted({section for section in ground.boxes["section"] if section})


def _sites(places: gpd.GeoDataFrame, *, kind: str | None = None) -> tuple[Site, ...]:
    """The places of a kind, or of any; one without a name is called by its kind."""
    return tuple(
        Site(name or (this or "place").capitalize(), point.x, point.y)
        for name, this, point in zip(places["name"], places["kind"], places.geometry, strict=True)
        if point is not None and kind in (None, this)
    )


def place_names(ground: Ground) -> list[str]:
    """Names of the places that a round may begin or end at, starts first."""
    sites = [*_sites(ground.places, kind="start"), *_sites(ground.places)]
    return list(dict.fromkeys(site.name for site in sites))


def _place(ground: Ground, name: str) -> Site:
    """The place of a name, or the box, where that is the name of a box's site."""
    sites = {site.name: site for site in reversed(_sites(ground.places))}
    if name not in sites:
        placed = zip(ground.placed, ground.boxes.geometry.dropna(), strict=True)
        boxes = (_at_box(box, point.x, point.y) for box, point in placed)
        sites |= {site.name: site for site in boxes if site.name == name}
    return sites[known(name, sites, "a place of the trail")]


def _at_box(box: str, lon: float, lat: float) -> Site:
    return Site(f"box {box}", lon, lat)


def _start(ground: Ground, name: str | None, requests: Sequence[StopRequest]) -> Site:
    """The place of a name, the trail's first start, or the first box where it has none."""
    if name is not None:
        return _place(ground, name)
    starts = _sites(ground.places, kind="start")
    if starts:
        return starts[0]
    if not requests:
        raise NotKnown(
            "The trail has no place where a round can start: add one of kind start with "
            "boxround add places"
        )
    return _at_box(requests[0].box, requests[0].lon, requests[0].lat)


def units_of(settings: Settings) -> Units:
    """The units of a trail, as the walking room knows them."""
    return "us" if settings.units == "us" else "metric"


def format_minutes(minutes: float) -> str:
    """A duration in words: `45 min`, `2 h 5 min`."""
    if 0.0 < minutes < 0.5:
        return "under 1 min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"
