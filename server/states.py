"""What every box is on a day, as records for lists and JSON."""

from __future__ import annotations

from datetime import date
from typing import Any

from layers.nesting.timeline import OUT_OF_SERVICE
from layers.trail.settings import season_of
from layers.trail.words import FATES, OCCUPANCY
from server.contents import Contents


def box_states(contents: Contents, on: date) -> list[dict[str, Any]]:
    """Each box's `box`, `name`, `section` and what it is on a day.

    Boxes come in the order of `contents.ground.boxes`.

    Returns
    -------
    list of dict
        `occupancy`; `species` and `fate` of the latest attempt of the season (None =
        none so far); `days_since_visit` (None = not visited this season);
        `overdue`: whether that is more than the trail's `visit_every_days`.
    """
    season = season_of(on, contents.settings.season_starts)
    timeline = contents.timeline(season)
    states = timeline.on(on)
    species_names = (None, *timeline.species_names)
    fates = (None, *FATES)
    most_days = contents.settings.visit_every_days
    boxes = contents.ground.boxes
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
            states.occupancy.tolist(),
            states.species.tolist(),
            states.fate.tolist(),
            states.days_since_visit.tolist(),
            strict=False,
        )
    ]
