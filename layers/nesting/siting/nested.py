"""Which species laid in which box, and when."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories

Nested = Mapping[str, Mapping[str, tuple[int, ...]]]
"""Box -> common name of a species of the guide -> the season of each of its nests with eggs
there, oldest first."""


def nested(histories: Histories) -> Nested:
    """What laid in every box in which a species of the guide did."""
    guide, names = histories.guide, histories.visits.species_names
    common = [None if (one := guide.get(name)) is None else one.common for name in names]
    found: dict[str, dict[str, tuple[int, ...]]] = {}
    laid = histories.rows[(histories.rows[:, c.LAID] == 1) & (histories.rows[:, c.SPECIES] >= 0)]
    laid = laid[np.argsort(laid[:, c.SEASON], kind="stable")]
    for box, species, season in laid[:, [c.BOX, c.SPECIES, c.SEASON]].tolist():
        name = common[species]
        if name is not None:
            here = found.setdefault(histories.visits.boxes[box], {})
            here[name] = (*here.get(name, ()), season)
    return found


def seasons_held(laid: Nested, box: str, species: str) -> tuple[int, ...]:
    """Seasons in which a species laid in a box, oldest first, each once."""
    return tuple(dict.fromkeys(laid.get(box, {}).get(species, ())))
