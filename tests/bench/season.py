"""The season's numbers: seasons with a known truth, and 100,000 attempts.

`python -m tests.bench.season`
"""

from __future__ import annotations

import datetime as dt
import importlib.util
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
from numpy.random import default_rng
from numpy.typing import NDArray
from scipy.optimize import minimize

from layers.nesting.dating import Dates, date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.box_results import box_results
from layers.nesting.season.box_use import box_use
from layers.nesting.season.clutches import brood_size, clutch_size, hatching_success
from layers.nesting.season.comparison import compare_groups
from layers.nesting.season.course_likelihood import N_HAZARDS, CourseLikelihood
from layers.nesting.season.covariates import nest_covariates, parts_of
from layers.nesting.season.encoding import encoder
from layers.nesting.season.exposure import season_table
from layers.nesting.season.fledglings import fledged_in_all, fledged_per_attempt, fledged_per_box
from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.losses import losses_by
from layers.nesting.season.mayfield import mayfield
from layers.nesting.season.periods import period_survival, periods
from layers.nesting.season.phenology import broods, first_eggs
from layers.nesting.season.regression import SurvivalFit, fit_survival
from layers.nesting.season.report import report_record, season_report
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import young_fledged
from layers.nesting.timeline import Service, timeline
from layers.trail.settings import Settings
from tests.bench.clock import best_of, heading, line
from tests.many_boxes import many_boxes
from tests.nesting.season.groups import cone_effect, fitted, likelihood_ratio_p, two_groups
from tests.nesting.season.made import thrown
from tests.nesting.season.raw_seasons import ROWS, raw_season
from tests.nesting.season.raw_tables import raw_table
from tests.nesting.season.raw_truth import judged

SEASONS = 500
NESTS = 80
EGG_DAYS, YOUNG_DAYS = 17, 18

Method = Callable[[SeasonTable], Measure]


def whole(daily: Method) -> Method:
    """The chance to live through the whole nest by one daily rate."""
    days = EGG_DAYS + YOUNG_DAYS
    return lambda table: period_survival(daily(table), days=days, name="nest success")


METHODS: dict[str, Method] = {
    "apparent success": apparent_success,
    "Mayfield, midpoint": whole(mayfield),
    "Mayfield, 40 %": whole(lambda table: mayfield(table, rule="40 %")),
    "likelihood, one rate": whole(likelihood_survival),
    "likelihood, by stage": lambda table: nest_success(
        table, egg_days=EGG_DAYS, young_days=YOUNG_DAYS
    ),
}


def known_seasons(with_eggs: float, with_young: float, interval_days: int) -> None:
    truth = with_eggs**EGG_DAYS * with_young**YOUNG_DAYS
    random = default_rng(1)
    estimates: dict[str, list[float]] = {name: [] for name in METHODS}
    covered: dict[str, list[bool]] = {name: [] for name in METHODS}
    for _ in range(SEASONS):
        table = thrown(
            random,
            nests=NESTS,
            survival=(with_eggs, with_young),
            egg_days=EGG_DAYS,
            young_days=YOUNG_DAYS,
            interval_days=interval_days,
        )
        for name, method in METHODS.items():
            measure = method(table)
            assert measure.estimate is not None
            assert measure.interval is not None
            estimates[name].append(measure.estimate)
            covered[name].append(measure.interval.low <= truth <= measure.interval.high)
    print(
        f"  {SEASONS} seasons of {NESTS} nests, daily survival {with_eggs} with eggs and "
        f"{with_young} with young, looked at every {interval_days} days: success {truth:.1%}"
    )
    for name in METHODS:
        mean = float(np.mean(estimates[name]))
        print(
            f"    {name:<24} mean {mean:6.1%}   off by {mean - truth:+6.1%}   "
            f"95 % intervals cover {np.mean(covered[name]):6.1%}"
        )


