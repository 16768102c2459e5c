"""Eggs, hatching and young: means over the attempts with counts."""

from __future__ import annotations

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import few
from layers.nesting.season.means import mean_of
from layers.nesting.season.result import About, Measure, Quantity
from layers.nesting.season.samples import Sample, for_brood, for_clutch, for_hatching
from layers.nesting.season.tables import SeasonTable

# Below this many nests a bootstrap interval is too narrow (common practice, no source).
ENOUGH = 10

_MEAN = "mean; standard error and bootstrap interval between boxes"
_EFRON = "Efron & Tibshirani 1993, An Introduction to the Bootstrap (from memory)"
_ALIKE = "Boxes are independent of each other; attempts of one box need not be."

CLUTCH_ABOUT = About(
    method=f"{_MEAN}; complete clutches only",
    assumptions=("Two equal counts, or one late in incubation, show a complete clutch.", _ALIKE),
    not_when=("Several females lay in one nest.", "Species or broods are mixed."),
    reference=(
        "Klett et al. 1986, US Fish and Wildlife Service Resource Publication 158, appendix B "
        f"(full clutch); {_EFRON}"
    ),
)
HATCHING_ABOUT = About(
    method="young hatched / eggs laid, in nests that reached hatching; bootstrap of boxes",
    assumptions=(
        "The most young counted are those that hatched: young that died and vanished before the "
        "first count make the share too low.",
        _ALIKE,
    ),
    not_when=("Broods are first counted late.",),
    reference=(
        "Mayfield 1975, Wilson Bulletin 87:456-466 (hatch rate of eggs present at hatching); "
        + _EFRON
    ),
)
BROOD_ABOUT = About(
    method=f"{_MEAN}; most living young counted, first count within a week of hatching",
    assumptions=("Few young die and vanish before the first count.", _ALIKE),
    not_when=("Broods are first counted late.",),
    reference=_EFRON,
)
CLUTCH = Quantity(
    "clutch size", "count", "attempts", CLUTCH_ABOUT, "attempt with a complete clutch counted"
)
HATCHING = Quantity(
    "hatching success",
    "share",
    "attempts",
    HATCHING_ABOUT,
    "attempt that reached hatching with eggs and young counted",
)
BROOD = Quantity(
    "brood size",
    "count",
    "attempts",
    BROOD_ABOUT,
    "attempt with young counted within a week of hatching",
)


def clutch_size(table: SeasonTable) -> Measure:
    """Mean eggs in a complete clutch."""
    return _of_attempts(CLUTCH, table, for_clutch(table), c.EGGS_MAX)


def hatching_success(table: SeasonTable) -> Measure:
    """The share of eggs that hatched, in nests that reached the time of hatching."""
    return _of_attempts(HATCHING, table, for_hatching(table), c.YOUNG_MAX, c.EGGS_MAX)


def brood_size(table: SeasonTable) -> Measure:
    """Mean young in nests in which any hatched."""
    return _of_attempts(BROOD, table, for_brood(table), c.YOUNG_MAX)


def _of_attempts(
    quantity: Quantity, table: SeasonTable, sample: Sample, top: int, bottom: int | None = None
) -> Measure:
    """The mean of a column over the attempts of a sample, or its ratio to another column."""
    rows = table.rows[sample.counted].astype(np.int64)
    tops = np.maximum(rows[:, top], 0)
    bottoms = np.ones_like(tops) if bottom is None else rows[:, bottom]
    left_out = sample.left_out()
    n = len(tops)
    if n == 0:
        return quantity.without_answer(left_out)
    mean = mean_of(tops, bottoms, rows[:, c.BOX])
    return quantity.measured(
        mean.value,
        interval=mean.interval,
        standard_error=mean.standard_error,
        n=n,
        warnings=few(n, ENOUGH, quantity.counted),
        left_out=left_out,
        parts={"sum": int(tops.sum()), "out of": int(bottoms.sum())},
    )
