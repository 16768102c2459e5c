"""How each box did: its attempts, what became of them, and the young that left."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import YoungFledged


@dataclass(frozen=True)
class BoxResult:
    """One box over the seasons of a table.

    Attributes
    ----------
    attempts
        With eggs or young; the four fates below add up to it.
    young_fledged
        Counted late enough to be sure; None where the number of an attempt that may have fledged
        is not known.
    young_expected
        By the chances of its attempts.
    losses
        Cause -> failed attempts.
    """

    box: str
    attempts: int
    fledged: int
    failed: int
    unknown: int
    ongoing: int
    young_fledged: int | None
    young_expected: float
    losses: dict[str, int]


def box_results(table: SeasonTable, young: YoungFledged) -> list[BoxResult]:
    """Each box checked or nested in, by its id's place in the table; unused ones too.

    `young` is of the table's attempts.
    """
    laid = table.laid
    boxes = np.union1d(table.checked[:, 0], table.rows[laid, c.BOX])
    # A lost nest, or one that the keeper took out, fledged none, and that is known.
    fledged = (table.fate == c.FATE_FLEDGED) & (table.rows[:, c.FLEDGED] >= 0)
    known = (table.fate == c.FATE_FAILED) | fledged
    sure_young = np.where(fledged, table.rows[:, c.FLEDGED], 0)
    expected = np.zeros(len(table))
    expected[np.searchsorted(table.attempt, young.attempt)] = young.expected
    attempts: dict[int, list[int]] = {int(box): [] for box in boxes}
    for at in np.flatnonzero(laid).tolist():
        attempts[int(table.rows[at, c.BOX])].append(at)
    causes = table.causes()
    results = []
    for box, own in attempts.items():
        fates = Counter(int(table.fate[at]) for at in own)
        sure = all(known[at] for at in own)
        results.append(
            BoxResult(
                box=table.boxes[box],
                attempts=len(own),
                fledged=fates[c.FATE_FLEDGED],
                failed=fates[c.FATE_FAILED],
                unknown=fates[c.FATE_UNKNOWN],
                ongoing=fates[c.ONGOING],
                young_fledged=sum(int(sure_young[at]) for at in own) if sure else None,
                young_expected=sum(float(expected[at]) for at in own),
                losses=dict(Counter(cause for at in own if (cause := causes[at]) is not None)),
            )
        )
    return results
