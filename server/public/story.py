"""The season in sentences for a neighbour, from the published nests alone."""

from __future__ import annotations

import calendar
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layers.publishing import Nest, PublicView
from layers.words import format_count, format_list

MONTHS = tuple(calendar.month_name[1:])


@dataclass(frozen=True)
class SpeciesStory:
    """What is published of one species, over all seasons.

    Attributes
    ----------
    nests
        Finished nests.
    outcomes
        How they ended; the numbers add up to `nests`.
    young
        Young that left, in tens; None = fewer than five are published.
    by_month
        Nests by the month in which they ended, January first.
    """

    name: str
    nests: int
    outcomes: str
    young: int | None
    by_month: tuple[int, ...]

    @property
    def months_text(self) -> str:
        """`4 in May, 12 in June`; "May 4" would read as a day."""
        return ", ".join(
            f"{number} in {month}"
            for month, number in zip(MONTHS, self.by_month, strict=True)
            if number
        )


def sentences(view: PublicView) -> tuple[str, ...]:
    """How the birds did: the latest season with published nests, in a few sentences."""
    boxes = sum(cell.boxes for cell in view.cells)
    seasons = sorted({nest.season for nest in view.nests}, reverse=True)
    if not seasons:
        return (
            f"{format_count(boxes, 'nest box', 'nest boxes').capitalize()} in place; "
            "no finished nests are published yet.",
        )
    season = seasons[0]
    of_season = [nest for nest in view.nests if nest.season == season]
    nested = sum(cell.nested for cell in view.cells)
    first = (
        f"In {season} {nested} of {boxes} boxes have held a finished nest"
        if season == view.season and nested <= boxes
        else f"In {season} {format_count(len(of_season), 'nest', 'nests')} came to an end"
    )
    young = _young_by_species(of_season)
    total = sum(young.values())
    left = f"; about {total} young {_birds(young)} left them." if total else "."
    return first + left, _outcomes(of_season)


def _young_by_species(nests: Iterable[Nest]) -> dict[str, int]:
    """Young that left, in tens: an exact sum could be set against the numbers of squares."""
    counted: Counter[str] = Counter()
    for nest in nests:
        counted[nest.species or "birds"] += nest.fledged or 0
    rounded = {name: (number + 5) // 10 * 10 for name, number in counted.most_common()}
    return {name: number for name, number in rounded.items() if number}


def _birds(young: dict[str, int]) -> str:
    if len(young) == 1:
        return plural(next(iter(young)))
    listed = [f"{number} {plural(name)}" for name, number in young.items()]
    return f"birds ({', '.join(listed)})"


def plural(name: str) -> str:
    """A species' name for several of them: `bluebirds`, `titmice`, `chickadees`.

    Examples
    --------
    >>> plural("tufted titmouse"), plural("great tit"), plural("nuthatch")
    ('tufted titmice', 'great tits', 'nuthatches')
    """
    if name.endswith("titmouse"):
        return f"{name.removesuffix('mouse')}mice"
    if name.endswith("birds"):
        return name
    return f"{name}es" if name.endswith(("ch", "sh", "s", "x")) else f"{name}s"


def _outcomes(nests: Sequence[Nest]) -> str:
    nests_are = "nest is" if len(nests) == 1 else "nests are"
    return f"{len(nests)} finished {nests_are} published for the season: {outcomes(nests)}."


def outcomes(nests: Sequence[Nest]) -> str:
    """`30 fledged young, 12 failed and the outcome of 5 is unknown`: parts of the whole."""
    fates = Counter(nest.fate for nest in nests)
    parts = [
        f"{fates['fledged']} fledged young",
        f"{fates['failed']} failed",
        f"the outcome of {fates['unknown']} is unknown",
    ]
    named = ("fledged", "failed", "unknown")
    given = [part for part, fate in zip(parts, named, strict=True) if fates[fate]]
    return format_list(given)


def species_stories(view: PublicView) -> tuple[SpeciesStory, ...]:
    """Each species with published nests, the most frequent first."""
    names = Counter(nest.species for nest in view.nests if nest.species is not None)
    return tuple(
        _of_species(name, [nest for nest in view.nests if nest.species == name])
        for name, _ in sorted(names.items(), key=lambda item: (-item[1], item[0]))
    )


def _of_species(name: str, nests: Sequence[Nest]) -> SpeciesStory:
    months = Counter(int(nest.ended[-2:]) for nest in nests)
    young = sum(_young_by_species(nests).values())
    return SpeciesStory(
        name=name,
        nests=len(nests),
        outcomes=outcomes(nests),
        young=young or None,
        by_month=tuple(months[month] for month in range(1, 13)),
    )
