"""Eggs, hatching, young and fledglings: means over the attempts that tell."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import Doubt, SmallSample, UncertainFates, UncountedYoung
from layers.nesting.season.means import mean_of
from layers.nesting.season.result import LEVEL, About, Measure, Unit, no_answer
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.which import (
    Reason,
    Which,
    for_brood,
    for_clutch,
    for_fledged,
    for_hatching,
)

# Below this many nests a bootstrap interval is too narrow (common practice, no source).
ENOUGH = 10

_MEAN = "mean; standard error and bootstrap interval between boxes"
_EFRON = "Efron & Tibshirani 1993, An Introduction to the Bootstrap (from memory)"
_ALIKE = "Boxes are independent of each other; attempts of one box need not be."

CLUTCH_ABOUT = About(
    method=f"{_MEAN}; complete clutches only",
    assumptions=("Two equal counts, or one late in incubation, tell a complete clutch.", _ALIKE),
    not_when=("Several females lay in one nest.", "Species or broods are mixed without saying so."),
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
        "Nests whose end or count is not known fare like the others.",
        _ALIKE,
    ),
    not_when=("Many nests that fledged have no late count: the mean is then too low.",),
    reference=_EFRON,
)


def _of_attempts(
    table: SeasonTable,
    which: Which,
    tops: NDArray[np.int32],
    bottoms: NDArray[np.int32] | None,
    *,
    name: str,
    unit: Unit,
    about: About,
    wanted: str,
    seed: int,
    level: float,
    warnings: tuple[Doubt, ...] = (),
) -> Measure:
    counted = which.counted
    n = int(counted.sum())
    if n == 0:
        return no_answer(
            name,
            unit=unit,
            counted="attempts",
            about=about,
            wanted=wanted,
            left_out=which.left_out(),
        )
    top = tops[counted].astype(np.int64)
    bottom = np.ones(n, np.int64) if bottoms is None else bottoms[counted].astype(np.int64)
    mean = mean_of(top, bottom, table.rows[counted, c.BOX], seed=seed, level=level)
    if n < ENOUGH:
        warnings = (SmallSample(n, ENOUGH, "attempts"), *warnings)
    return Measure(
        name=name,
        unit=unit,
        estimate=mean.value,
        interval=mean.interval,
        standard_error=mean.standard_error,
        n=n,
        counted="attempts",
        about=about,
        warnings=warnings,
        left_out=which.left_out(),
        parts={"sum": int(top.sum()), "out of": int(bottom.sum())},
    )


def clutch_size(table: SeasonTable, *, seed: int, level: float = LEVEL) -> Measure:
    """Mean eggs in a complete clutch. Same seed, same bootstrap interval."""
    return _of_attempts(
        table,
        for_clutch(table),
        table.rows[:, c.EGGS_MAX],
        None,
        name="clutch size",
        unit="count",
        about=CLUTCH_ABOUT,
        wanted="attempt with a complete clutch counted",
        seed=seed,
        level=level,
    )


def hatching_success(table: SeasonTable, *, seed: int, level: float = LEVEL) -> Measure:
    """The share of eggs that hatched, in nests that reached the time of hatching."""
    return _of_attempts(
        table,
        for_hatching(table),
        np.maximum(table.rows[:, c.YOUNG_MAX], 0),
        table.rows[:, c.EGGS_MAX],
        name="hatching success",
        unit="share",
        about=HATCHING_ABOUT,
        wanted="attempt that reached hatching with eggs and young counted",
        seed=seed,
        level=level,
    )


def brood_size(table: SeasonTable, *, seed: int, level: float = LEVEL) -> Measure:
    """Mean young in nests in which any hatched."""
    return _of_attempts(
        table,
        for_brood(table),
        table.rows[:, c.YOUNG_MAX],
        None,
        name="brood size",
        unit="count",
        about=BROOD_ABOUT,
        wanted="attempt with young counted within a week of hatching",
        seed=seed,
        level=level,
    )


def _fledged_warnings(table: SeasonTable, which: Which) -> tuple[Doubt, ...]:
    left_out = which.left_out()
    warnings: list[Doubt] = []
    uncounted = left_out.get(Reason.FLEDGED_NOT_COUNTED.value, 0)
    if uncounted:
        fledged = int(np.sum(table.laid & (table.fate == c.FATE_FLEDGED)))
        warnings.append(UncountedYoung(uncounted, fledged))
    unknown = left_out.get(Reason.FATE_NOT_KNOWN.value, 0)
    if unknown:
        warnings.append(UncertainFates(unknown, int(table.laid.sum())))
    return tuple(warnings)


def fledged_per_attempt(table: SeasonTable, *, seed: int, level: float = LEVEL) -> Measure:
    """Mean young fledged of an attempt with eggs, 0 for the failed."""
    which = for_fledged(table)
    return _of_attempts(
        table,
        which,
        np.maximum(table.rows[:, c.FLEDGED], 0),
        None,
        name="young fledged per attempt",
        unit="count",
        about=FLEDGED_ABOUT,
        wanted="attempt with a known number of young fledged",
        seed=seed,
        level=level,
        warnings=_fledged_warnings(table, which),
    )


def fledged_per_box(table: SeasonTable, *, seed: int, level: float = LEVEL) -> Measure:
    """Mean young fledged of a box in a season, over all boxes looked into; unused ones count as 0.

    A box of which one attempt is not known to the end is left out, and so counted in
    `left_out`. `n` counts a box once a season.
    """
    which = for_fledged(table)
    name, counted = "young fledged per box and season", "boxes looked into"
    keys = _box_seasons(table.checked)
    of_attempt = np.searchsorted(keys, _box_seasons(table.rows[:, [c.BOX, c.SEASON]]))
    # An attempt known without a look inside (fed young heard) has a box that does not count.
    inside = np.isin(_box_seasons(table.rows[:, [c.BOX, c.SEASON]]), keys)
    place = of_attempt[inside]
    open_end = np.zeros(len(keys), bool)
    open_end[place[(table.laid & ~which.counted)[inside]]] = True
    fledged = np.zeros(len(keys), np.int64)
    known = (which.counted & (table.rows[:, c.FLEDGED] > 0))[inside]
    np.add.at(fledged, place[known], table.rows[inside, c.FLEDGED][known])
    left_out = {"one of its attempts is not known to the end": int(open_end.sum())}
    left_out = {reason: number for reason, number in left_out.items() if number}
    top, box = fledged[~open_end], table.checked[~open_end, 0]
    n = len(top)
    if n == 0:
        return no_answer(
            name,
            unit="count",
            counted=counted,
            about=FLEDGED_ABOUT,
            wanted="box looked into whose attempts are all known to the end",
            left_out=left_out,
        )
    mean = mean_of(top, np.ones(n, np.int64), box, seed=seed, level=level)
    warnings = _fledged_warnings(table, which)
    if n < ENOUGH:
        warnings = (SmallSample(n, ENOUGH, counted), *warnings)
    return Measure(
        name=name,
        unit="count",
        estimate=mean.value,
        interval=mean.interval,
        standard_error=mean.standard_error,
        n=n,
        counted=counted,
        about=FLEDGED_ABOUT,
        warnings=warnings,
        left_out=left_out,
        parts={"sum": int(top.sum()), "out of": n},
    )


def _box_seasons(pairs: NDArray[np.int64] | NDArray[np.int32]) -> NDArray[np.int64]:
    """One number for a box and season, rising as the pairs do."""
    numbers: NDArray[np.int64] = pairs[:, 0].astype(np.int64) * 10_000 + pairs[:, 1]
    return numbers
