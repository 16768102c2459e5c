"""Straight legs over open ground between boxes, paths and corners of barriers.

Where a walker best leaves a path for a place beside it depends on where the walker comes
from: at the foot of the perpendicular, or before or after it at the angle at which light
would be refracted between two speeds (Snell's law, as in the weighted region problem of
Mitchell and Papadimitriou 1991, Journal of the ACM 38:18-73). So each place is joined to
each stretch of path in reach at these three points, to other places in sight, and around
barriers by their corners.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from layers.trail.words import GROUNDS
from layers.walking.network.barriers import Barrier, BarrierIndex
from layers.walking.network.cutting import cut_at
from layers.walking.network.graph import Legs, Network, with_legs
from layers.walking.network.plane import Plane, project
from layers.walking.pace import OFF_PATH_FACTOR

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUGH_FACTOR = 0.35
"""Share of the pace on paths over rough ground, such as scrub or bog (common practice, no
source)."""

GROUND_FACTORS = dict(zip(GROUNDS, (OFF_PATH_FACTOR, ROUGH_FACTOR, 0.0), strict=True))
"""What a zone says of its ground -> share of the pace on paths; 0 where none may leave them."""

SPACING_M = 10.0
"""Where a leg to a stretch of path is barred, other points of the stretch are tried at this
spacing."""

STRETCHES_EACH = 24
"""Each place is joined to this many stretches of path, the nearest: on a dense network those
beyond lie behind other paths."""

SIDE = OFF_PATH_FACTOR / np.sqrt(1.0 - OFF_PATH_FACTOR**2)
"""Metres along the path from the perpendicular foot to those at the angle of refraction, for
each metre off it."""


@dataclass(frozen=True)
class GroundArea:
    """An area with ground of its own; `shape` in degrees on WGS84, `kind` of `GROUND_FACTORS`."""

    name: str
    kind: str
    shape: BaseGeometry


def areas_from(rows: Iterable[Mapping[str, Any]]) -> tuple[GroundArea, ...]:
    """The zones with ground of their own, from the rows of the table of zones."""
    return tuple(
        GroundArea(row.get("name") or "", row["ground"], row["geometry"])
        for row in rows
        if row.get("ground") in GROUND_FACTORS
        and row.get("geometry") is not None
        and not row["geometry"].is_empty
    )


@dataclass(frozen=True)
class OpenGround:
    """Where walkers may leave the paths.

    Attributes
    ----------
    reach_m
        Longest straight leg; 0 where boxes are reached from the nearest point of a path alone.
    areas
        Areas that are rough, or where the paths must not be left.
    """

    reach_m: float = 0.0
    areas: tuple[GroundArea, ...] = ()

    def closed(self) -> tuple[Barrier, ...]:
        """Areas where the paths must not be left, as barriers to legs."""
        return tuple(
            Barrier(area.name, area.kind, area.shape)
            for area in self.areas
            if GROUND_FACTORS[area.kind] == 0.0
        )

    def pace_shares(self, begin: Floats, end: Floats, plane: Plane) -> Floats:
        """Share of the pace on paths at which each leg is walked as a whole."""
        slowness = np.full(len(begin), 1.0 / OFF_PATH_FACTOR)
        slow = [area for area in self.areas if 0.0 < GROUND_FACTORS[area.kind] < OFF_PATH_FACTOR]
        if not slow or not len(begin):
            return 1.0 / slowness
        lines = np.asarray(shapely.linestrings(np.stack([begin, end], axis=1)))
        length = np.maximum(shapely.length(lines), 1e-9)
        for kind in sorted({area.kind for area in slow}):
            shapes = [shapely.make_valid(area.shape) for area in slow if area.kind == kind]
            whole = shapely.transform(shapely.union_all(shapes), lambda at: plane.xy(*at.T))
            shapely.prepare(whole)
            met = np.flatnonzero(shapely.intersects(whole, lines))
            inside = shapely.length(shapely.intersection(lines[met], whole)) / length[met]
            slowness[met] += inside * (1.0 / GROUND_FACTORS[kind] - 1.0 / OFF_PATH_FACTOR)
        return 1.0 / slowness


@dataclass(frozen=True)
class Stretches:
    """Straight stretches of path on a plane: the edge, metres along it, and length of each."""

    begin: Floats
    end: Floats
    edge: Ints
    along: Floats
    length: Floats

    @classmethod
    def none(cls) -> Stretches:
        flat, number = np.empty((0, 2)), np.empty(0, np.int64)
        return cls(flat, flat, number, np.empty(0), np.empty(0))

    def places(self, stretch: Ints, along: Floats) -> Floats:
        """Points at distances along some stretches, shape (n, 2)."""
        share = along / np.maximum(self.length[stretch], 1e-9)
        begin = self.begin[stretch]
        found: Floats = begin + share[:, None] * (self.end[stretch] - begin)
        return found


@dataclass(frozen=True)
class Feet:
    """Points of paths that legs lead to: the place each leg comes from, its edge, where, and xy."""

    place: Ints
    edge: Ints
    along: Floats
    xy: Floats

    def take(self, chosen: Ints | NDArray[np.bool_]) -> Feet:
        """Some of them."""
        return Feet(self.place[chosen], self.edge[chosen], self.along[chosen], self.xy[chosen])


def feet_of(
    xy: Floats, stretches: Stretches, index: BarrierIndex, *, reach_m: float, boxes: int
) -> Feet:
    """Where legs from some places best meet the paths, within reach and in the clear.

    Parameters
    ----------
    boxes
        How many of the places, the first ones, are worth further points where a barrier
        stands between: corners come later.
    """
    lines = shapely.linestrings(np.stack([stretches.begin, stretches.end], axis=1))
    tree = shapely.STRtree(np.asarray(lines))
    place, stretch = tree.query(shapely.points(xy), predicate="dwithin", distance=reach_m)
    gap = project(xy[place], stretches.begin[stretch], stretches.end[stretch])[1]
    nearest = np.lexsort((stretch, gap, place))
    first = np.searchsorted(place[nearest], np.arange(len(xy)))
    chosen = nearest[np.arange(len(place)) - first[place[nearest]] < STRETCHES_EACH]
    place, stretch = place[chosen], stretch[chosen]
    begin = stretches.begin[stretch]
    length = np.maximum(stretches.length[stretch], 1e-9)
    ahead = (stretches.end[stretch] - begin) / length[:, None]
    towards = xy[place] - begin
    foot = (towards * ahead).sum(axis=1)
    off = np.abs(towards[:, 0] * ahead[:, 1] - towards[:, 1] * ahead[:, 0])
    room = np.sqrt(np.maximum(reach_m**2 - off**2, 0.0))
    sides = [foot + np.clip(off * SIDE * sign, -room, room) for sign in (-1.0, 0.0, 1.0)]
    along = np.clip(np.concatenate(sides), 0.0, np.tile(length, 3))
    feet = _feet((np.tile(place, 3), np.tile(stretch, 3), along), stretches, xy, reach_m)
    barred = np.array(index.crossed(xy[feet.place], feet.xy), np.int64) >= 0
    # Behind a barrier the best point is where its corner lets the path be seen.
    pairs = np.isin(place, np.unique(feet.place[barred])) & (place < boxes)
    counts = np.ceil(length[pairs] / SPACING_M).astype(int) + 1
    every = [
        np.linspace(0.0, most, count) for most, count in zip(length[pairs], counts, strict=True)
    ]
    where = np.concatenate([np.empty(0), *every])
    tried = np.repeat(place[pairs], counts), np.repeat(stretch[pairs], counts), where
    more = _feet(tried, stretches, xy, reach_m)
    clear = np.array(index.crossed(xy[more.place], more.xy), np.int64) < 0
    return _joined(feet.take(~barred), more.take(clear))


def _feet(
    legs: tuple[Ints, Ints, Floats], stretches: Stretches, xy: Floats, reach_m: float
) -> Feet:
    """Feet within reach, each once for a place; of each leg its place, stretch and where on it."""
    place, stretch, along = legs
    at = stretches.places(stretch, along)
    found = Feet(place, stretches.edge[stretch], stretches.along[stretch] + along, at)
    near = np.linalg.norm(at - xy[place], axis=1) <= reach_m + 1e-6
    return _joined(found.take(near))


def _joined(*parts: Feet) -> Feet:
    columns = zip(*((one.place, one.edge, one.along, one.xy) for one in parts), strict=True)
    whole = Feet(*(np.concatenate(column) for column in columns))
    keys = np.column_stack([whole.place, whole.edge, np.round(whole.along * 10.0)])
    return whole.take(np.sort(np.unique(keys, axis=0, return_index=True)[1]))


def sight_lines(
    xy: Floats, rings: Sequence[int], index: BarrierIndex, *, reach_m: float
) -> tuple[Ints, Ints]:
    """Pairs of places that see each other within reach; the last places are corners of rings.

    Neighbours on a ring are joined whatever their distance: a long shore is walked along.
    """
    if np.isfinite(reach_m):
        pairs = cKDTree(xy).query_pairs(reach_m, output_type="ndarray").astype(np.int64)
    else:
        pairs = np.column_stack(np.triu_indices(len(xy), k=1)).astype(np.int64)
    ends = np.cumsum([len(xy) - sum(rings), *rings])
    around = [
        np.column_stack([at, np.roll(at, -1)])
        for at in (np.arange(a, b) for a, b in pairwise(ends))
    ]
    both = np.unique(np.sort(np.concatenate([pairs, *around]), axis=1), axis=0)
    u, v = both[both[:, 0] != both[:, 1]].T
    clear = np.array(index.crossed(xy[u], xy[v]), np.int64) < 0
    return u[clear], v[clear]


def over_open_ground(
    network: Network,
    xy: Floats,
    stretches: Stretches,
    *,
    snaps: tuple[Ints, Floats, Ints],
    index: BarrierIndex,
    open_ground: OpenGround,
) -> tuple[Network, Ints, Ints]:
    """The network with some places as nodes of their own, joined to it over open ground.

    Parameters
    ----------
    xy
        The places, on the plane of `index`.
    stretches
        Those of the paths that legs may lead to; none where the trail has no paths, and
        legs are then of any length.
    snaps
        Edge and metres along it of points that become nodes too, the edge -1 for none; and
        which of them belongs to each place, joined by a leg whatever its length.

    Returns
    -------
    tuple
        The network, the node of each snap (-1 for none) and the node of each place.
    """
    reach_m = open_ground.reach_m if len(stretches.edge) else np.inf
    rings = index.corners(xy, 2.0 * reach_m)
    places = np.concatenate([xy, *rings])
    feet = feet_of(places, stretches, index, reach_m=reach_m, boxes=len(xy))
    edge, along, own = snaps
    cut, node = cut_at(network, np.r_[edge, feet.edge], np.r_[along, feet.along], index.plane)
    snap, foot = node[: len(edge)], node[len(edge) :]
    u, v = sight_lines(places, list(map(len, rings)), index, reach_m=reach_m)
    tied = np.flatnonzero(snap[own] >= 0)
    ends = np.concatenate(
        [
            np.column_stack([cut.nodes + tied, snap[own][tied]]),
            np.column_stack([cut.nodes + feet.place, foot]),
            np.column_stack([cut.nodes + u, cut.nodes + v]),
        ]
    ).astype(np.int64)
    all_xy = np.concatenate([index.plane.xy(cut.lon, cut.lat), places])
    shares = open_ground.pace_shares(all_xy[ends[:, 0]], all_xy[ends[:, 1]], index.plane)
    lon, lat = index.plane.lonlat(*places.T)
    whole = with_legs(cut, lon, lat, Legs(ends[:, 0], ends[:, 1], shares))
    return whole, snap, cut.nodes + np.arange(len(xy))
