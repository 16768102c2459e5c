"""What must not get out of a made trail on a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from layers.publishing.nests import published_until
from layers.trail.coding import day_of
from layers.trail.public_rules import PublicRules
from tests.publishing.planted import BOX_NAME, NAME, NOTE, PERSON, Planted
from tests.publishing.scanner import Secrets


def secrets_of(
    trail: Planted, rules: PublicRules, on: dt.date, *, words: Sequence[str | None] | None = None
) -> Secrets:
    """The secrets of a trail whose boxes are shown in these ways."""
    ways = list(trail.boxes["public"]) if words is None else words
    how = [word or rules.unmarked for word in ways]
    # One grid for the whole trail, by its strictest mark.
    strict = "coarse" in how or rules.coarse_species
    finest = rules.coarse_cell if strict else rules.cell
    points = trail.boxes.geometry
    until = published_until(on, delay_days=rules.delay_days)
    return Secrets(
        places=np.column_stack([points.x, points.y]),
        finest_deg=np.array([np.inf if word == "hidden" else finest for word in how]),
        words=frozenset(
            {
                NOTE,
                PERSON,
                BOX_NAME,
                "Oakapple's ride",
                *trail.boxes["box"],
                "Owl wood",
                "owl nest in June",
                "Wasps",
                "Keepers' way",
                "Old drive",
                *([NAME] if strict and not rules.name else []),
            }
        ),
        # The last told day is said, and a day may be written without its year.
        days=frozenset(
            day
            for day in map(day_of, np.unique(trail.histories.visits.day))
            if (day.month, day.day) != (until.month, until.day)
        ),
    )
