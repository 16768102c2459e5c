"""Boxes unused for years, with what in the record may explain it.

Nothing here proves why birds keep away: each reason comes with what was seen, and
"nothing in the record explains it" is an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.winter.record import BoxRecord, TrailRecord
from layers.trail.measures import format_distance, format_mm
from layers.words import format_count

# A single empty season says little of a box (common practice, no source).
UNUSED_SEASONS = 2

# Holes are given in whole sixteenths of an inch, 1.6 mm (the tables behind the guide).
HOLE_TOLERANCE_MM = 1.6

SURE = 0.05
"""A habitat is named only where chance alone would separate the boxes this seldom."""

_ANIMALS = ("mouse", "wasps", "ants", "squirrel")


@dataclass(frozen=True)
class Evidence:
    """One likely reason: `about` is hole, spacing, habitat, animal or wet."""

    about: str
    text: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Unused:
    """A box checked and never laid in for its latest `seasons`; `likely` may be empty.

    `may_serve` names species of the trail that its hole suits and that a neighbour too near
    does not keep away.
    """

    box: str
    seasons: tuple[int, ...]
    likely: tuple[Evidence, ...]
    may_serve: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """How long it has been unused."""
        first, last = self.seasons[0], self.seasons[-1]
        return (
            f"No egg in it in any of the {len(self.seasons)} seasons {first} to {last} in which "
            "it was checked."
        )


def unused_boxes(record: TrailRecord, *, units: str) -> list[Unused]:
    """Boxes unused in each of their latest seasons, at least `UNUSED_SEASONS`, by box id."""
    found = []
    for box in sorted(record.boxes):
        one = record.boxes[box]
        if len(one.unused_seasons) >= UNUSED_SEASONS:
            likely = tuple(why for rule in _RULES for why in rule(record, one, units))
            found.append(Unused(box, one.unused_seasons, likely, _may_serve(record, one)))
    return found


def _may_serve(record: TrailRecord, one: BoxRecord) -> tuple[str, ...]:
    """Species of the trail that could use the box beside the neighbours that it has; where its
    hole is not recorded, it may suit any.
    """
    guide, hole = record.histories.guide, one.facts.get("hole_mm")
    able = []
    for name in sorted(record.species()):
        species = guide.find(name)
        span = species.hole_mm
        if span is None or not (
            hole is None or span.low - HOLE_TOLERANCE_MM <= hole <= span.high + HOLE_TOLERANCE_MM
        ):
            continue
        apart_m = 0.0 if species.spacing_m is None else species.spacing_m.low
        if not any(
            _holds(record, near.box, name) for near in one.neighbours if near.distance_m < apart_m
        ):
            able.append(name)
    return tuple(able)


def _holds(record: TrailRecord, box: str, species: str) -> bool:
    other = record.boxes.get(box)
    return other is not None and any(species in names for names in other.laid.values())


def _hole(record: TrailRecord, one: BoxRecord, units: str) -> Iterator[Evidence]:
    hole = one.facts.get("hole_mm")
    guide = record.histories.guide
    spans = {
        name: span for name in record.species() if (span := guide.find(name).hole_mm) is not None
    }
    if hole is None or not spans:
        return
    least = min(spans, key=lambda name: (spans[name].low, name))
    most = max(spans, key=lambda name: (spans[name].high, name))
    if hole < spans[least].low - HOLE_TOLERANCE_MM:
        text, of = "narrower than", least
        wanted = spans[least].low
    elif hole > spans[most].high + HOLE_TOLERANCE_MM:
        text, of = "wider than", most
        wanted = spans[most].high
    else:
        return
    yield Evidence(
        "hole",
        f"Its hole of {format_mm(hole, units)} is {text} any that the guide names for a species "
        f"that nests on this trail ({format_mm(wanted, units)} for {of}).",
        guide.citations(spans[of].sources),
    )


def _spacing(record: TrailRecord, one: BoxRecord, units: str) -> Iterator[Evidence]:
    if one.facts.get("pair"):
        # Boxes back to back stand close on purpose.
        return
    guide = record.histories.guide
    for near in one.neighbours:
        other = record.boxes.get(near.box)
        if other is None:
            continue
        seasons = [season for season in one.unused_seasons if season in other.laid]
        names = {name for season in seasons for name in other.laid[season] if name is not None}
        for name in sorted(names):
            species = guide.get(name)
            if species is None or species.spacing_m is None:
                continue
            if near.distance_m < species.spacing_m.low:
                yield Evidence(
                    "spacing",
                    f"Box {near.box}, {format_distance(near.distance_m, units)} away, held "
                    f"{name} in {len(seasons)} of these {len(one.unused_seasons)} seasons; the "
                    f"guide keeps boxes for {name} "
                    f"{format_distance(species.spacing_m.low, units)} apart.",
                    guide.citations(species.spacing_m.sources),
                )
                return


def _habitat(record: TrailRecord, one: BoxRecord, units: str) -> Iterator[Evidence]:
    """Boxes in its habitat are used more seldom than others in the same seasons."""
    habitat = one.facts.get("habitat")
    if habitat is None:
        return
    counts = np.zeros((2, 2), int)
    seasons = set(one.unused_seasons)
    for other in record.boxes.values():
        if other.facts.get("habitat") is None or not seasons & set(other.looked_into):
            continue
        here = other.facts["habitat"] == habitat
        used = bool(seasons & set(other.laid))
        counts[int(not here), int(not used)] += 1
    here_all, else_all = (int(total) for total in counts.sum(axis=1))
    if not else_all:
        return
    from scipy.stats import fisher_exact  # noqa: PLC0415 - slow to load, and seldom needed

    less = fisher_exact(counts, alternative="less")
    if float(less.pvalue) < SURE:
        yield Evidence(
            "habitat",
            f"In these seasons {counts[0, 0]} of {here_all} boxes in {habitat} were used, "
            f"{counts[1, 0]} of {else_all} elsewhere (Fisher's exact test, one-sided: "
            f"p = {float(less.pvalue):.2g}).",
        )


def _signs(record: TrailRecord, one: BoxRecord, words: tuple[str, ...]) -> dict[str, int]:
    """Sign -> visits that met it in the seasons without a nest."""
    visits, seasons = record.histories.visits, record.histories.observations["season"]
    inside = [i for i in one.visits if int(seasons[i]) in one.unused_seasons]
    met = {w: sum(bool(visits.signs[i] & c.sign_bits(w)) for i in inside) for w in words}
    return {word: number for word, number in met.items() if number}


def _animals(record: TrailRecord, one: BoxRecord, units: str) -> Iterator[Evidence]:
    for word, number in _signs(record, one, _ANIMALS).items():
        yield Evidence(
            "animal", f"Met in it: {word}, on {format_count(number, 'visit', 'visits')}."
        )


def _wet(record: TrailRecord, one: BoxRecord, units: str) -> Iterator[Evidence]:
    for number in _signs(record, one, ("wet",)).values():
        yield Evidence("wet", f"Found wet inside on {format_count(number, 'visit', 'visits')}.")


_RULES: tuple[Callable[[TrailRecord, BoxRecord, str], Iterator[Evidence]], ...] = (
    _hole,
    _spacing,
    _habitat,
    _animals,
    _wet,
)
