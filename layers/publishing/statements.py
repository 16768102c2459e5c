"""What is generalised and what is withheld, in words.

The sentences follow from the trail's rules alone, never from its boxes and visits: a
sentence that came and went with a hidden box would give it away.
"""

from __future__ import annotations

from datetime import date

from layers.trail.public_rules import PublicRules

CLOSED = "The keepers of this trail show nothing of it to the public."


def generalised(rules: PublicRules, *, until: date, fewest_nests: int) -> tuple[str, ...]:
    """What is told less exactly than the trail knows it."""
    species = _joined(rules.coarse_species)
    coarse = f"Some boxes{', and all nests of ' + species + ',' if species else ''} are told"
    said = [
        f"Places are told by the cell of a fixed geographic grid that they lie in, {rules.cell:g}° "
        "wide and high: coordinates are those of its middle, and the uncertainty "
        "given with them takes in the whole cell. The trail itself knows each box's place.",
        f"{coarse} by cells of {rules.coarse_cell:g}°.",
        f"A nest is told once it is over, by the month in which it ended, {_days(rules.delay_days)}"
        f" after that month at the earliest; so far those that ended up to {_day(until)}.",
        f"Numbers of eggs and young are told where a cell has {fewest_nests} told nests or more "
        "in a season.",
    ]
    if rules.ongoing == "in use":
        said.append(
            "A box with a nest that is not told yet is called in use, without species and "
            "dates, as known on the last Sunday."
        )
    return tuple(said)


def withheld(rules: PublicRules) -> tuple[str, ...]:
    """What the trail may hold and the public does not get."""
    said = [
        "Withheld for every box: its id, name and exact place, who visited it and when, notes "
        "and photographs.",
        "Some boxes may be withheld altogether, and count nowhere.",
    ]
    if rules.ongoing == "withheld":
        said.append("Nests not told yet are withheld: such a box looks like one without a nest.")
    if rules.withheld_species:
        said.append("Nests of some species are withheld, and those of a species not recorded.")
    parts = {
        "paths": "paths that are not open to all",
        "places": "hazards",
        "zones": "zones to keep out of",
    }
    kept = [parts[name] if name in rules.released else f"all {name}" for name in parts]
    said.append(f"Withheld of the ground: {_joined(kept)}.")
    return tuple(said)


def _joined(parts: tuple[str, ...] | list[str]) -> str:
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _days(days: int) -> str:
    return f"{days} day{'' if days == 1 else 's'}"


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"
