"""Eggs, hatching, young and fledglings: means over the attempts with counts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import Doubt, SmallSample, UncertainFates, UncountedYoung
from layers.nesting.season.means import mean_of
from layers.nesting.season.result import About, Measure, Quantity
from layers.nesting.season.samples import (
    Exclusion,
    Sample,
    for_brood,
    for_clutch,
    for_fledged,
    for_hatching,
)
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
FLEDGED_ABOUT = About(
    method=f"{_MEAN}; the last late count of young less those found dead, 0 for failed nests",
    assumptions=(
        "Young alive at two thirds of the nestling period or later leave the box.",
        "Nests whose outcome or count is unknown fare like the others.",
        _ALIKE,
    ),
    not_when=("Many nests that fledged have no late count: the mean is then too low.",),
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
PER_ATTEMPT = Quantity(
    "young fledged per attempt",
    "count",
    "attempts",
    FLEDGED_ABOUT,
    "attempt with a known number of young fledged",
)
PER_BOX = Quantity(
    "young fledged per box and season",
    "count",
    "boxes looked into",
    FLEDGED_ABOUT,
    "box looked into whose attempts are all known to the end",
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


def fledged_per_attempt(table: SeasonTable) -> Measure:
    """Mean young fledged of an attempt with eggs, 0 for the failed."""
    sample = for_fledged(table)
    warnings = _fledged_warnings(table, sample)
    return _of_attempts(PER_ATTEMPT, table, sample, c.FLEDGED, warnings=warnings)


def fledged_per_box(table: SeasonTable) -> Measure:
    """Mean young fledged of a box in a season, over all boxes looked into; unused ones count as 0.

    A box of which one attempt is not known to the end is left out, and so counted in
    `left_out`. `n` counts a box once a season.
    """
    sample = for_fledged(table)
    keys = _box_seasons(table.checked)
    of_attempt = _box_seasons(table.rows[:, [c.BOX, c.SEASON]])
    # An attempt known without a look inside (fed young heard) has a box that does not count.
    inside = np.isin(of_attempt, keys)
    place = np.searchsorted(keys, of_attempt)[inside]
    unknown = np.zeros(len(keys), bool)
    unknown[place[(table.laid & ~sample.counted)[inside]]] = True
    fledged = np.zeros(len(keys), np.int64)
    known = (sample.counted & (table.rows[:, c.FLEDGED] > 0))[inside]
    np.add.at(fledged, place[known], table.rows[inside, c.FLEDGED][known])
    top, box = fledged[~unknown], table.checked[~unknown, 0]
    left_out = {"one of its attempts is not known to the end": int(unknown.sum())}
    left_out = {reason: number for reason, number in left_out.items() if number}
    warnings = _fledged_warnings(table, sample)
    return _mean(PER_BOX, top, np.ones_like(top), box, left_out=left_out, warnings=warnings)


def _of_attempts(
    quantity: Quantity,
    table: SeasonTable,
    sample: Sample,
    top: int,
    bottom: int | None = None,
    *,
    warnings: tuple[Doubt, ...] = (),
) -> Measure:
    """The mean of a column over the attempts of a sample, or its ratio to another column."""
    rows = table.rows[sample.counted].astype(np.int64)
    tops = np.maximum(rows[:, top], 0)
    bottoms = np.ones_like(tops) if bottom is None else rows[:, bottom]
    left_out = sample.left_out()
    return _mean(quantity, tops, bottoms, rows[:, c.BOX], left_out=left_out, warnings=warnings)


def _mean(
    quantity: Quantity,
    tops: NDArray[np.int64],
    bottoms: NDArray[np.int64],
    boxes: NDArray[np.int64],
    *,
    left_out: dict[str, int],
    warnings: tuple[Doubt, ...],
) -> Measure:
    n = len(tops)
    if n == 0:
        return quantity.without_answer(left_out)
    mean = mean_of(tops, bottoms, boxes)
    if n < ENOUGH:
        warnings = (SmallSample(n, ENOUGH, quantity.counted), *warnings)
    return quantity.measured(
        mean.value,
        interval=mean.interval,
        standard_error=mean.standard_error,
        n=n,
        warnings=warnings,
        left_out=left_out,
        parts={"sum": int(tops.sum()), "out of": int(bottoms.sum())},
    )


def _fledged_warnings(table: SeasonTable, sample: Sample) -> tuple[Doubt, ...]:
    left_out = sample.left_out()
    warnings: list[Doubt] = []
    uncounted = left_out.get(Exclusion.FLEDGED_NOT_COUNTED.value, 0)
    if uncounted:
        fledged = int(np.sum(table.laid & (table.fate == c.FATE_FLEDGED)))
        warnings.append(UncountedYoung(uncounted, fledged))
    unknown = left_out.get(Exclusion.FATE_UNKNOWN.value, 0)
    if unknown:
        warnings.append(UncertainFates(unknown, int(table.laid.sum())))
    return tuple(warnings)


def _box_seasons(pairs: NDArray[np.int64] | NDArray[np.int32]) -> NDArray[np.int64]:
    """One number for a box and season, rising as the pairs do."""
    numbers: NDArray[np.int64] = pairs[:, 0].astype(np.int64) * 10_000 + pairs[:, 1]
    return numbers
