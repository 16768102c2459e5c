"""For which species a place has room: how far the next box that could serve it stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from layers.nesting.guide import Guide, Span, Species
from layers.nesting.season.result import Interval, exact_binomial, format_value
from layers.nesting.siting.nested import Nested, seasons_held
from layers.nesting.siting.place import BoxNear, Place
from layers.nesting.siting.reason import Figure, Reason
from layers.nesting.winter.unused import HOLE_TOLERANCE_MM
from layers.trail.measures import format_distance, format_height, format_mm
from layers.words import format_count, format_list

Room = Literal["room", "close", "too close", "not known"]
ROOMS: tuple[Room, ...] = get_args(Room)

_FIGURES: tuple[tuple[str, str, Callable[[float, str], str]], ...] = (
    ("hole", "hole_mm", format_mm),
    ("floor inside", "floor_mm", format_mm),
    ("depth inside", "depth_mm", format_mm),
    ("hole above the floor", "entrance_height_mm", format_mm),
    ("height above the ground", "height_m", format_height),
)


@dataclass(frozen=True)
class Fit:
    """What a place is for one species.

    Attributes
    ----------
    nests
        Nests with eggs that it had on this trail.
    room
        "room"; "close": nearer to a box that could serve it than the wider distance of the
        guide; "too close": nearer than the least; "not known": the guide gives no distance.
    why
        What `room` rests on.
    habitat
        How it used boxes in the habitat of the place, and elsewhere; None where the trail
        does not say.
    figures
        The box that the guide describes for it; empty where it does not.
    """

    species: str
    nests: int
    room: Room
    why: Reason
    habitat: Reason | None
    figures: tuple[Figure, ...]

    @property
    def sources(self) -> tuple[str, ...]:
        """The citations behind all of it, each once."""
        cited = [*self.why.sources, *(source for one in self.figures for source in one.sources)]
        return tuple(dict.fromkeys(cited))


def expected_species(guide: Guide, laid: Nested) -> dict[str, int]:
    """Species of the guide that may come to a box here -> the nests with eggs that each had on
    this trail; those that had most first, then by name.

    They are those that nested here, and those of the region that most of these share; before
    any nest, every one. Species of whose boxes the guide says nothing are left out.
    """
    counted: Counter[str] = Counter()
    for here in laid.values():
        for name, seasons in here.items():
            if _described(guide.find(name)):
                counted[name] += len(seasons)
    shared = Counter(region for name in counted for region in guide.find(name).regions)
    regions = {region for region, number in shared.items() if number == max(shared.values())}
    for species in guide.species:
        if _described(species) and (not regions or regions & set(species.regions)):
            counted.setdefault(species.common, 0)
    ranked = sorted(counted, key=lambda name: (-counted[name], name))
    return {name: counted[name] for name in ranked}


def _described(species: Species) -> bool:
    return species.hole_mm is not None or species.spacing_m is not None


def rivals(laid: Nested, boxes: Iterable[Mapping[str, Any]], species: Species) -> list[str]:
    """Which boxes, rows of the trail, could serve a species, or held it before."""
    return [
        facts["box"]
        for facts in boxes
        if _could_serve(facts, species) or species.common in laid.get(facts["box"], {})
    ]


def _could_serve(facts: Mapping[str, Any], species: Species) -> bool:
    """Whether a box has a hole that the guide names for a species, or one that is not recorded."""
    hole, span = facts.get("hole_mm"), species.hole_mm
    if hole is None or span is None:
        return True
    return bool(span.low - HOLE_TOLERANCE_MM <= hole <= span.high + HOLE_TOLERANCE_MM)


def fit(
    guide: Guide,
    laid: Nested,
    place: Place,
    species: Species,
    *,
    habitats: Mapping[str, str],
    nests: int,
    units: str,
) -> Fit:
    """What a place is for one species of the guide; `habitats` are those of boxes, by id."""
    room, why = _room(guide, laid, place, species, units)
    return Fit(
        species=species.common,
        nests=nests,
        room=room,
        why=why,
        habitat=_habitat(laid, place, species, habitats) if nests else None,
        figures=_figures(guide, species, units),
    )


@dataclass(frozen=True)
class HabitatUse:
    """In how many of the trail's boxes of one habitat a species has laid, and the interval of
    that share.
    """

    habitat: str
    used: int
    boxes: int
    interval: Interval

    @property
    def text(self) -> str:
        low, high = (format_value(end, "share") for end in (self.interval.low, self.interval.high))
        return (
            f"laid in {self.used} of the trail's {format_count(self.boxes, 'box', 'boxes')} in "
            f"{self.habitat} (95 % interval {low} to {high})"
        )


def habitat_use(
    laid: Nested, species: Species, habitats: Mapping[str, str]
) -> dict[str, HabitatUse]:
    """Habitat -> how a species used the boxes in it; `habitats` are those of boxes, by id."""
    found = {}
    for habitat in sorted(set(habitats.values())):
        own = [box for box, named in habitats.items() if named == habitat]
        used = sum(species.common in laid.get(box, {}) for box in own)
        found[habitat] = HabitatUse(habitat, used, len(own), exact_binomial(used, len(own)))
    return found


def _habitat(
    laid: Nested, place: Place, species: Species, habitats: Mapping[str, str]
) -> Reason | None:
    each = habitat_use(laid, species, habitats)
    here = next((each[zone.detail] for zone in place.zones if zone.detail in each), None)
    if here is None:
        return None
    others = [one for one in each.values() if one is not here]
    if not others:
        return None
    used, boxes = sum(one.used for one in others), sum(one.boxes for one in others)
    return Reason(f"It has {here.text}, and in {used} of {boxes} elsewhere.")


def _room(
    guide: Guide, laid: Nested, place: Place, species: Species, units: str
) -> tuple[Room, Reason]:
    span = species.spacing_m
    if span is None:
        return "not known", Reason("The guide gives no distance between boxes for it.")
    able = set(rivals(laid, (near.facts for near in place.boxes), species))
    sources = guide.citations(span.sources)
    near = next((one for one in place.boxes if one.box in able), None)
    if near is None or near.distance_m >= span.high:
        next_one = (
            f"; the next, {near.box}, is {format_distance(near.distance_m, units)} away"
            if near is not None
            else ""
        )
        wanted = format_distance(span.high, units)
        return "room", Reason(
            f"No box that could serve it stands within {wanted}{next_one}.", sources
        )
    held = seasons_held(laid, near.box, species.common)
    low = format_distance(span.low, units)
    if near.distance_m < span.low:
        rule = f"the guide keeps boxes for it at least {low} apart"
        room: Room = "too close"
    else:
        rule = f"the guide gives {low} to {format_distance(span.high, units)} between boxes for it"
        room = "close"
    return room, Reason(f"{_rival_text(near, held, units)}; {rule}.", sources)


def _rival_text(near: BoxNear, held: tuple[int, ...], units: str) -> str:
    hole = near.facts.get("hole_mm")
    if held:
        what = f"held it in {format_list([str(season) for season in held])}"
    elif hole is None:
        what = "could serve it: its hole is not recorded"
    else:
        what = f"has a hole that fits it ({format_mm(hole, units)})"
    return f"Box {near.box}, {format_distance(near.distance_m, units)} away, {what}"


def _figures(guide: Guide, species: Species, units: str) -> tuple[Figure, ...]:
    figures = []
    for name, column, say in _FIGURES:
        span: Span | None = getattr(species, column)
        if span is not None:
            low, high = say(span.low, units), say(span.high, units)
            text = low if low == high else f"{low} {'by' if column == 'floor_mm' else 'to'} {high}"
            figures.append(Figure(name, text, guide.citations(span.sources)))
    return tuple(figures)
