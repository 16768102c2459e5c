"""A statement about a place, with its sources."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Reason:
    """One sentence, and the citations of what it rests on beside the trail's own visits."""

    text: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Figure:
    """One measure of a box for a species: `hole`, `1 1/2 in`, and its citations."""

    name: str
    text: str
    sources: tuple[str, ...]
