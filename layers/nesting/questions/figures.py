"""The few figures of the guide by which a visit's plausibility is judged.

They are what a phone needs beside the box's visits to ask the same questions.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

from layers.nesting.guide import Guide, Species
from layers.nesting.limits import early_days, most_eggs_of_one
from layers.words import with_article


@dataclass(frozen=True)
class Figures:
    """Figures of one species, in whole days, eggs and millimetres.

    Attributes
    ----------
    name, a_bird
        The species in the middle of a sentence, and with its article.
    clutch
        Eggs in a usual clutch.
    eggs_most
        More than these are laid by several females.
    lay_days
        From one egg to the next.
    early_days
        Days before the last egg on which sitting may begin.
    least_hole_mm
        The narrowest round hole that it passes; None where that is not known.
    """

    name: str
    a_bird: str
    clutch: tuple[int, int]
    eggs_most: int
    lay_days: int
    incubation_least: int
    early_days: int
    nestling_least: int
    nestling_most: int
    leaves_at_once: bool
    least_hole_mm: float | None


@lru_cache(maxsize=500)
def figures_of(guide: Guide, name: str | None) -> Figures:
    """The figures of a species; of any small songbird where it is not known."""
    known = guide.get(name) if name else None
    species: Species = known or guide.unknown
    hole = species.least_hole_mm
    named = known.common if known else "small songbirds"
    return Figures(
        name=named,
        a_bird=with_article(known.common) if known else "a small songbird",
        clutch=(math.floor(species.clutch.low), math.ceil(species.clutch.high)),
        eggs_most=most_eggs_of_one(species),
        lay_days=max(round(species.laying_interval_days.low), 1),
        incubation_least=math.floor(species.incubation_days.low),
        early_days=early_days(species),
        nestling_least=math.floor(species.nestling_days.low),
        nestling_most=math.ceil(species.nestling_days.high),
        leaves_at_once=species.leaves_at_once,
        least_hole_mm=hole.low if hole else None,
    )


def figures_of_all(guide: Guide) -> dict[str, dict[str, Any]]:
    """The figures of every species by its name, those of an unknown one under `""`: for JSON."""
    named = {one.common: figures_of(guide, one.common) for one in guide.species}
    return {
        name: asdict(one) | {"clutch": list(one.clutch)}
        for name, one in {"": figures_of(guide, None), **named}.items()
    }
