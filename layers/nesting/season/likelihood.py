"""Daily and period survival by maximum likelihood, with profile intervals.

Nothing is taken for granted about when in its interval a loss happened.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TypedDict

import numpy as np

from layers.nesting.season.course_likelihood import MOST, CourseLikelihood, Days
from layers.nesting.season.doubts import AllLost, Doubt, NoLosses
from layers.nesting.season.mayfield import (
    STAGE_WORDS,
    Stage,
    daily_survival,
    nest_days,
    survival_warnings,
)
from layers.nesting.season.result import About, Interval, Measure, Quantity
from layers.nesting.season.samples import for_survival
from layers.nesting.season.tables import SeasonTable

ABOUT = About(
    method=(
        "maximum likelihood for losses known to an interval: a survived interval of t days "
        "contributes s**t, one with a loss 1 - s**t; profile likelihood interval"
    ),
    assumptions=(
        "Every nest has the same chance to live through a day, on every day of the stage.",
        "The visits saw rightly whether the nest was alive.",
        "The days of visits have nothing to do with how the nest fared.",
        "Nests are independent of each other.",
    ),
    not_when=(
        "Survival changes with age, season or place: use the regression.",
        "Losses come in a few catastrophes: nests are then not independent.",
    ),
    reference="Johnson 1979, Auk 96:651-661",
)

STAGE_ABOUT = About(
    method=(
        ABOUT.method + "; eggs and young each with a rate of their own; a nest whose day of "
        "hatching, end or day of leaving is not known counts for each that its visits allow, by "
        "its chance"
    ),
    assumptions=(
        *ABOUT.assumptions,
        "Days of incubation and ages at which young leave are those of the trail's own nests, "
        "within what the guide allows, which counts as ten nests for days and as five for ages.",
        "An observer writes signs of how a nest ended as often for every nest that ended so.",
    ),
    not_when=ABOUT.not_when,
    reference=ABOUT.reference + "; Klett & Johnson 1982, Auk 99:77-87 (why to part the stages); "
    "Stanley 2004, Auk 121:134-147 (ages not known; from memory); Etterson & Stanley 2008, Auk "
    "125:687-699 (fates with chances; from memory)",
)

_DAYS: dict[Stage, Days] = {"whole": (1.0, 0.0), "eggs": (1.0, 0.0), "young": (0.0, 1.0)}


SUCCESS = Quantity(
    "nest success from first egg to fledging", "share", "nests watched", STAGE_ABOUT, ""
)


def likelihood_survival(table: SeasonTable, *, stage: Stage = "whole") -> Measure:
    """The chance of a nest to live through one day, for the whole nest or one stage."""
    quantity = daily_survival(stage, ABOUT if stage == "whole" else STAGE_ABOUT)
    found = nest_days(table, stage=stage)
    left_out = for_survival(table).left_out()
    if found.days == 0:
        return quantity.without_answer(left_out)
    likelihood = table.likelihood if stage != "whole" else table.pooled_likelihood
    hazard = float(np.dot(likelihood.best.hazards, _DAYS[stage]))
    return quantity.measured(
        _survival(hazard),
        **_bounds(likelihood, _DAYS[stage], hazard),
        n=found.nests,
        warnings=survival_warnings(table, found, survived_some=hazard < MOST, midpoint=False),
        left_out=left_out,
        parts={"losses": found.losses},
    )


def nest_success(table: SeasonTable, *, egg_days: float, young_days: float) -> Measure:
    """The chance of a nest to live from its first egg to fledging, each stage by its own rate.

    The product of both stages, s_eggs**egg_days * s_young**young_days. The interval is
    the profile likelihood of the product; `standard_error` is by the delta method.

    Parameters
    ----------
    egg_days, young_days
        How long each stage lasts: see `periods`. Both above 0.
    """
    left_out = for_survival(table).left_out()
    stages: tuple[Stage, ...] = ("eggs", "young")
    found = {stage: nest_days(table, stage=stage) for stage in stages}
    for stage in stages:
        if found[stage].days == 0:
            missing = daily_survival(stage, STAGE_ABOUT).needs
            return replace(SUCCESS, needs=missing).without_answer(left_out)
    likelihood = table.likelihood
    days = (egg_days, young_days)
    best = likelihood.best.hazards
    hazard = float(np.dot(best, days))
    whole = nest_days(table)
    warnings: list[Doubt] = list(
        survival_warnings(table, whole, survived_some=best.min() < MOST, midpoint=False)
    )
    for stage, rate in zip(stages, best, strict=True):
        counted = f"nests watched{STAGE_WORDS[stage]}"
        if rate == 0 and whole.losses:
            warnings.append(NoLosses(found[stage].nests, counted))
        if rate == MOST:
            warnings.append(AllLost(found[stage].losses, counted))
    return SUCCESS.measured(
        _survival(hazard),
        **_bounds(likelihood, days, hazard),
        n=whole.nests,
        warnings=warnings,
        left_out=left_out,
        parts={
            "egg days": egg_days,
            "young days": young_days,
            "daily survival with eggs": _survival(best[0]),
            "daily survival with young": _survival(best[1]),
            "losses": whole.losses,
        },
    )


class _Bounds(TypedDict):
    interval: Interval
    standard_error: float | None


def _bounds(likelihood: CourseLikelihood, days: Days, hazard: float) -> _Bounds:
    """Interval and standard error of survival over `days` of each stage."""
    low, high = likelihood.profile_interval(days)
    error = likelihood.error(days)
    return {
        "interval": Interval(_survival(high), _survival(low), "profile likelihood"),
        "standard_error": None if error is None else _survival(hazard) * error,
    }


def _survival(hazard: float) -> float:
    return 0.0 if hazard >= MOST else math.exp(-hazard)
