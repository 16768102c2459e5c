"""Young fledged in all, of an attempt, of a successful one and of a box."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import KeeperLosses, few
from layers.nesting.season.result import Measure, Quantity
from layers.nesting.season.samples import for_fledged
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import ABOUT, Floats, YoungFledged

# With fewer nests the draws know little of how nests differ (common practice, no source).
ENOUGH = 10

_NEEDS = "attempt that is over"
TOTAL = Quantity("young fledged", "count", "attempts", ABOUT, _NEEDS)
PER_ATTEMPT = Quantity("young fledged per attempt found", "count", "attempts", ABOUT, _NEEDS)
PER_SUCCESSFUL = Quantity(
    "young fledged per successful attempt",
    "count",
    "attempts",
    ABOUT,
    "attempt that is likely to have fledged",
)
PER_BOX = Quantity(
    "young fledged per box and season",
    "count",
    "boxes checked",
    ABOUT,
    "box checked whose attempts are all over",
)


def fledged_in_all(table: SeasonTable, young: YoungFledged) -> Measure:
    """Young that fledged from the attempts of a table.

    Parameters
    ----------
    young
        Of these attempts, and perhaps of others.
    """
    return _over_attempts(TOTAL, table, young, np.sum)


def fledged_per_attempt(table: SeasonTable, young: YoungFledged) -> Measure:
    """Mean young fledged of an attempt found with eggs or young, the lost ones among them."""
    return _over_attempts(PER_ATTEMPT, table, young, np.mean)


def _over_attempts(
    quantity: Quantity, table: SeasonTable, young: YoungFledged, over: Callable[..., Any]
) -> Measure:
    """The sum or the mean over all attempts, with that of each draw."""
    own = young.among(table.attempt)
    if len(own) == 0:
        return quantity.without_answer(for_fledged(table).left_out())
    drawn = over(own.drawn_young, axis=1, dtype=float)
    return _measured(quantity, table, own, float(over(own.expected)), drawn)


def fledged_per_successful(table: SeasonTable, young: YoungFledged) -> Measure:
    """Mean young fledged of an attempt that fledged; `n` rounds how many are expected to have."""
    own = young.among(table.attempt)
    successful = float(own.chance.sum())
    if round(successful) == 0:
        return PER_SUCCESSFUL.without_answer(for_fledged(table).left_out())
    fledged = own.drawn_fledged.sum(axis=1)
    drawn = own.drawn_young.sum(axis=1)[fledged > 0] / fledged[fledged > 0]
    estimate = float(own.expected.sum()) / successful
    return _measured(PER_SUCCESSFUL, table, own, estimate, drawn, n=round(successful))


def fledged_per_box(table: SeasonTable, young: YoungFledged) -> Measure:
    """Mean young fledged of a box in a season, over all boxes checked; unused ones count as 0.

    A box with a nest that is still going on is left out. `n` counts a box once a season.
    """
    own = young.among(table.attempt)
    keys = _box_seasons(table.checked[:, 0], table.checked[:, 1])
    going = table.laid & (table.fate == c.ONGOING)
    of_attempt = _box_seasons(table.rows[:, c.BOX], table.rows[:, c.SEASON])
    over = ~np.isin(keys, of_attempt[going])
    left_out = {"one of its attempts is still going on": int((~over).sum())}
    left_out = {reason: number for reason, number in left_out.items() if number}
    boxes = int(over.sum())
    if boxes == 0:
        return PER_BOX.without_answer(left_out)
    # A nest known without a look inside (fed young heard) is in a box that does not count.
    at = np.searchsorted(table.attempt, own.attempt)
    counted = np.isin(of_attempt[at], keys[over])
    drawn = own.drawn_young[:, counted].sum(axis=1, dtype=float) / boxes
    estimate = float(own.expected[counted].sum()) / boxes
    return _measured(PER_BOX, table, own, estimate, drawn, n=boxes, left_out=left_out)


def _measured(
    quantity: Quantity,
    table: SeasonTable,
    own: YoungFledged,
    estimate: float,
    drawn: Floats,
    *,
    n: int | None = None,
    left_out: dict[str, int] | None = None,
) -> Measure:
    n = len(own) if n is None else n
    warnings = few(n, ENOUGH, quantity.counted)
    taken_out = int(np.sum(table.laid & table.taken_out))
    if taken_out:
        warnings.append(KeeperLosses(taken_out))
    spread = float(drawn.std()) if len(drawn) else 0.0
    return quantity.measured(
        estimate,
        interval=own.interval_of(drawn) if len(drawn) else None,
        standard_error=spread or None,
        n=n,
        warnings=warnings,
        left_out=for_fledged(table).left_out() if left_out is None else left_out,
        parts={
            "young": float(own.expected.sum()),
            "young counted late enough to be sure": int(own.sure.sum()),
            "attempts expected to have fledged": float(own.chance.sum()),
        },
    )


def _box_seasons(boxes: NDArray[Any], seasons: NDArray[Any]) -> NDArray[np.int64]:
    """One number for a box and season, rising as the pairs do."""
    numbers: NDArray[np.int64] = boxes.astype(np.int64) * 10_000 + seasons
    return numbers
