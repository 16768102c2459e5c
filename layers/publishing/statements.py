"""What is generalised and what is withheld, in sentences.

They follow from the trail's rules and the size of its squares, never from a hidden box: a
sentence that came and went with one would give it away.
"""

from __future__ import annotations

from datetime import date

from layers.publishing.layout import Layout
from layers.trail.public_rules import PublicRules
from layers.words import format_day, format_length, format_list

CLOSED = "The keepers of this trail show nothing of it to the public."
NO_LICENCE = (
    "No licence has been named for this data. Ask the keepers of the trail before you use it "
    "for anything besides looking at it."
)


def generalised(
    rules: PublicRules, layout: Layout, *, until: date, min_nests: int
) -> tuple[str, ...]:
    """What is published less exactly than it is known."""
    size = f"{layout.size_deg:g}° wide and high"
    never_exact = (
        "Locations are never exact: coordinates are those of the middle of the square, and the "
        "uncertainty given with them covers every box counted in it."
    )
    where = (
        f"Boxes are counted in squares of a fixed geographic grid, {size}. {never_exact}"
        if layout.reach_m is None
        else f"The whole trail is shown as one square of a fixed geographic grid, {size}; boxes "
        f"may be outside of it. {never_exact} No two boxes are more than "
        f"{format_length(layout.reach_m)} apart."
    )
    sentences = [
        where,
        "Numbers change with the release on the first day of a month, and not in between: boxes "
        "that are added, moved, hidden or shown, and visits that are corrected, change nothing "
        "before the next one.",
        "A nest is published once it is finished, with the month in which it ended, "
        f"{_days(rules.delay_days)} after that month at the earliest; at present nests that "
        f"ended up to {format_day(until)} {until.year}.",
        f"Numbers of eggs and young are published where a grid square has {min_nests} published "
        "nests or more in a season.",
    ]
    if rules.ongoing == "in use":
        sentences.append(
            "A box with a nest that is not published yet is counted as in use, without species "
            "and dates, as known at the end of the month before."
        )
    if "paths" in rules.released and not layout.hides_ground:
        sentences.append("Paths are simplified, and their dead ends are left out.")
    return tuple(sentences)


def withheld(rules: PublicRules, *, hides_ground: bool) -> tuple[str, ...]:
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
    released = () if hides_ground else rules.released
    kept_back = [parts[name] if name in released else f"all {name}" for name in parts]
    sentences.append(f"Withheld from the map: {format_list(kept_back)}.")
    sentences.append(
        "A copy of these pages saved earlier cannot be taken back: it shows what "
        "was published then."
    )
    return tuple(sentences)


def _days(days: int) -> str:
    return f"{days} day{'' if days == 1 else 's'}"
