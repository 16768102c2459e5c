"""How many boxes were used, and by which species."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import few
from layers.nesting.season.result import About, Measure, Quantity, exact_binomial
from layers.nesting.season.tables import SeasonTable
from layers.nesting.timeline import NAME_NOT_RECORDED, Service

# Below this the exact interval is wider than most questions (common practice, no source).
ENOUGH_BOXES = 10

ABOUT = About(
    method=(
        "boxes with eggs or young / boxes checked, exact binomial interval; a box that stood "
        "only part of the nesting time counts by its days"
    ),
    assumptions=(
        "Each box is used or not independently of its neighbours.",
        "Boxes are checked often enough to see every nest with eggs.",
    ),
    not_when=(
        "Boxes stand so close that one pair keeps others out of the next box.",
        "Boxes are checked once a season.",
    ),
    reference="Clopper & Pearson 1934, Biometrika 26:404-413 (interval; from memory)",
)


@dataclass(frozen=True)
class BoxUse:
    """Boxes in one season.

    Attributes
    ----------
    used
        The share of boxes in which a nest with eggs or young was seen.
    by_species
        The same for each species, and `NAME_NOT_RECORDED`; a box that two species used
        counts for both.
    started_only
        Boxes with material, and never an egg.
    standing, looked_into
        Boxes that stood on a day of the nesting time, and those of them checked.
    first_day, last_day
        The nesting time: days since 1970-01-01 of the first and last nest begun; None where
        none was.
    """

    used: Measure
    by_species: dict[str, Measure]
    started_only: int
    standing: int
    looked_into: int
    first_day: int | None
    last_day: int | None


def box_use(
    table: SeasonTable,
    *,
    season: int,
    service: Service | None = None,
    among: NDArray[np.bool_] | None = None,
) -> BoxUse:
    """How many boxes of a season were used, and by which species.

    Parameters
    ----------
    table
        Attempts of that season, of all species (others are passed over).
    service
        From when to when each box stood; None = all the time.
    among
        Which boxes to count, one a box of the table; None = all. The nesting time is
        that of all of them.
    """
    in_season = table.rows[:, c.SEASON] == season
    rows = table.rows[in_season]
    laid = table.rows[in_season & table.laid]
    eggs = table.first_egg[in_season & table.laid]
    eggs = eggs[eggs != c.MISSING]
    stood = Service.always(len(table.boxes)) if service is None else service
    first, last = None, None
    share = np.where(stood.since < stood.until, 1.0, 0.0)
    if len(eggs):
        first, last = int(eggs.min()), int(eggs.max())
        days = np.minimum(stood.until, last + 1) - np.maximum(stood.since, first)
        share = np.clip(days / (last + 1 - first), 0.0, 1.0)
        # A box in which a nest was seen stood there, whatever its dates say.
        share[np.unique(laid[:, c.BOX])] = np.maximum(
            share[np.unique(laid[:, c.BOX])], 1 / (last + 1 - first)
        )
    looked = np.zeros(len(table.boxes), bool)
    looked[table.checked[table.checked[:, 1] == season, 0]] = True
    looked[laid[:, c.BOX]] = True
    chosen = np.ones(len(table.boxes), bool) if among is None else among
    standing = chosen & (share > 0)
    counted = looked & standing
    left_out = {
        "it was not checked": int(np.sum(standing & ~looked)),
        "it did not stand in the nesting time": int(np.sum(chosen & (share == 0))),
    }
    left_out = {reason: number for reason, number in left_out.items() if number}
    rows, laid = rows[chosen[rows[:, c.BOX]]], laid[chosen[laid[:, c.BOX]]]
    names = (*table.species_names, NAME_NOT_RECORDED)
    by_species = {
        names[code]: _share(
            f"boxes used by {names[code]}",
            laid[laid[:, c.SPECIES] == code],
            counted,
            share,
            left_out,
        )
        for code in sorted(set(laid[:, c.SPECIES].tolist()))
    }
    started = np.setdiff1d(rows[:, c.BOX], laid[:, c.BOX])
    return BoxUse(
        used=_share("boxes used", laid, counted, share, left_out),
        by_species=by_species,
        started_only=len(started),
        standing=int(standing.sum()),
        looked_into=int(counted.sum()),
        first_day=first,
        last_day=last,
    )


def _share(
    name: str,
    laid: NDArray[np.int32],
    counted: NDArray[np.bool_],
    share: NDArray[np.float64],
    left_out: dict[str, int],
) -> Measure:
    needs = "box in place and checked"
    quantity = Quantity(name, "share", "boxes checked", ABOUT, needs)
    available = float(share[counted].sum())
    if available == 0:
        return quantity.without_answer(left_out)
    codes = np.unique(laid[:, c.BOX])
    used = min(float(share[codes].sum()), available)
    estimate = used / available
    n = int(counted.sum())
    return quantity.measured(
        estimate,
        interval=exact_binomial(used, available),
        standard_error=math.sqrt(estimate * (1 - estimate) / available) or None,
        n=n,
        warnings=few(n, ENOUGH_BOXES, quantity.counted),
        left_out=left_out,
        parts={"used": len(codes), "used, by days": used, "available, by days": available},
    )
