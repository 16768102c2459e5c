"""How many nests there were, what became of them, and how likely they were to survive."""

from __future__ import annotations

from collections import Counter

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.mayfield import mayfield
from layers.nesting.season.periods import Periods
from layers.nesting.season.report.facts import Counts, Survival
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable


def counts_of(table: SeasonTable) -> Counts:
    """How many attempts there were, and what became of them."""
    laid, fate, taken_out = table.laid, table.fate, table.taken_out
    fledged = laid & (fate == c.FATE_FLEDGED)
    failed = laid & (fate == c.FATE_FAILED) & ~taken_out
    young = table.rows[:, c.FLEDGED]
    causes = table.causes()
    return Counts(
        attempts=int(laid.sum()),
        fledged=int(fledged.sum()),
        failed=int(failed.sum()),
        unknown=int(np.sum(laid & (fate == c.FATE_UNKNOWN))),
        ongoing=int(np.sum(laid & (fate == c.ONGOING))),
        taken_out=int(np.sum(laid & taken_out)),
        young_fledged=int(young[fledged & (young > 0)].sum()),
        uncounted=int(np.sum(fledged & (young < 0))),
        causes=dict(
            Counter(causes[at] or "not known" for at in np.flatnonzero(failed)).most_common()
        ),
    )


def survival_of(table: SeasonTable, lengths: Periods | None) -> Survival:
    """Survival by every method; `lengths` of both stages are None where they are not known."""
    return Survival(
        success=success_of(table, lengths),
        apparent=apparent_success(table),
        daily=likelihood_survival(table),
        with_eggs=likelihood_survival(table, stage="eggs"),
        with_young=likelihood_survival(table, stage="young"),
        midpoint=mayfield(table),
        forty=mayfield(table, rule="40 %"),
        periods=lengths,
    )


def success_of(table: SeasonTable, lengths: Periods | None) -> Measure:
    # Without a nest there are no lengths, and no answer whatever they were.
    egg_days, young_days = (lengths.eggs.days, lengths.young.days) if lengths else (1, 1)
    return nest_success(table, egg_days=egg_days, young_days=young_days)
