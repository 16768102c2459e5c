"""What every box is on a day, as records for lists and JSON, and the card of one."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from layers.nesting.card import box_card
from layers.nesting.timeline import OUT_OF_SERVICE, BoxStates, Timeline
from layers.trail.settings import season_of
from layers.trail.words import FATES, OCCUPANCY
from server.live.contents import Contents
from server.live.trail import LiveTrail

EVERY = slice(None)


def box_states(contents: Contents, on: date, *, rows: slice = EVERY) -> list[dict[str, Any]]:
    """Each box's `box`, `name`, `section` and what it is on a day.

    Parameters
    ----------
    rows
        Which of `contents.ground.boxes`; in their order.

    Returns
    -------
    list of dict
        `occupancy`; `species` and `fate` of the latest attempt of the season (None =
        none so far); `days_since_visit` (None = not visited this season);
        `overdue`: whether that is more than the trail's `visit_every_days`.
    """
    timeline, states = _on(contents, on)
    species_names = (None, *timeline.species_names)
    fates = (None, *FATES)
    most_days = contents.settings.visit_every_days
    boxes = contents.ground.boxes.iloc[rows]
    return [
        {
            "box": box,
            "name": name,
            "section": section,
            "occupancy": OCCUPANCY[occupancy],
            "species": species_names[species],
            "fate": fates[fate],
            "days_since_visit": days if days >= 0 else None,
            "overdue": days > most_days and occupancy != OUT_OF_SERVICE,
        }
        for box, name, section, occupancy, species, fate, days in zip(
            boxes["box"],
            boxes["name"],
            boxes["section"],
            # Behind the boxes come those that only a visit names: cut off by zip.
            states.occupancy[rows].tolist(),
            states.species[rows].tolist(),
            states.fate[rows].tolist(),
            states.days_since_visit[rows].tolist(),
            strict=False,
        )
    ]


def occupancy_counts(contents: Contents, on: date) -> list[tuple[str, int]]:
    """How many boxes are what on a day: the words that hold for any, in their order."""
    _, states = _on(contents, on)
    mine = states.occupancy[: len(contents.ground.boxes)]
    counts = np.bincount(mine, minlength=len(OCCUPANCY)).tolist()
    return [(word, count) for word, count in zip(OCCUPANCY, counts, strict=True) if count]


def card_of(live: LiveTrail, box: str, *, on: date) -> tuple[Contents, dict[str, Any]]:
    """The trail's contents, and all that is known of one of its boxes at that very version.

    Raises
    ------
    NotKnown
        There is no box of that id.
    """
    contents, rows = live.consistent(lambda trail: trail.visit_rows(box))
    record = contents.ground.box(box)
    card = box_card(contents.histories, record, rows, settings=contents.settings, on=on)
    return contents, card


def _on(contents: Contents, on: date) -> tuple[Timeline, BoxStates]:
    """What was known on the day, by the visits up to it."""
    timeline = contents.known_on(on).timeline(season_of(on, contents.settings.season_starts), on)
    return timeline, timeline.on(on)
