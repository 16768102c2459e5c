"""What building a network did, for the keeper of the trail to look over."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from layers.walking.network.lines import Unused
from layers.walking.network.recordings import MergedRecordings
from layers.walking.network.tracks import Merged

LEAST_REPORTED_M = 0.05
"""A smaller gap is one of rounding, as coordinates are often stored to a centimetre."""

K = TypeVar("K")
T = TypeVar("T")


@dataclass(frozen=True)
class Join:
    """A place where two lines were joined, or kept apart for a reason."""

    names: tuple[str, str]
    lon: float
    lat: float
    gap_m: float
    reason: str = ""


@dataclass(frozen=True)
class Part:
    """A connected part of the network."""

    names: tuple[str, ...]
    length_m: float
    lon: float
    lat: float


@dataclass(frozen=True)
class Report:
    """What building a network did.

    Attributes
    ----------
    ends
        Ends that stopped short and were joined, with the gap that was closed.
    crossings
        Crossings that were joined.
    to_decide
        Those of `crossings` where nothing says whether the lines meet: no level, no
        heights, and no junction drawn. If one is a bridge, give it level 1.
    apart
        Lines that cross or nearly touch, and were not joined.
    merged
        Stretches dropped because another line shows the same path.
    recordings
        Recordings of one path that became one line.
    unused
        Lines that are no line, or not open to the walker.
    parts
        Connected parts, the longest first; one is what a trail should have.
    """

    ends: tuple[Join, ...]
    crossings: tuple[Join, ...]
    to_decide: tuple[Join, ...]
    apart: tuple[Join, ...]
    merged: tuple[Merged, ...]
    unused: tuple[Unused, ...]
    parts: tuple[Part, ...]
    recordings: tuple[MergedRecordings, ...] = ()

    def recording_sentences(self) -> list[str]:
        """Which recordings became one line."""
        return [
            f"{_and(one.names)} were recorded along one path and merged into {one.length_m:.0f} m"
            f" of {one.names[0]}, {one.spread_m:.1f} m to the side of it on average. If they are"
            ' two paths, take the word "recorded" out of the kind of one.'
            for one in self.recordings
        ]

    def sentences(self) -> list[str]:
        """The report in plain sentences, each once; empty if there is nothing to say."""
        found = [f"{unused.name} is not used: {unused.reason}." for unused in self.unused]
        found += self.recording_sentences()
        found += [
            f"{sum(one.length_m for one in same):.0f} m of {name} run along {into} and were merged."
            for (name, into), same in _alike(self.merged, lambda one: (one.name, one.into))
        ]
        short = [join for join in self.ends if join.gap_m >= LEAST_REPORTED_M]
        found += [
            f"{first} stopped {_gap(same)} short of {second}{_places(same)} and was joined."
            for (first, second), same in _alike(short, lambda join: join.names)
        ]
        found += [
            f"{first} and {second} cross{_places(same)} where no junction is drawn and were"
            " joined. If one is a bridge, give it level 1."
            for (first, second), same in _alike(self.to_decide, lambda join: join.names)
        ]
        found += [
            f"{first} and {second} were not joined{_places(same)}: {reason}."
            for (first, second, reason), same in _alike(
                self.apart, lambda join: (*join.names, join.reason)
            )
        ]
        found += [
            f"{', '.join(part.names[:3])}{' and others' if len(part.names) > 3 else ''}"
            f" ({part.length_m:.0f} m) cannot be reached from the rest of the paths."
            for part in self.parts[1:]
        ]
        return list(dict.fromkeys(found))


def _alike(given: Iterable[T], key: Callable[[T], K]) -> Iterable[tuple[K, list[T]]]:
    """The given, gathered by a key in the order in which the keys first come."""
    groups: dict[K, list[T]] = {}
    for one in given:
        groups.setdefault(key(one), []).append(one)
    return groups.items()


def _and(names: Sequence[str]) -> str:
    """Names in a row; recordings of one name once."""
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))


def _gap(same: Sequence[Join]) -> str:
    widest = f"{max(join.gap_m for join in same):.1f} m"
    return widest if len(same) == 1 else f"up to {widest}"


def _places(same: Sequence[Join]) -> str:
    """In how many places, if in more than one."""
    return f" in {len(same)} places" if len(same) > 1 else ""
