"""Nests of a made-up bird whose figures are round, so that dates can be worked out by hand."""

from __future__ import annotations

from typing import Any

import numpy as np

from layers.nesting.dating import AttemptDates, Dates, Model, Posterior, date_attempts, posterior
from layers.nesting.dating.terms import FIRST_EGG
from layers.nesting.guide import Guide, guide_with
from layers.nesting.histories import Histories, read_histories
from tests.nesting.notebook import coded

PIPER = "reed piper"

# Nothing goes wrong: no gap, no slip, no loss.
SURE = Model(
    daily_loss=0.0,
    laying_gap=0.0,
    never_hatches=0.0,
    slip=0.0,
    misread=0.0,
    egg_short=0.0,
    egg_over=0.0,
)


def piper_guide(**figures: tuple[float, float]) -> Guide:
    """A guide with a reed piper of 5 eggs, 13 to 14 days of sitting, 16 to 20 in the nest."""
    spans: dict[str, tuple[float, float]] = {
        "clutch": (5, 5),
        "clutch_range": (5, 5),
        "laying_interval_days": (1, 1),
        "incubation_days": (13, 14),
        "nestling_days": (16, 20),
        "broods": (1, 1),
        "closed_from_day": (11, 11),
        "banding_days": (6, 9),
    } | figures
    lines = [f"{key} = {{ low = {low}, high = {high} }}" for key, (low, high) in spans.items()]
    return guide_with(f'[species."{PIPER}"]\nscientific = "Fistula arundinis"\n' + "\n".join(lines))


def piper_histories(*visits: dict[str, Any], guide: Guide | None = None) -> Histories:
    named = [{"species": PIPER} | visit for visit in visits]
    return read_histories(coded(*named), guide or piper_guide(), season_starts="01-01")


def dates_of(histories: Histories, attempt: int = 0, model: Model | None = None) -> AttemptDates:
    dates = date_attempts(histories) if model is None else date_attempts(histories, model=model)
    return dates.of(attempt)


def weights(histories: Histories, model: Model, attempt: int = 0) -> Posterior:
    found = posterior(histories, date_attempts(histories, model=model), attempt)
    assert found is not None
    return found


def spread(found: Posterior, event: int = FIRST_EGG) -> dict[int, float]:
    """The chance of each day (days since 1970-01-01) that has one."""
    row = found.chances[event]
    return {found.first_day + int(i): float(row[i]) for i in np.flatnonzero(row)}


def same_dates(one: Dates, other: Dates) -> bool:
    """Whether two sets of dates are the same to the last digit."""
    return all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=name not in ("how",))
        for name in ("how", "best", "ends", "hatched", "fledged")
    )
