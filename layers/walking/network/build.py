"""A network from paths as they were drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layers.walking.network.graph import Network, Pieces, measured
from layers.walking.network.joins import Joins, Meeting, find_joins
from layers.walking.network.lines import Line, Unused, usable
from layers.walking.network.plane import Plane
from layers.walking.network.recordings import merge_recordings
from layers.walking.network.report import Join, Part, Report
from layers.walking.network.tracks import TOLERANCE_M, Merged, Track, merge_tracks

Floats = NDArray[np.float64]

SAME_PLACE_M = 0.01
"""Cuts of one line within a centimetre are one node."""


def build_network(
    lines: Sequence[Line], *, unused: Sequence[Unused] = ()
) -> tuple[Network, Report]:
    """The network of the paths open to the team, and what was done to make it.

    Recordings of one path become one line, see `recordings`. Ends of lines are joined to what is
    within `TOLERANCE_M`, and lines this near to each other along their way are merged. Lines
    whose heights differ by `HEIGHT_TOLERANCE_M` or more are not joined.

    Parameters
    ----------
    lines, unused
        From `lines_from`; `unused` is passed on to the report.
    """
    walkable, closed = usable(lines)
    opened, recordings = merge_recordings(walkable)
    plane = _plane(opened)
    tracks = [Track.of(line, number, plane) for number, line in enumerate(opened)]
    kept, merged = merge_tracks(tracks, opened)
    joins, joined, apart = find_joins(kept, opened)
    network = _assemble(kept, opened, joins)
    write = _Writer(kept, opened)
    report = write.report(network, joined, apart, merged, [*unused, *closed])
    return network, replace(report, recordings=recordings)


def _plane(lines: Sequence[Line]) -> Plane:
    if not lines:
        return Plane(0.0, 0.0)
    return Plane.around(
        np.concatenate([line.lon for line in lines]), np.concatenate([line.lat for line in lines])
    )


def _assemble(tracks: Sequence[Track], lines: tuple[Line, ...], joins: Joins) -> Network:
    """Cut every track at its joins and tie the pieces together."""
    by_track: dict[int, list[tuple[float, int]]] = {}
    for cut, (number, along) in enumerate(joins.cuts):
        by_track.setdefault(number, []).append((along, cut))
    nodes = _Nodes(len(joins.cuts))
    for number, track in enumerate(tracks):
        ends = [(float(along), nodes.new()) for along in track.along[[0, -1]]]
        cuts = sorted([*by_track.get(number, []), *ends])
        for (before, previous), (along, cut) in pairwise(cuts):
            if along - before <= SAME_PLACE_M:
                nodes.unite(previous, cut)
        by_track[number] = cuts
    for first, second, gap_m in joins.pairs:
        if gap_m <= SAME_PLACE_M:
            nodes.unite(first, second)
    place = nodes.numbered()
    lon, lat, height = (np.full(place.max(initial=-1) + 1, np.nan) for _ in range(3))
    pieces = Pieces.none()
    for number, track in enumerate(tracks):
        cuts = by_track[number]
        for (before, previous), (along, cut) in pairwise(cuts):
            piece = track.cut(before, along) if along > before else None
            u, v = int(place[previous]), int(place[cut])
            if piece is None or (u == v and along - before <= SAME_PLACE_M):
                continue
            for node, end in ((u, 0), (v, -1)):
                if np.isnan(lon[node]):
                    lon[node], lat[node] = piece.lon[end], piece.lat[end]
                if np.isnan(height[node]):
                    height[node] = piece.steady[end]
            piece.lon[[0, -1]], piece.lat[[0, -1]] = lon[[u, v]], lat[[u, v]]
            pieces.add((u, v), track.line, lon=piece.lon, lat=piece.lat, height_m=piece.steady)
    for first, second, gap_m in joins.pairs:
        if gap_m > SAME_PLACE_M:
            both = place[[first, second]]
            line = tracks[joins.cuts[first][0]].line
            # Two lines measure the height of one place a little differently: no climb.
            level = np.full(2, np.nan)
            pair = int(both[0]), int(both[1])
            pieces.add(pair, line, lon=lon[both], lat=lat[both], height_m=level)
    return measured(pieces.edges(), lines, lon=lon, lat=lat, height_m=height)


class _Nodes:
    """Cuts that are the same place."""

    def __init__(self, size: int) -> None:
        self._parent = list(range(size))

    def new(self) -> int:
        self._parent.append(len(self._parent))
        return len(self._parent) - 1

    def _root(self, cut: int) -> int:
        while self._parent[cut] != cut:
            self._parent[cut] = self._parent[self._parent[cut]]
            cut = self._parent[cut]
        return cut

    def unite(self, first: int, second: int) -> None:
        self._parent[self._root(second)] = self._root(first)

    def numbered(self) -> NDArray[np.int64]:
        """The node of each cut, counted from 0."""
        roots = np.array([self._root(cut) for cut in range(len(self._parent))], np.int64)
        return np.unique(roots, return_inverse=True)[1].reshape(-1).astype(np.int64)


class _Writer:
    """Turns what was found on tracks into a report by names and places."""

    def __init__(self, tracks: Sequence[Track], lines: Sequence[Line]) -> None:
        self._tracks, self._lines = tracks, lines

    def report(
        self,
        network: Network,
        joined: Sequence[Meeting],
        apart: Sequence[Meeting],
        merged: Sequence[Merged],
        unused: Sequence[Unused],
    ) -> Report:
        crossed = [meeting for meeting in joined if meeting.gap_m == 0.0]
        return Report(
            ends=tuple(self._join(m) for m in joined if m.gap_m > SAME_PLACE_M),
            crossings=tuple(self._join(m) for m in crossed),
            to_decide=tuple(self._join(m) for m in crossed if self._unsaid(m)),
            apart=self._apart(apart),
            merged=tuple(merged),
            unused=tuple(unused),
            parts=_parts(network),
        )

    def _join(self, meeting: Meeting) -> Join:
        track, along = self._tracks[meeting.tracks[0]], meeting.along[0]
        first, second = (self._lines[self._tracks[number].line] for number in meeting.tracks)
        lon = float(np.interp(along, track.along, track.lon))
        lat = float(np.interp(along, track.along, track.lat))
        return Join((first.name, second.name), lon, lat, meeting.gap_m, meeting.reason)

    def _unsaid(self, meeting: Meeting) -> bool:
        first, second = (self._lines[self._tracks[number].line] for number in meeting.tracks)
        raw = [
            self._tracks[number].raw_at(along)
            for number, along in zip(meeting.tracks, meeting.along, strict=True)
        ]
        heights = np.isfinite(raw).all()
        stated = first.level is not None and second.level is not None
        return not (stated or heights or meeting.by_end or meeting.drawn or first is second)

    def _apart(self, apart: Sequence[Meeting]) -> tuple[Join, ...]:
        """One for each pair of lines and place; an end near a line is seen several times."""
        found: dict[tuple[int, int, int, int], Join] = {}
        for meeting in apart:
            first, second = sorted(zip(meeting.tracks, meeting.along, strict=True))
            here, there = (round(at / TOLERANCE_M / 4) for at in (first[1], second[1]))
            found.setdefault((first[0], second[0], here, there), self._join(meeting))
        return tuple(found.values())


def _parts(network: Network) -> tuple[Part, ...]:
    part_of = network.parts()
    edge_part = part_of[network.u]
    parts = []
    for number in range(int(part_of.max(initial=-1)) + 1):
        edges = np.flatnonzero(edge_part == number)
        names = dict.fromkeys(network.lines[line].name for line in network.line[edges].tolist())
        node = network.u[edges[0]]
        length_m = float(network.length_m[edges].sum())
        lon, lat = float(network.lon[node]), float(network.lat[node])
        parts.append(Part(tuple(names), length_m, lon, lat))
    return tuple(parts)
