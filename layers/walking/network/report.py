"""What building a network did, for the keeper of the trail to look over."""

from __future__ import annotations

from dataclasses import dataclass

from layers.walking.network.lines import Unused
from layers.walking.network.tracks import Merged


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

    def sentences(self) -> list[str]:
        """The report in plain sentences; empty if there is nothing to say."""
        said = [f"{unused.name} is not used: {unused.reason}." for unused in self.unused]
        said += [
            f"{merged.length_m:.0f} m of {merged.name} run along {merged.into} and were merged."
            for merged in self.merged
        ]
        said += [
            f"{join.names[0]} stopped {join.gap_m:.1f} m short of {join.names[1]} and was joined."
            for join in self.ends
        ]
        said += [
            f"{join.names[0]} and {join.names[1]} cross where no junction is drawn and were"
            " joined. If one is a bridge, give it level 1."
            for join in self.to_decide
        ]
        said += [
            f"{join.names[0]} and {join.names[1]} were not joined: {join.reason}."
            for join in self.apart
        ]
        said += [
            f"{', '.join(part.names[:3])}{' and others' if len(part.names) > 3 else ''}"
            f" ({part.length_m:.0f} m) cannot be reached from the rest of the paths."
            for part in self.parts[1:]
        ]
        return said
