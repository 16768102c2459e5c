"""The guide's figures as whole numbers, one row a species code, for the compiled reader."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.guide import Guide, Species


def species_limits(guide: Guide, species_names: Sequence[str]) -> NDArray[np.int32]:
    """Limits of the named species: shape (names + 1, N_LIMITS), row 0 for "not recorded".

    A name that the guide does not have gets the wide limits of `guide.unknown`.
    """
    known = [guide.unknown, *(guide.get(name) or guide.unknown for name in species_names)]
    return np.array([_limits(guide, species) for species in known], dtype=np.int32)


def most_eggs_of_one(species: Species) -> int:
    """The most eggs that one female lays into a nest.

    Ranges take in nests that several females laid in (wood duck: 40); one lays no more than
    about one and a half times the usual (common practice, no source).
    """
    return math.ceil(min(species.clutch_range.high, 1.6 * species.clutch.high))


def early_days(species: Species) -> int:
    """Days before the last egg on which sitting may begin: with the last egg but one, or
    earlier in some (reference: guide).
    """
    return 3 if species.starts_before_last_egg else 1


def _limits(guide: Guide, species: Species) -> list[int]:
    limits = [0] * c.N_LIMITS
    usual = species.clutch.low + species.clutch.high
    limits[c.LAY_DAYS] = max(round(species.laying_interval_days.low), 1)
    limits[c.CLUTCH_USUAL] = math.ceil(usual / 2)
    limits[c.CLUTCH_MOST] = most_eggs_of_one(species)
    limits[c.INCUBATION_LEAST] = math.floor(species.incubation_days.low)
    limits[c.INCUBATION_MOST] = math.ceil(species.incubation_days.high)
    limits[c.EARLY_DAYS] = early_days(species)
    low, high = species.nestling_days.low, species.nestling_days.high
    limits[c.NESTLING_TOO_YOUNG] = math.floor(low)
    # For an unknown species the shortest period of any would call too many "fledged".
    limits[c.NESTLING_LEAVES] = math.ceil((low + high) / 2 if species is guide.unknown else low)
    limits[c.NESTLING_MOST] = math.ceil(high)
    limits[c.LEAVES_AT_ONCE] = int(species.leaves_at_once)
    return limits