def raw_seasons(runs: int) -> None:
    """From raw visits to numbers: bias, and how often 95 % intervals hold the truth.

    In the last five rows nature does what the model does not assume: the intervals of rates are
    then held against the risk of the first days.
    """
    print(
        f"  {runs} seasons of 60 boxes a row. Points of success off one who saw every nest every "
        "day:\n  this model, Mayfield by stage, apparent success (share off that of nests found); "
        "then\n  per cent of intervals that hold; young fledged per cent off, and held"
    )
    for name, (keeper, nature) in ROWS.items():
        found = [
            judged(raw_season(7000 + seed, keeper=keeper, nature=nature), nature)
            for seed in range(runs)
        ]
        off = np.array([one.success - one.all_seeing for one in found])
        plain = np.array([one.mayfield - one.all_seeing for one in found])
        shares = [one.apparent - one.true_share for one in found if one.apparent is not None]
        young = np.array([one.total / one.true_total - 1 for one in found])
        holds = {
            rate: np.mean([one.holds[rate] for one in found])
            for rate in ("success", "eggs", "young", "total")
        }
        share = f"{100 * np.mean(shares):+5.1f}" if len(shares) > runs / 2 else " none"
        print(
            f"    {name:<34} {100 * off.mean():+5.1f} (SE {100 * off.std() / runs**0.5:.1f})  "
            f"{100 * plain.mean():+5.1f}  {share}   success {holds['success']:4.0%}  eggs "
            f"{holds['eggs']:4.0%}  young {holds['young']:4.0%}   fledged "
            f"{100 * young.mean():+5.1f} % {holds['total']:4.0%}"
        )


def known_effects() -> None:
    random = default_rng(2)
    found = [
        cone_effect(fitted(*two_groups(random, difference=0.8), ["guards"])) for _ in range(SEASONS)
    ]
    inside = [low <= 0.8 <= high for _, low, high in found]
    seen = [low > 0 for _, low, _ in found]
    print(
        f"  regression, true effect 0.8: mean {np.mean([f[0] for f in found]):.3f}, 95 % intervals "
        f"cover {np.mean(inside):.1%}, told from none in {np.mean(seen):.1%}"
    )
    runs = 4 * SEASONS
    ratio, groups = [], []
    for _ in range(runs):
        table, guards = two_groups(random, difference=0.0)
        small, large = fitted(table, guards, []), fitted(table, guards, ["guards"])
        ratio.append(likelihood_ratio_p(small, large) < 0.05)
        by_guard = {name: mayfield(own) for name, own in table.grouped(guards).items()}
        p_value = compare_groups(by_guard).p_value
        groups.append(p_value is not None and p_value < 0.05)
    print(
        f"  no effect, {runs} runs: the likelihood ratio test finds one in {np.mean(ratio):.1%}, "
        f"the comparison of groups in {np.mean(groups):.1%}"
    )


def all_measures(histories: Histories, table: SeasonTable) -> list[Any]:
    lengths = periods(table)
    assert lengths is not None
    young = young_fledged(table)
    return [
        apparent_success(table),
        mayfield(table),
        mayfield(table, rule="40 %"),
        likelihood_survival(table),
        likelihood_survival(table, stage="eggs"),
        likelihood_survival(table, stage="young"),
        nest_success(table, egg_days=lengths.eggs.days, young_days=lengths.young.days),
        clutch_size(table),
        hatching_success(table),
        brood_size(table),
        fledged_in_all(table, young),
        fledged_per_attempt(table, young),
        fledged_per_box(table, young),
        {name: first_eggs(own) for name, own in table.grouped(table.species()).items()},
        broods(table),
        box_use(table, season=2026),
        box_results(table, young),
        losses_by(table, table.species()),
    ]


def large() -> None:
    boxes, visits = many_boxes(79_000, seed=1, interval_days=7)
    histories = read_histories(visits, standard_guide(), season_starts="01-01")
    dates = date_attempts(histories)
    on = dt.date(2026, 12, 31)
    took_s, table = best_of(2, lambda: season_table(histories, dates, on=on))
    print(f"  {len(table):,} attempts, {len(table.intervals):,} intervals")
    line("the season's table", took_s)
    fitted_rates("rates of loss and of signs, fitted", table)
    took_s, _ = best_of(1, lambda: all_measures(histories, table))
    line("all measures together", took_s)
    whole_report(histories, dates, boxes)
    random = default_rng(1)
    boxes["height_m"] = random.normal(1.7, 0.3, len(boxes))
    boxes["guards"] = random.choice(np.array([None, "cone", "stovepipe"], object), len(boxes))
    values = nest_covariates(histories, table, boxes=boxes)
    terms = ["species", "stage", "guards", "height", "date", "date squared", "nest age"]
    took_s, fit = best_of(2, lambda: fit_survival(table, values, terms=terms))
    assert isinstance(fit, SurvivalFit)
    line(f"logistic exposure, {len(fit.coefficients)} coefficients, stages parted", took_s)
    if importlib.util.find_spec("statsmodels") is None:
        print("  statsmodels is not installed: no ratio")
        return
    against_statsmodels(table, values)


