"""When the first eggs were laid."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating.terms import FIRST_EGG
from layers.nesting.season.doubts import Doubt, NoData, WideDating, few, format_cases
from layers.nesting.season.result import About
from layers.nesting.season.tables import SeasonTable
from layers.trail.coding import day_of
from layers.words import format_day

# A first egg known within this many days is well dated; beyond, a doubt is added (common practice,
# no source).
WIDE_DAYS = 10
# Quartiles of fewer nests than this are single nests (common practice, no source).
ENOUGH = 8

ABOUT = About(
    method=(
        "first egg of each attempt by the dating model, from every visit; median and quartiles "
        "weighted by 1 / days within which it lies with a chance of 95 %"
    ),
    assumptions=(
        "Eggs are laid at the guide's interval, and incubated for as long as it gives.",
        "Boxes were checked from before the first egg on.",
    ),
    not_when=("Visits began after laying had; the earliest date is then that of the keeper.",),
    reference="common practice, no source",
)


@dataclass(frozen=True)
class FirstEggs:
    """First egg dates of some attempts; all None where there are none.

    Attributes
    ----------
    earliest, lower_quartile, median, upper_quartile, latest
        Days. The quartiles are weighted by how closely each date is known.
    days, widths
        Of each attempt that is dated: days since 1970-01-01 of the best date, and in how many
        days it lies with a chance of 95 %. For plots.
    n
        How many attempts.
    """

    earliest: date | None
    lower_quartile: date | None
    median: date | None
    upper_quartile: date | None
    latest: date | None
    days: tuple[int, ...]
    widths: tuple[int, ...]
    n: int
    about: About
    warnings: tuple[Doubt, ...]

    def sentence(self) -> str:
        """The dates in words."""
        if self.median is None or self.lower_quartile is None or self.upper_quartile is None:
            return "First eggs: no answer: there is no attempt with a dated first egg (0 attempts)."
        low, middle, high, first, last = (
            format_day(day)
            for day in (
                self.lower_quartile,
                self.median,
                self.upper_quartile,
                day_of(min(self.days)),
                day_of(max(self.days)),
            )
        )
        return (
            f"First eggs: half by {middle}, the middle half from {low} to {high}, the first on "
            f"{first}, the last on {last} ({format_cases(self.n, 'attempts')})."
        )


def first_eggs(table: SeasonTable) -> FirstEggs:
    """First egg dates of the attempts of one season.

    Part the table by species and brood (`broods`) before: dates of several mean little.
    """
    dated = table.laid & (table.first_egg != c.MISSING)
    day, width = table.first_egg[dated], table.width_days[dated, FIRST_EGG].astype(np.int64)
    if len(day) == 0:
        nothing = NoData("attempt with a dated first egg")
        return FirstEggs(None, None, None, None, None, (), (), 0, ABOUT, (nothing,))
    quartiles = weighted_quantiles(day, 1 / width, (0.25, 0.5, 0.75))
    warnings = few(len(day), ENOUGH, "attempts")
    wide = int(np.sum(width > WIDE_DAYS))
    if wide:
        warnings.append(WideDating(wide, len(day), WIDE_DAYS))
    low, middle, high = (day_of(quartile) for quartile in quartiles)
    return FirstEggs(
        earliest=day_of(int(day.min())),
        lower_quartile=low,
        median=middle,
        upper_quartile=high,
        latest=day_of(int(day.max())),
        days=tuple(day.tolist()),
        widths=tuple(width.tolist()),
        n=len(day),
        about=ABOUT,
        warnings=tuple(warnings),
    )


def weighted_quantiles(
    values: NDArray[np.int64], weights: NDArray[np.float64], shares: tuple[float, ...]
) -> tuple[int, ...]:
    """The smallest values at which the weights up to them reach these shares of all weight."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    at = np.searchsorted(reached, np.array(shares) * reached[-1] * (1 - 1e-12))
    return tuple(int(value) for value in values[order][at])


def broods(table: SeasonTable) -> list[str]:
    """The brood of each attempt: first, second or later, in its box and season.

    A box's next attempt of the same species after one that fledged; after one that did not
    it is the same brood tried again. Pairs are not known: another pair may have come.
    """
    words = ("first", "second", "third or later")
    found: list[str] = []
    before: dict[tuple[int, int, int], int] = {}
    columns = table.rows[:, [c.BOX, c.SEASON, c.SPECIES]].tolist()
    for key, fate in zip(columns, table.fate.tolist(), strict=True):
        place = (key[0], key[1], key[2])
        fledged = before.get(place, 0)
        found.append(words[min(fledged, len(words) - 1)])
        before[place] = fledged + (fate == c.FATE_FLEDGED)
    return found
