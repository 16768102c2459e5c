"""A round as GPX 1.1, for a handheld GPS or a phone."""

from __future__ import annotations

import math
from collections.abc import Sequence

import gpxpy.gpx

from layers.trail.measures import format_distance
from layers.walking.network.attach import Site
from layers.walking.round.clock import clock
from layers.walking.round.legs import Units, instruction
from layers.walking.round.result import Round, Walk

CREATOR = "Boxround"


OPEN, WATCH, LEAVE = "Open", "Watch only", "Leave"
"""What is to be done at a box, as the symbol of its waypoint."""


def gpx_text(
    planned: Round,
    *,
    name: str,
    start: Site,
    end: Site,
    leave: Sequence[Site] = (),
    units: Units = "metric",
) -> str:
    """The round as text of a GPX 1.1 file.

    Each box is a waypoint named by its order and id, "07 B12", with what to do there and how
    to get there as description: a device that knows waypoints alone is enough. Each walk is
    a route from stop to stop, with the instruction of the leg as description, and a track
    along the paths. Heights are given where they are known.

    Parameters
    ----------
    name
        What the file is called on the device, such as the trail and the day.
    start, end
        Where the walks begin and end.
    leave
        Boxes not to go near; waypoints too, so that none seems forgotten.
    """
    gpx = gpxpy.gpx.GPX()
    gpx.creator, gpx.name = CREATOR, name
    walks = [walk for walk in planned.walks if walk.stops]
    gpx.waypoints = [_waypoint(start)]
    for number, walk in enumerate(walks, start=1):
        for stop in walk.stops:
            order = f"{stop.order:02d}" if len(walks) == 1 else f"{number}-{stop.order:02d}"
            for box in stop.boxes:
                waypoint = _waypoint(Site(f"{order} {box}", stop.lon, stop.lat))
                waypoint.symbol = WATCH if stop.watch_only else OPEN
                how = instruction(stop.leg, watch_only=stop.watch_only, units=units)
                waypoint.description = f"{waypoint.symbol}. {how}"
                gpx.waypoints.append(waypoint)
    for site in leave:
        waypoint = _waypoint(site)
        waypoint.symbol, waypoint.description = LEAVE, f"{LEAVE}: do not go near it."
        gpx.waypoints.append(waypoint)
    for number, walk in enumerate(walks, start=1):
        title = name if len(walks) == 1 else f"{name}, walker {number}"
        summary = f"{format_distance(walk.length_m, units)}, back at "
        summary += clock(planned.leave_at + walk.minutes)
        route = gpxpy.gpx.GPXRoute(name=title, description=summary, number=number)
        route.points = _route(walk, start, end, units)
        gpx.routes.append(route)
        track = gpxpy.gpx.GPXTrack(name=title, description=summary, number=number)
        track.segments.append(_track(walk))
        gpx.tracks.append(track)
    text: str = gpx.to_xml(version="1.1")
    return text


def _waypoint(site: Site) -> gpxpy.gpx.GPXWaypoint:
    return gpxpy.gpx.GPXWaypoint(latitude=site.lat, longitude=_wrapped(site.lon), name=site.name)


def _route(walk: Walk, start: Site, end: Site, units: Units) -> list[gpxpy.gpx.GPXRoutePoint]:
    def point(site: Site, text: str | None) -> gpxpy.gpx.GPXRoutePoint:
        return gpxpy.gpx.GPXRoutePoint(
            latitude=site.lat, longitude=_wrapped(site.lon), name=site.name, description=text
        )

    points = [point(start, None)]
    for stop in walk.stops:
        site = Site(" and ".join(stop.boxes), stop.lon, stop.lat)
        points.append(point(site, instruction(stop.leg, watch_only=stop.watch_only, units=units)))
    if walk.home is not None:
        points.append(point(end, instruction(walk.home, units=units)))
    return points


def _track(walk: Walk) -> gpxpy.gpx.GPXTrackSegment:
    segment = gpxpy.gpx.GPXTrackSegment()
    last = (math.nan, math.nan)
    for leg in walk.legs:
        vertices = zip(
            leg.way.lon.tolist(), leg.way.lat.tolist(), leg.way.height_m.tolist(), strict=True
        )
        for lon, lat, height_m in vertices:
            if (lon, lat) == last:
                continue
            last = (lon, lat)
            segment.points.append(
                gpxpy.gpx.GPXTrackPoint(
                    latitude=lat,
                    longitude=_wrapped(lon),
                    elevation=None if math.isnan(height_m) else round(height_m, 1),
                )
            )
    return segment


def _wrapped(lon: float) -> float:
    """A longitude from -180 up to, and without, 180, as the GPX schema wants it."""
    return (lon + 180.0) % 360.0 - 180.0 if not -180.0 <= lon < 180.0 else lon
