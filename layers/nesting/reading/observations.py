"""What each single visit says by itself, before any history: vectorised.

The reader of histories (`attempts.py`) works on these records alone.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.trail.coding import day_number, day_of
from layers.trail.settings import season_days
from layers.trail.visits import Visits
from layers.trail.words import NEST

EMPTYING_ACTIONS = ("cleaned", "nest removed")
"""Actions after which no nest is left in the box."""

OBSERVATION = np.dtype(
    [
        ("day", np.int32),  # days since 1970-01-01
        ("season", np.int32),  # the year its season began in
        ("species", np.int16),  # code, -1 not recorded; so with the counts below
        ("nest", np.int8),
        ("eggs", np.int16),
        ("young", np.int16),
        ("age", np.int16),  # of the young, in days
        ("dead", np.int16),
        ("signs", np.int64),  # bit set
        ("sitting", np.bool_),  # an adult on the nest, or flushed from it
        ("feeding", np.bool_),
        ("warm", np.bool_),  # the eggs are being kept warm
        ("cold", np.bool_),  # there are eggs, and they are not
        ("no_eggs", np.bool_),  # known to hold none
        ("no_young", np.bool_),
        ("animal", np.bool_),  # a mouse, wasps or a squirrel
        ("emptied", np.bool_),  # the keeper took the nest out
        ("closed", np.bool_),  # the keeper closed the box
        ("looked", np.bool_),  # the inside was seen
    ]
)
"""One record a visit."""


def seasons_of(days: NDArray[np.int32], season_starts: str) -> NDArray[np.int32]:
    """The season of each day (days since 1970-01-01), named after the year it begins in."""
    if len(days) == 0:
        return np.zeros(0, np.int32)
    first, last = day_of(int(days.min())).year - 1, day_of(int(days.max())).year
    years = np.arange(first, last + 1, dtype=np.int32)
    starts = np.array([day_number(_first_day(int(year), season_starts)) for year in years])
    return years[np.searchsorted(starts, days, side="right") - 1]


def _first_day(season: int, season_starts: str) -> date:
    return season_days(season, season_starts)[0]


def word_bits(words: tuple[str, ...], chosen: tuple[str, ...]) -> int:
    """The bit set of some words of a list; a word not on the list has no bit."""
    return sum(1 << i for i, word in enumerate(words) if word in chosen)


def observations_of(visits: Visits, *, season_starts: str) -> NDArray[Any]:
    """A record of type `OBSERVATION` for each visit, in the order of the visits."""
    seen: NDArray[Any] = np.empty(len(visits), OBSERVATION)
    no_nest = visits.nest == NEST.index("none")
    sitting = (visits.adult == c.SITTING) | (visits.adult == c.FLUSHED)
    cold_sign = (visits.signs & c.SIGN_COLD) != 0
    seen["day"] = visits.day
    seen["season"] = seasons_of(visits.day, season_starts)
    seen["species"] = visits.species
    seen["nest"] = visits.nest
    seen["eggs"] = visits.eggs
    seen["young"] = visits.young
    seen["age"] = visits.young_days
    seen["dead"] = visits.dead_young
    seen["signs"] = visits.signs
    seen["sitting"] = sitting
    seen["feeding"] = visits.adult == c.FEEDING
    seen["warm"] = (visits.eggs_warm == 1) | (sitting & (visits.eggs_warm != 0))
    seen["cold"] = (visits.eggs > 0) & ((visits.eggs_warm == 0) | (cold_sign & ~seen["warm"]))
    seen["no_eggs"] = (visits.eggs == 0) | ((visits.eggs < 0) & no_nest)
    seen["no_young"] = (visits.young == 0) | ((visits.young < 0) & no_nest)
    seen["animal"] = (visits.signs & c.SIGNS_ANIMAL) != 0
    emptying = word_bits(visits.actions_words, EMPTYING_ACTIONS)
    seen["emptied"] = (visits.actions & emptying) != 0
    # A box with a living nest is not cleaned: such eggs were given up, and young without a judged
    # age are a slip. To take a living nest out has a word of its own.
    removed = (visits.actions & word_bits(visits.actions_words, ("nest removed",))) != 0
    cleaned = seen["emptied"] & ~removed & ~seen["warm"]
    seen["cold"] |= cleaned & (visits.eggs > 0)
    no_young = cleaned & (visits.young > 0) & (visits.young_days < 0)
    seen["young"][no_young], seen["no_young"][no_young] = 0, True
    seen["closed"] = (visits.actions & word_bits(visits.actions_words, ("closed",))) != 0
    seen["looked"] = (
        (visits.nest >= 0) | (visits.eggs >= 0) | (visits.young >= 0) | (visits.opened == 1)
    )
    return seen
