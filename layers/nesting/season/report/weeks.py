"""Boxes in use, week by week."""

from __future__ import annotations

import numpy as np

from layers.nesting.season.report.facts import Weeks
from layers.nesting.timeline import IN_USE, Timeline
from layers.trail.coding import day_of


def weeks_of(timeline: Timeline, *, species: str | None) -> Weeks:
    """Boxes in use on the first day of each week of a season; of one species, or of each."""
    names = timeline.species_names
    starts = [day_of(timeline.first_day + day) for day in range(0, timeline.days, 7)]
    numbers = np.zeros((len(starts), len(names) + 1), int)
    for at, day in enumerate(starts):
        states = timeline.on(day)
        in_use = states.species[states.occupancy == IN_USE]
        numbers[at] = np.bincount(in_use, minlength=len(names) + 1)
    numbers = numbers[:, 1:]
    if species is not None:
        numbers[:, [name != species for name in names]] = 0
    busy = np.flatnonzero(numbers.sum(axis=1))
    if len(busy) == 0:
        return Weeks((), {})
    # A week before and after, so that a plot starts and ends at none.
    shown = slice(max(int(busy[0]) - 1, 0), int(busy[-1]) + 2)
    order = np.argsort(-numbers.sum(axis=0), kind="stable")
    return Weeks(
        tuple(starts[shown]),
        {
            names[code]: tuple(numbers[shown, code].tolist())
            for code in order
            if numbers[:, code].any()
        },
    )
