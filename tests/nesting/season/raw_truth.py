"""The season's numbers of a made season beside its truth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.fledglings import fledged_in_all
from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.mayfield import mayfield
from layers.nesting.season.periods import periods
from layers.nesting.season.result import Measure
from layers.nesting.season.young import young_fledged
from tests.nesting.season.raw_seasons import Nature, RawSeason
from tests.nesting.season.raw_tables import raw_table


@dataclass(frozen=True)
class Judged:
    """Estimates of one season, the truth, and whether 95 % intervals hold it.

    Attributes
    ----------
    truth
        Success by the simulator's own risks and the true lengths of nests.
    all_seeing
        Success as one who saw every nest every day would have it.
    apparent, mayfield
        What the usual ways give; None where they give nothing.
    """

    success: float
    truth: float
    all_seeing: float
    total: float
    true_total: int
    apparent: float | None
    true_share: float
    mayfield: float
    holds: Mapping[str, bool]


def judged(season: RawSeason, nature: Nature, *, guarded: bool | None = None) -> Judged:
    """The numbers of one season, for constant risks: of all boxes, or of those with or without a
    guard.
    """
    table = raw_table(season)
    lengths = periods(table)
    assert lengths is not None
    risk = nature.guard_ratio if guarded else 1.0
    if guarded is not None:
        boxes = frozenset(season.boxes)
        season = season.of(season.guarded if guarded else boxes - season.guarded)
        table = table.of_boxes(np.isin(table.boxes, season.boxes))
    found = season.found()
    egg_days = float(np.mean([nest.hatch - nest.first_egg for nest in season.nests]))
    young_days = float(np.mean([nest.leaves - nest.hatch for nest in season.nests]))
    with_eggs, with_young = 1 - risk * nature.with_eggs, 1 - risk * nature.with_young
    truth = with_eggs**egg_days * with_young**young_days
    success = nest_success(table, egg_days=lengths.eggs.days, young_days=lengths.young.days)
    total = fledged_in_all(table, young_fledged(table))
    true_total = sum(nest.young_fledged for nest in found)
    rates = {stage: mayfield(table, stage=stage).estimate or 0.0 for stage in ("eggs", "young")}
    assert success.estimate is not None
    assert total.estimate is not None
    return Judged(
        success=success.estimate,
        truth=truth,
        all_seeing=season.all_seeing_success(),
        total=total.estimate,
        true_total=true_total,
        apparent=apparent_success(table).estimate,
        true_share=float(np.mean([nest.fledged for nest in found])),
        mayfield=rates["eggs"] ** lengths.eggs.days * rates["young"] ** lengths.young.days,
        holds={
            "success": _holds(success, truth),
            "eggs": _holds(likelihood_survival(table, stage="eggs"), with_eggs),
            "young": _holds(likelihood_survival(table, stage="young"), with_young),
            "total": _holds(total, true_total),
        },
    )


def _holds(measure: Measure, truth: float) -> bool:
    assert measure.interval is not None
    return measure.interval.low <= truth <= measure.interval.high
