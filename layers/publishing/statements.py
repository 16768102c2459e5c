"""What is generalised and what is withheld, in sentences.

They follow from the trail's rules alone, never from its boxes and visits: a sentence that
came and went with a hidden box would give it away.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from layers.trail.public_rules import PublicRules

CLOSED = "The keepers of this trail show nothing of it to the public."
NO_LICENCE = (
    "No licence has been named for this data. Ask the keepers of the trail before you use it "
    "for anything besides looking at it."
)


def generalised(rules: PublicRules, *, until: date, min_nests: int) -> tuple[str, ...]:
    """What is published less exactly than it is known."""
    species = _joined(rules.coarse_species)
    coarse = f"Some boxes{', and all nests of ' + species + ',' if species else ''} are shown"
    sentences = [
        f"Locations are shown as squares of a fixed geographic grid, {rules.cell:g}° wide and "
        "high, never exact: coordinates are those of the middle of the square, and the "
        "uncertainty given with them covers the whole square.",
        f"{coarse} as squares of {rules.coarse_cell:g}°.",
        "A nest is published once it is finished, with the month in which it ended, "
        f"{_days(rules.delay_days)} after that month at the earliest; at present nests that "
        f"ended up to {until.day} {until:%B %Y}.",
        f"Numbers of eggs and young are published where a grid square has {min_nests} published "
        "nests or more in a season.",
    ]
    if rules.ongoing == "in use":
        sentences.append(
            "A box with a nest that is not published yet is counted as in use, without species "
            "and dates, as known on the last Sunday."
        )
    return tuple(sentences)


def withheld(rules: PublicRules) -> tuple[str, ...]:
    """What the trail may hold and the public does not get."""
    sentences = [
        "Withheld for every box: its id, name and exact location, who visited it and when, notes "
        "and photographs.",
        "Some boxes may be withheld entirely, and are counted nowhere.",
    ]
    if rules.ongoing == "withheld":
        sentences.append(
            "Nests not published yet are withheld: such a box looks like one without a nest."
        )
    if rules.withheld_species:
        sentences.append(
            "Nests of some species are withheld, and so are nests whose species is not recorded."
        )
    parts = {
        "paths": "paths that are not open to all",
        "places": "hazards",
        "zones": "zones to keep out of",
    }
    kept_back = [parts[name] if name in rules.released else f"all {name}" for name in parts]
    sentences.append(f"Withheld from the map: {_joined(kept_back)}.")
    return tuple(sentences)


def _joined(parts: Sequence[str]) -> str:
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _days(days: int) -> str:
    return f"{days} day{'' if days == 1 else 's'}"