def fitted_rates(what: str, table: SeasonTable) -> None:
    """The plain way climbs the same likelihood by differences of its values."""
    took_s, best = best_of(1, lambda: CourseLikelihood(table.courses).best)
    plain = CourseLikelihood(table.courses)
    assert plain.beliefs is not None
    start = np.r_[0.01, 0.01, plain.beliefs.mean]
    limits = [(1e-9, 1.0)] * N_HAZARDS + [(-20.0, 20.0)] * plain.signs

    def less(at: NDArray[np.float64]) -> float:
        return -plain.log_likelihood(at)

    plain_s, found = best_of(1, lambda: minimize(less, start, method="L-BFGS-B", bounds=limits))
    line(what, took_s, plain="by differences", plain_s=plain_s)
    print(f"  log likelihood higher by {best.log_likelihood + found.fun:.1e}")


def whole_report(histories: Histories, dates: Dates, boxes: pd.DataFrame) -> None:
    """Everything that the season's page tells, but for its plots."""
    asked: dict[str, Any] = {
        "season": 2026,
        "on": dt.date(2026, 12, 31),
        "boxes": boxes,
        "service": Service.always(len(histories.visits.boxes)),
        "timeline": timeline(histories, dates, season=2026, on=dt.date(2026, 12, 31)),
        "settings": Settings("Made", "America/New_York"),
    }
    took_s, report = best_of(1, lambda: season_report(histories, dates, **asked))
    line("the whole report: by species, group and year, and models", took_s)
    took_s, _ = best_of(1, lambda: report_record(report))
    line("the report as plain values for JSON", took_s)


def against_statsmodels(table: SeasonTable, values: dict[str, Any]) -> None:
    """The same rows: intervals wholly in one stage, so that each has one part."""
    from tests.nesting.season.shaffer import shaffer_fit  # noqa: PLC0415 - a test's library

    i = table.intervals
    alone = i.take((i.egg_days == 0) | (i.young_days == 0))
    whole_parts = SeasonTable(**{**vars(table), "intervals": alone})
    known = np.array([name is not None for name in values["species"]])
    whole_parts = whole_parts.take(known)
    kept = {name: column[known] for name, column in values.items()}
    terms = ["species", "height", "stage"]
    took_s, fit = best_of(2, lambda: fit_survival(whole_parts, kept, terms=terms))
    assert isinstance(fit, SurvivalFit)
    parts = parts_of(whole_parts)
    columns = [np.ones(len(parts.days))]
    for name, column in (("species", "species"), ("height", "height_m")):
        given = kept[column][parts.nest]
        columns.append(encoder(name, given).columns(given))
    columns.append(encoder("stage", parts.values["stage"]).columns(parts.values["stage"]))
    design = np.column_stack(columns)
    lost = whole_parts.intervals.lost
    plain_s, plain = best_of(1, lambda: shaffer_fit(lost, parts.days, design))
    what = f"logistic exposure, {design.shape[1]} coefficients, {len(lost):,} rows"
    line(what, took_s, plain="statsmodels", plain_s=plain_s)
    print(f"  largest difference of a coefficient: {np.abs(plain.params - fit.beta).max():.1e}")


def main() -> None:
    heading("Nest success on made seasons of known survival")
    known_seasons(0.975, 0.96, 7)
    known_seasons(0.96, 0.96, 7)
    known_seasons(0.96, 0.96, 14)
    known_effects()
    heading("Seasons from raw visits, with a known truth")
    fitted_rates("one season of 60 boxes, fitted", raw_table(raw_season(7000)))
    raw_seasons(200)
    heading("Season's numbers of 100,000 attempts")
    large()


if __name__ == "__main__":
    main()
