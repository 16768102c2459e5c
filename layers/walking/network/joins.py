"""Where tracks meet: crossings, and ends that stop short of what they were meant to reach.

Which tracks may meet:

- Two lines that cross meet where they have the same level and, if both carry heights,
  these differ by less than the height tolerance.
- A bridge or an underpass comes back to the ground at its ends, so the end of any line
  meets a line on the ground or another end, whatever its own level.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from layers.walking.network.lines import Line
from layers.walking.network.plane import project
from layers.walking.network.tracks import HEIGHT_TOLERANCE_M, TOLERANCE_M, Segments, Track

Floats = NDArray[np.float64]

LOCAL_M = 2.0 * TOLERANCE_M
"""Joins within this distance along a track count as one place."""

OWN_LOOP_M = 4.0 * TOLERANCE_M
"""The end of a line joins the line itself at least this far back along it."""

ROUNDING_M = 1e-6
"""A micrometre: far above the rounding of crossings on the plane, far below a step."""


@dataclass(frozen=True)
class Meeting:
    """A place where two tracks meet, or come near and stay apart.

    `gap_m` is the distance between them; `reason` says why they stay apart and is
    empty where they are joined.
    """

    tracks: tuple[int, int]
    along: tuple[float, float]
    gap_m: float
    reason: str = ""
    by_end: bool = False
    drawn: bool = False


@dataclass
class Joins:
    """Joins found so far. Each cut is a track and a distance along its line."""

    cuts: list[tuple[int, float]] = field(default_factory=list)
    pairs: list[tuple[int, int, float]] = field(default_factory=list)
    _place: list[int] = field(default_factory=list)
    _by_track: dict[int, list[tuple[float, int]]] = field(default_factory=dict)

    def _root(self, cut: int) -> int:
        while self._place[cut] != cut:
            self._place[cut] = self._place[self._place[cut]]
            cut = self._place[cut]
        return cut

    def _near(self, track: int, along: float) -> Iterator[int]:
        cuts = self._by_track.get(track, [])
        first = bisect.bisect_left(cuts, (along - LOCAL_M, -1))
        for at, cut in cuts[first:]:
            if at > along + LOCAL_M:
                return
            yield cut

    def cut(self, track: int, along: float) -> int:
        """The number of a new cut."""
        number = len(self.cuts)
        self.cuts.append((track, along))
        self._place.append(number)
        for other in self._near(track, along):
            self._place[self._root(other)] = self._root(number)
        bisect.insort(self._by_track.setdefault(track, []), (along, number))
        return number

    def join(self, meeting: Meeting) -> None:
        first, second = (
            self.cut(track, along)
            for track, along in zip(meeting.tracks, meeting.along, strict=True)
        )
        self.pairs.append((first, second, meeting.gap_m))
        self._place[self._root(first)] = self._root(second)

    def joined(self, meeting: Meeting) -> bool:
        """Whether the two tracks are tied together around there already."""
        here, there = (
            {self._root(cut) for cut in self._near(track, along)}
            for track, along in zip(meeting.tracks, meeting.along, strict=True)
        )
        return not here.isdisjoint(there)


def find_joins(
    tracks: Sequence[Track], lines: Sequence[Line]
) -> tuple[Joins, list[Meeting], list[Meeting]]:
    """Every join between tracks; the meetings joined, and those kept apart."""
    joins = Joins()
    if not tracks:
        return joins, [], []
    segments = Segments.of(tracks)
    shapes = segments.shapes()
    tree = shapely.STRtree(shapes)
    judge = _Judge(tracks, lines)
    joined: list[Meeting] = []
    apart: list[Meeting] = []
    for meeting in _crossings(segments, shapes, tree, judge):
        if meeting.reason:
            apart.append(meeting)
        else:
            joins.join(meeting)
            joined.append(meeting)
    for meeting in _ends(segments, tree, judge):
        if meeting.reason:
            apart.append(meeting)
        elif not joins.joined(meeting):
            joins.join(meeting)
            joined.append(meeting)
    return joins, joined, [meeting for meeting in apart if not joins.joined(meeting)]


@dataclass(frozen=True)
class _Judge:
    """Says whether two tracks meet at a place."""

    tracks: Sequence[Track]
    lines: Sequence[Line]

    def at_end(self, track: int, along: float) -> bool:
        ends = self.tracks[track].along
        return bool(min(along - ends[0], ends[-1] - along) <= TOLERANCE_M)

    def meet(self, tracks: tuple[int, int], along: tuple[float, float], gap_m: float) -> Meeting:
        ground = [self.lines[self.tracks[track].line].effective_level for track in tracks]
        ends = [self.at_end(track, at) for track, at in zip(tracks, along, strict=True)]
        raw = [self.tracks[track].raw_at(at) for track, at in zip(tracks, along, strict=True)]
        lands = any(
            end and (other == 0 or other_end)
            for end, other, other_end in zip(ends, ground[::-1], ends[::-1], strict=True)
        )
        reason = ""
        if ground[0] != ground[1] and not lands:
            reason = f"levels {ground[0]} and {ground[1]}"
        elif abs(raw[0] - raw[1]) >= HEIGHT_TOLERANCE_M:
            reason = f"heights differ by {abs(raw[0] - raw[1]):.1f} m"
        return Meeting(tracks, along, gap_m, reason, any(ends), self._drawn(tracks, along))

    def _drawn(self, tracks: tuple[int, int], along: tuple[float, float]) -> bool:
        """Whether both lines have a vertex at the place: a junction was drawn."""
        return all(
            float(np.abs(self.tracks[track].along - at).min()) <= ROUNDING_M
            for track, at in zip(tracks, along, strict=True)
        )


def _crossings(
    segments: Segments, shapes: NDArray[np.object_], tree: shapely.STRtree, judge: _Judge
) -> Iterator[Meeting]:
    """Places where two segments touch or cross, neighbours along a line left out."""
    first, second = tree.query(shapes, predicate="intersects")
    follows = (segments.track[first] == segments.track[second]) & (
        np.abs(segments.number[first] - segments.number[second]) == 1
    )
    use = (first < second) & ~follows
    first, second = first[use], second[use]
    order = np.lexsort((second, first))
    first, second = first[order], second[order]
    places, pair = shapely.get_coordinates(
        shapely.intersection(shapes[first], shapes[second]), return_index=True
    )
    along = []
    for segment in (first[pair], second[pair]):
        fraction, _ = project(places, segments.begin[segment], segments.end[segment])
        along.append(segments.along[segment] + fraction * segments.length[segment])
    seen: set[tuple[int, int, int, int]] = set()
    for one, two, at_one, at_two in zip(
        segments.track[first[pair]].tolist(),
        segments.track[second[pair]].tolist(),
        along[0].tolist(),
        along[1].tolist(),
        strict=True,
    ):
        # A crossing at a vertex is found once for each segment that ends there.
        key = one, two, round(at_one / ROUNDING_M / 10), round(at_two / ROUNDING_M / 10)
        if key not in seen and not (one == two and abs(at_one - at_two) <= ROUNDING_M):
            seen.add(key)
            yield judge.meet((one, two), (at_one, at_two), 0.0)


def _ends(segments: Segments, tree: shapely.STRtree, judge: _Judge) -> list[Meeting]:
    """What each end of a track comes near to.

    What lies straight ahead comes first, as that is where the line was going, and is
    met there; the rest is met at its nearest point. Nearer ones come first.
    """
    owner = np.repeat(np.arange(len(judge.tracks)), 2)
    at = np.concatenate([track.along[[0, -1]] for track in judge.tracks])
    xy = np.concatenate([track.xy[[0, -1]] for track in judge.tracks])
    onward = np.concatenate([track.xy[[0, -1]] - track.xy[[1, -2]] for track in judge.tracks])
    reach = TOLERANCE_M + ROUNDING_M
    end, segment = tree.query(shapely.points(xy), predicate="dwithin", distance=reach)
    begin, finish = segments.begin[segment], segments.end[segment]
    fraction, gap = project(xy[end], begin, finish)
    ahead, ahead_m = _ahead(xy[end], onward[end], begin, finish)
    straight = ahead_m <= reach
    fraction, gap = np.where(straight, ahead, fraction), np.where(straight, ahead_m, gap)
    snap = segments.along[segment] + fraction * segments.length[segment]
    track = segments.track[segment]
    far = np.abs(snap - at[end]) > OWN_LOOP_M
    use = np.flatnonzero((track != owner[end]) | far)
    meetings = []
    order = np.lexsort((segment[use], end[use], gap[use], ~straight[use]))
    for position in use[order].tolist():
        tracks = int(owner[end[position]]), int(track[position])
        along = float(at[end[position]]), float(snap[position])
        meetings.append(judge.meet(tracks, along, float(gap[position])))
    return meetings


def _ahead(place: Floats, onward: Floats, begin: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Where lines that go on straight meet segments: fraction of the segment, and distance.

    Infinitely far where they do not meet.
    """
    along, start = end - begin, begin - place
    cross = onward[:, 0] * along[:, 1] - onward[:, 1] * along[:, 0]
    safe = np.where(cross == 0.0, np.nan, cross)
    steps = (start[:, 0] * along[:, 1] - start[:, 1] * along[:, 0]) / safe
    fraction = (start[:, 0] * onward[:, 1] - start[:, 1] * onward[:, 0]) / safe
    meets = (steps >= 0.0) & (fraction >= 0.0) & (fraction <= 1.0)
    return fraction, np.where(meets, steps * np.linalg.norm(onward, axis=1), np.inf)
