"""Recordings of one path by GPS made into one line.

Several walks along one path never record the same line. The longest is pulled to the middle of
all that run along it: each of its points moves by the mean of how far to the side they are, and
its heights become their median. On made paths of 1.6 km, recorded 3 to 8 times with 1 to 8 m
of noise, what is left is as long as the path within 3 %. Two paths 12 m apart stay two up to
2.5 m of noise; where noise is greater they look like one, and the report says what was merged.
A path whose kind does not say that it was recorded is never moved.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from layers.walking.network.lines import Line
from layers.walking.network.plane import Plane

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

RECORDED = re.compile(r"\brecord(ed|ing)\b", re.IGNORECASE)
"""These words in a path's kind say that it was recorded and not drawn. To keep apart what was
merged, give one of the two another kind."""

STEP_M = 5.0
"""Recordings are looked at every so many metres."""

WIDEST_M = 24.0
"""Farther apart no two recordings show one path: a GPS on foot is seldom 8 m off (common
practice, no source), and three times that is rare."""

NARROWEST_M = 6.0
"""Nearer than this recordings show one path, however small the noise seems."""

REACH_NOISES = 3.5
"""How far apart recordings of one path may be, in standard deviations of their noise."""

SHORTEST_M = 100.0
"""Recordings show one path where they run together for so long at least."""

SHORTEST_REACHES = 5.0
"""And for at least so many times what they may be apart: others cross at over 23 degrees."""

AVERAGED_M = 40.0
"""Standard deviation of the averaging of how far a recording is to the side."""

MEAN_REACHES = 0.75
"""That mean is this part of the reach at most where two recordings show one path."""

WIDE_REACHES = 3.0
"""A single swing may be this many times the reach."""

ALONG_SHARE = 0.6
"""Share of a run that leads along the other line at least, and not to and fro beside it."""

PASSES = 2
"""What runs along a line is looked for again once it is in the middle: it is then nearer."""

PULLS = 4
"""Times that a line is pulled to the middle of what runs along it."""

SMOOTHED_M = 15.0
"""Standard deviation of the smoothing of each pull: noise is smoothed away, bends are not."""


@dataclass(frozen=True)
class MergedRecordings:
    """Recordings that became one line.

    Attributes
    ----------
    names
        Of the recordings, the one that gave the line its name first.
    spread_m
        Standard deviation of how far they are to the side of the line.
    """

    names: tuple[str, ...]
    length_m: float
    spread_m: float


@dataclass(frozen=True)
class _Recording:
    line: Line
    xy: Floats
    height_m: Floats

    @property
    def shape(self) -> shapely.LineString:
        return shapely.LineString(self.xy)


def merge_recordings(
    lines: Sequence[Line],
) -> tuple[tuple[Line, ...], tuple[MergedRecordings, ...]]:
    """The lines with recordings of one path made one, and which they were."""
    recorded = [line for line in lines if RECORDED.search(line.kind)]
    if len(recorded) < 2:
        return tuple(lines), ()
    plane = Plane.around(
        np.concatenate([line.lon for line in recorded]),
        np.concatenate([line.lat for line in recorded]),
    )
    left = [_recording(line, plane) for line in recorded]
    reach = _reach(left)
    made: list[Line] = []
    merged: list[MergedRecordings] = []
    while left:
        left.sort(key=lambda one: -one.shape.length)
        longest, others, left = left[0], left[1:], []
        alike = _alike(longest, [one.line for one in others])
        base, spread_m = longest, 0.0
        near: list[Bools] = []
        for _ in range(PASSES):
            near = [
                _beside(one, base, reach) if same else np.zeros(len(one.xy), bool)
                for one, same in zip(others, alike, strict=True)
            ]
            joined = [(one, along) for one, along in zip(others, near, strict=True) if along.any()]
            if not joined:
                break
            base, spread_m = _pulled(longest, base.xy, joined, reach, plane)
        for one, along in zip(others, near, strict=True):
            left += _rests(one, along, base, reach, plane) if along.any() else [one]
        made.append(base.line)
        if not joined:
            continue
        names = dict.fromkeys([longest.line.name, *(one.line.name for one, _ in joined)])
        merged.append(MergedRecordings(tuple(names), base.shape.length, spread_m))
    drawn = [line for line in lines if not RECORDED.search(line.kind)]
    return (*drawn, *made), tuple(merged)


def _recording(line: Line, plane: Plane) -> _Recording:
    xy = plane.xy(line.lon, line.lat)
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))]
    at = np.linspace(0.0, along[-1], max(int(np.ceil(along[-1] / STEP_M)), 1) + 1)
    x, y, height_m = (np.interp(at, along, values) for values in (*xy.T, line.height_m))
    return _Recording(line, np.column_stack([x, y]), height_m)


def _alike(one: _Recording, others: Sequence[Line]) -> list[bool]:
    """Which lines may show the same path: not a bridge, nor a one-way path beside another."""
    line = one.line
    return [
        (line.effective_level, line.one_way, line.open_to)
        == (other.effective_level, other.one_way, other.open_to)
        for other in others
    ]


def _reach(recordings: Sequence[_Recording]) -> float:
    """How far apart recordings of one path may be, by their noise.

    Two recordings of one path with normal noise are 0.95 of its standard deviation apart in
    the median; each recording is judged by the one that is nearest to it.
    """
    least = []
    for one in recordings:
        places = shapely.points(one.xy)
        medians = [WIDEST_M / 3.0]
        for other in recordings:
            if other is one:
                continue
            away = np.atleast_1d(shapely.distance(other.shape, places))
            away = away[away < WIDEST_M]
            medians += [float(np.median(away))] if len(away) * STEP_M >= SHORTEST_M else []
        least.append(min(medians))
    return float(np.clip(REACH_NOISES * np.median(least), NARROWEST_M, WIDEST_M))


def _aside(points: Floats, base: Floats) -> tuple[Floats, Floats]:
    """Metres along a line to the point of it nearest to each, and from there to the left."""
    line = shapely.LineString(base)
    places = shapely.points(points)
    along = np.atleast_1d(shapely.line_locate_point(line, places))
    foot = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
    ahead = shapely.get_coordinates(shapely.line_interpolate_point(line, along + STEP_M / 2.0))
    behind = np.maximum(along - STEP_M / 2.0, 0.0)
    way = ahead - shapely.get_coordinates(shapely.line_interpolate_point(line, behind))
    off = points - foot
    side = np.sign(way[:, 0] * off[:, 1] - way[:, 1] * off[:, 0])
    return along, side * np.linalg.norm(off, axis=1)


def _runs(near: Bools) -> list[tuple[int, int]]:
    """First and last position of each stretch."""
    edges = np.flatnonzero(np.diff(np.r_[False, near, False].astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _beside(one: _Recording, longest: _Recording, reach: float) -> Bools:
    """Which points of a recording run along the longest.

    How far it is to the side is averaged along the way: of two paths side by side all of one
    is to one side of the other, and two recordings of one path change sides.
    """
    along, off = _aside(one.xy, longest.xy)
    far = WIDE_REACHES * reach
    mean = gaussian_filter1d(np.clip(off, -far, far), AVERAGED_M / STEP_M, mode="nearest")
    near = (np.abs(mean) <= MEAN_REACHES * reach) & (np.abs(off) <= far)
    shortest = max(SHORTEST_M, SHORTEST_REACHES * reach)
    found = np.zeros(len(near), bool)
    for first, last in _runs(near):
        steps = np.diff(gaussian_filter1d(along[first : last + 1], 2.0))
        walked = STEP_M * (last - first)
        if walked >= shortest and np.abs(steps).sum() >= ALONG_SHARE * walked:
            found[first : last + 1] = True
    return found


def _rests(
    one: _Recording, near: Bools, longest: _Recording, reach: float, plane: Plane
) -> list[_Recording]:
    """What is left of a recording beside the longest: its ways of its own, tied to it."""
    rests = []
    base = longest.shape
    away = np.atleast_1d(shapely.distance(base, shapely.points(one.xy)))
    for first, last in _runs(~near):
        far = first + np.flatnonzero(away[first : last + 1] > reach)
        if not len(far) or away[far].max() <= 2.0 * reach:
            continue
        begin, end = max(int(far[0]) - 1, 0), min(int(far[-1]) + 1, len(near) - 1)
        xy, height_m = one.xy[begin : end + 1].copy(), one.height_m[begin : end + 1]
        for tied, position in ((begin > 0, 0), (end < len(near) - 1, -1)):
            if tied:
                foot = base.interpolate(base.project(shapely.Point(xy[position])))
                xy[position] = foot.x, foot.y
        lon, lat = plane.lonlat(*xy.T)
        line = replace(one.line, lon=lon, lat=lat, height_m=height_m)
        rests.append(_Recording(line, xy, height_m))
    return rests


def _pulled(
    longest: _Recording,
    base: Floats,
    joined: Sequence[tuple[_Recording, Bools]],
    reach: float,
    plane: Plane,
) -> tuple[_Recording, float]:
    """The line in the middle of the longest and of what runs along it, and the spread of that.

    `base` is where the line was so far.
    """
    spread_m = 0.0
    heights: list[Floats] = []
    for _ in range(PULLS):
        shown = [(longest.xy, longest.height_m)]
        shown += [(one.xy[near], one.height_m[near]) for one, near in joined]
        at_base = [_at_base(xy, height_m, base, reach) for xy, height_m in shown]
        table = np.array([aside for aside, _ in at_base])
        # Where the line itself was smoothed far away, nothing runs along it and it stays.
        table[:, np.isnan(table).all(axis=0)] = 0.0
        heights = [height_m for _, height_m in at_base]
        spread_m = float(np.sqrt(np.nanmean((table - np.nanmean(table, axis=0)) ** 2)))
        move = gaussian_filter1d(np.nanmean(table, axis=0), SMOOTHED_M / STEP_M, mode="nearest")
        way = np.gradient(base, axis=0)
        way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
        base = base + move[:, None] * np.column_stack([-way[:, 1], way[:, 0]])
        base = _smoothed(base, spread_m)
    height_m = longest.height_m
    if longest.line.has_heights:
        height_m = np.nanmedian(np.array([height_m, *heights]), axis=0)
    lon, lat = plane.lonlat(base[:, 0], base[:, 1])
    line = replace(longest.line, lon=lon, lat=lat, height_m=height_m)
    return _Recording(line, base, height_m), spread_m


def _smoothed(base: Floats, spread_m: float) -> Floats:
    """A line without the swings that its noise leaves; its ends stay."""
    sigma = np.clip(spread_m, 1.0, SMOOTHED_M) / STEP_M
    smooth = gaussian_filter1d(base, sigma, axis=0, mode="nearest")
    smooth[[0, -1]] = base[[0, -1]]
    return smooth


def _at_base(points: Floats, height_m: Floats, base: Floats, reach: float) -> tuple[Floats, Floats]:
    """How far a recording is to the left of each point of the line, and its height there.

    NaN where it does not run along it.
    """
    along, off = _aside(points, base)
    order = np.argsort(along, kind="stable")
    along, off, height_m = along[order], off[order], height_m[order]
    at = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(base, axis=0), axis=1))]
    right = np.clip(np.searchsorted(along, at), 0, len(along) - 1)
    left = np.maximum(right - 1, 0)
    gap = np.minimum(np.abs(along[right] - at), np.abs(along[left] - at))
    known = (gap <= 2.0 * STEP_M) & (np.abs(np.interp(at, along, off)) <= 2.0 * reach)
    return (
        np.where(known, np.interp(at, along, off), np.nan),
        np.where(known, np.interp(at, along, height_m), np.nan),
    )
