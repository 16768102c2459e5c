"""Lines laid on a plane, and recordings of one path merged into one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from layers.walking.network.heights import steady_heights
from layers.walking.network.lines import Line
from layers.walking.network.plane import Plane, places_along, project

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TOLERANCE_M = 3.0
"""Ends within this of a line were meant to reach it: a GPS on foot is good to about 3 m
(common practice, no source), and by hand one seldom draws better."""

HEIGHT_TOLERANCE_M = 2.0
"""Lines that cross with heights this far apart pass over each other: a person walks
under a bridge of 2 m."""

SHORTEST_RUN = 5.0
"""Two lines are recordings of one path where they run together for at least this many
tolerances; a crossing at more than 24 degrees is over sooner."""

WANDER = 2.0
"""Such a run goes on while the lines are within this many tolerances of each other."""


@dataclass(frozen=True)
class Track:
    """A stretch of one line on the plane.

    Attributes
    ----------
    line
        Position among the lines.
    along
        Metres on the plane from the line's start to each vertex, rising.
    xy
        The vertices in metres, shape (n, 2).
    lon, lat
        The vertices in degrees.
    raw, steady
        Heights as measured and without jitter; NaN where there are none.
    """

    line: int
    along: Floats
    xy: Floats
    lon: Floats
    lat: Floats
    raw: Floats
    steady: Floats

    @classmethod
    def of(cls, line: Line, number: int, plane: Plane) -> Track:
        xy = plane.xy(line.lon, line.lat)
        along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))]
        steady = steady_heights(along, line.height_m)
        return cls(number, along, xy, line.lon, line.lat, line.height_m, steady)

    def cut(self, begin: float, end: float) -> Track:
        """The stretch between two distances along the line."""
        inside = (self.along > begin) & (self.along < end)
        along = np.r_[begin, self.along[inside], end]

        def read(values: Floats) -> Floats:
            return np.asarray(np.interp(along, self.along, values))

        xy = np.column_stack([read(self.xy[:, 0]), read(self.xy[:, 1])])
        lon, lat = places_along(along, self.along, lon=self.lon, lat=self.lat)
        return Track(self.line, along, xy, lon, lat, read(self.raw), read(self.steady))

    def raw_at(self, along: float) -> float:
        return float(np.interp(along, self.along, self.raw))


@dataclass(frozen=True)
class Segments:
    """Every straight segment of some tracks, as parallel arrays."""

    track: Ints
    number: Ints
    begin: Floats
    end: Floats
    along: Floats
    length: Floats

    @classmethod
    def of(cls, tracks: Sequence[Track]) -> Segments:
        counts = [len(track.along) - 1 for track in tracks]
        empty = np.empty((0, 2))
        along = [track.along[:-1] for track in tracks]
        length = [np.diff(track.along) for track in tracks]
        return cls(
            track=np.repeat(np.arange(len(tracks)), counts),
            number=np.concatenate([np.empty(0, np.int64), *map(np.arange, counts)]),
            begin=np.concatenate([empty, *(track.xy[:-1] for track in tracks)]),
            end=np.concatenate([empty, *(track.xy[1:] for track in tracks)]),
            along=np.concatenate([np.empty(0), *along]),
            length=np.concatenate([np.empty(0), *length]),
        )

    def shapes(self) -> NDArray[np.object_]:
        return np.asarray(shapely.linestrings(np.stack([self.begin, self.end], axis=1)))


@dataclass(frozen=True)
class Merged:
    """A stretch of one line that another line already shows."""

    name: str
    into: str
    length_m: float


def merge_tracks(
    tracks: Sequence[Track], lines: Sequence[Line]
) -> tuple[list[Track], list[Merged]]:
    """Drop every stretch that runs along a line drawn earlier, or along its own way out.

    What is left of each line ends within the tolerance of what it ran along, so that
    the joining of ends ties it on.
    """
    samples = [_samples(track) for track in tracks]
    near = _near(tracks, samples, lines)
    dropped = [np.zeros(len(sample), bool) for sample in samples]
    merged = []
    for number in sorted(set(near)):
        runs = _runs(number, near[number], samples, dropped)
        for first, last, other in runs:
            length_m = float(samples[number][last] - samples[number][first])
            into = lines[tracks[other].line].name
            merged.append(Merged(lines[tracks[number].line].name, into, length_m))
    kept = []
    for track, sample, gone in zip(tracks, samples, dropped, strict=True):
        kept += [track] if not gone.any() else _kept(track, sample, gone)
    return kept, merged


def _samples(track: Track) -> Floats:
    """Distances along a track at which its nearness to others is looked at."""
    begin, end = track.along[0], track.along[-1]
    steps = int(np.ceil((end - begin) / TOLERANCE_M))
    return np.linspace(begin, end, steps + 1)


Candidate = tuple[int, float, int, float]
"""Sample, distance, track it is near to, and the distance along that track."""


def _near(
    tracks: Sequence[Track],
    samples: Sequence[Floats],
    lines: Sequence[Line],
) -> dict[int, list[Candidate]]:
    """By track, what its samples come near to, in the order of the samples."""
    if not tracks:
        return {}
    owner = np.repeat(np.arange(len(tracks)), [len(sample) for sample in samples])
    order = np.concatenate([np.arange(len(sample)) for sample in samples])
    at = np.concatenate(samples)
    xy = np.concatenate(
        [
            np.column_stack([np.interp(sample, track.along, track.xy[:, axis]) for axis in (0, 1)])
            for track, sample in zip(tracks, samples, strict=True)
        ]
    )
    segments = Segments.of(tracks)
    tree = shapely.STRtree(segments.shapes())
    point, segment = tree.query(
        shapely.points(xy), predicate="dwithin", distance=WANDER * TOLERANCE_M
    )
    earlier = segments.track[segment] < owner[point]
    own = segments.track[segment] == owner[point]
    point, segment = point[earlier | own], segment[earlier | own]
    fraction, gap = project(xy[point], segments.begin[segment], segments.end[segment])
    snap = segments.along[segment] + fraction * segments.length[segment]
    other = segments.track[segment]
    behind = at[point] - snap > SHORTEST_RUN * TOLERANCE_M
    use = (other != owner[point]) | behind
    level = np.array([lines[track.line].effective_level for track in tracks])
    one_way = np.array([lines[track.line].one_way for track in tracks])
    use &= (level[other] == level[owner[point]]) & (one_way[other] == one_way[owner[point]])
    # A one-way line that comes back over itself is two ways past one place.
    use &= ~(one_way[other] & (other == owner[point]))
    found: dict[int, list[Candidate]] = {}
    used = np.flatnonzero(use)
    for position in used[np.lexsort((gap[used], point[used]))].tolist():
        number, to = int(owner[point[position]]), int(other[position])
        mine = tracks[number].raw_at(at[point[position]])
        apart = abs(mine - tracks[to].raw_at(snap[position]))
        if not apart >= HEIGHT_TOLERANCE_M:
            candidate = int(order[point[position]]), float(gap[position]), to, float(snap[position])
            found.setdefault(number, []).append(candidate)
    return found


def _runs(
    number: int,
    candidates: Sequence[Candidate],
    samples: Sequence[Floats],
    dropped: Sequence[NDArray[np.bool_]],
) -> list[tuple[int, int, int]]:
    """Stretches of a track that others already show, which are marked as dropped.

    First and last sample of each, and the track that shows its beginning.
    """
    along, gone = samples[number], dropped[number]
    best: dict[int, tuple[float, int]] = {}
    shortest = SHORTEST_RUN * TOLERANCE_M
    runs: list[tuple[int, int, int]] = []
    first = last = -1
    into = -1

    def close() -> None:
        if first >= 0 and along[last] - along[first] >= shortest:
            runs.append((first, last, into))

    by_sample: dict[int, list[Candidate]] = {}
    for candidate in candidates:
        by_sample.setdefault(candidate[0], []).append(candidate)
    for here in sorted(by_sample):
        for _, gap, to, snap in by_sample[here]:
            there = min(int(np.searchsorted(samples[to], snap)), len(samples[to]) - 1)
            if not dropped[to][there]:
                best[here] = gap, to
                break
        if here not in best:
            continue
        gap, to = best[here]
        broken = first >= 0 and (
            any(step not in best for step in range(last + 1, here))
            or along[here] - along[last] > shortest
        )
        if broken:
            close()
            first = -1
        if gap <= TOLERANCE_M:
            if first < 0:
                first, into = here, to
            last = here
            if along[last] - along[first] >= shortest:
                gone[first : last + 1] = True
    close()
    return runs


def _kept(track: Track, along: Floats, gone: NDArray[np.bool_]) -> list[Track]:
    """The stretches of a track outside the dropped samples."""
    edges = np.flatnonzero(np.diff(np.r_[True, gone, True].astype(np.int8)))
    parts = []
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        # A stretch reaches to the last dropped sample on either side.
        low, high = max(begin - 1, 0), min(int(end), len(along) - 1)
        if high > low:
            parts.append(track.cut(float(along[low]), float(along[high])))
    return parts
