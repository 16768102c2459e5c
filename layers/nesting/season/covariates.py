"""What a nest's survival may depend on: values of each attempt, from its box and its history."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.nesting.reading.observations import word_bits
from layers.nesting.season.tables import SeasonTable
from layers.trail.coding import day_number

Kind = Literal["factor", "number", "square", "circle"]

DAYS_A_YEAR = 365.25

NO_GUARD = "no guard recorded"


@dataclass(frozen=True)
class Term:
    """One thing that a model can hold.

    `column` is the value it is made from; `of_part` where that value changes within an
    attempt; `words` says what it means, with its unit.
    """

    kind: Kind
    column: str
    words: str
    of_part: bool = False


TERMS: Mapping[str, Term] = MappingProxyType(
    {
        "species": Term("factor", "species", "the species"),
        "stage": Term("factor", "stage", "eggs, or young", of_part=True),
        "year": Term("factor", "year", "the season, each by itself"),
        "year trend": Term("number", "year_number", "the season as a number: change per year"),
        "section": Term("factor", "section", "the section of the trail"),
        "habitat": Term("factor", "habitat", "the habitat around the box"),
        "guards": Term("factor", "guards", "the guards recorded for the box"),
        "mount": Term("factor", "mount", "what the box hangs on"),
        "hole": Term("number", "hole_mm", "width of the hole, per millimetre"),
        "height": Term("number", "height_m", "height of the hole, per metre"),
        "facing": Term("circle", "facing_deg", "the way the hole faces, to the north and east"),
        "box age": Term("number", "box_years", "years since the box was put up"),
        "date": Term("number", "date", "day of the season, per day", of_part=True),
        "date squared": Term("square", "date", "its square: best in the middle?", of_part=True),
        "nest age": Term("number", "age", "days since the first egg, per day", of_part=True),
    }
)
"""Everything a regression can hold, by the name to ask for it."""

Covariates = Mapping[str, NDArray[Any]]
"""Column name -> one value an attempt: words (None = not known) or numbers (NaN)."""


def nest_covariates(
    histories: Histories, table: SeasonTable, *, boxes: pd.DataFrame
) -> dict[str, NDArray[Any]]:
    """The values of each attempt of a table that does not change while it lasts.

    Parameters
    ----------
    boxes
        The trail's boxes, columns as `Trail.boxes()` gives them; a box not among them has
        no values.

    A box's guards are those it has now. Where a guard was fitted after an attempt began,
    what it had then is not known, and neither is the value.
    """
    by_box = boxes.set_index("box").reindex(list(table.boxes))
    of = table.rows[:, c.BOX]

    def words(column: str) -> NDArray[np.object_]:
        values = [value if isinstance(value, str) and value else None for value in by_box[column]]
        return np.array(values, object)[of]

    def numbers(column: str) -> NDArray[np.float64]:
        return np.asarray(by_box[column].astype(float))[of]

    known_box = pd.Index(table.boxes).isin(boxes["box"])[of]
    guards = words("guards")
    guards = np.array([NO_GUARD if g is None else g.replace(";", ", ") for g in guards], object)
    guards[~known_box | _guard_came_later(histories, table)] = None
    since = pd.to_datetime(by_box["installed_on"]).to_numpy().astype("datetime64[D]")
    installed = np.where(np.isnat(since), np.nan, since.astype(np.int64).astype(float))
    return {
        "species": np.array(table.species(), object),
        "year": np.array(table.seasons(), object),
        "year_number": table.rows[:, c.SEASON].astype(float),
        "section": words("section"),
        "habitat": words("habitat"),
        "guards": guards,
        "mount": words("mount"),
        "hole_mm": numbers("hole_mm"),
        "height_m": numbers("height_m"),
        "facing_deg": numbers("facing_deg"),
        "box_years": (table.rows[:, c.FIRST_DAY] - installed[of]) / DAYS_A_YEAR,
    }


def _guard_came_later(histories: Histories, table: SeasonTable) -> NDArray[np.bool_]:
    visits = histories.visits
    fitted = visits.actions & word_bits(visits.actions_words, ("guard fitted",)) != 0
    last = np.full(len(visits.boxes), c.MISSING, np.int64)
    np.maximum.at(last, visits.box[fitted], visits.day[fitted].astype(np.int64))
    later: NDArray[np.bool_] = last[table.rows[:, c.BOX]] > table.rows[:, c.FIRST_DAY]
    return later


@dataclass(frozen=True)
class Parts:
    """Intervals cut at hatching.

    Attributes
    ----------
    interval, nest
        Positions in the table's intervals and attempts; sorted by interval.
    values
        Columns that change within an attempt: `stage` in words; `date`, days after 1 January
        of the season's year, and `age`, days after the first egg (NaN where not dated), in the
        middle of the part.
    """

    interval: NDArray[np.int64]
    nest: NDArray[np.int64]
    days: NDArray[np.float64]
    values: Covariates


def parts_of(table: SeasonTable) -> Parts:
    """The intervals of a table cut at hatching."""
    i = table.intervals
    interval = np.repeat(np.arange(len(i)), 2)
    young = np.tile([False, True], len(i))
    days = np.column_stack([i.egg_days, i.young_days]).ravel()
    start = np.column_stack([i.start_day, i.start_day + i.egg_days]).ravel()
    kept = days > 0
    interval, young, days, start = interval[kept], young[kept], days[kept], start[kept]
    nest = i.nest[interval]
    middle = start + days / 2
    first_egg = table.first_egg
    seasons, which = np.unique(table.rows[:, c.SEASON], return_inverse=True)
    new_year = np.array([day_number(f"{season}-01-01") for season in seasons], np.int64)
    values: dict[str, NDArray[Any]] = {
        "stage": np.where(young, "young", "eggs").astype(object),
        "date": middle - new_year[which][nest],
        "age": middle - np.where(first_egg == c.MISSING, np.nan, first_egg)[nest],
    }
    return Parts(interval, nest, days.astype(float), values)
