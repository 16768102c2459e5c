"""A season beside those before it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from layers.nesting import attempt_columns as c
from layers.nesting.guide import Guide
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.box_use import box_use
from layers.nesting.season.comparison import Comparison, compare_groups
from layers.nesting.season.fledglings import fledged_in_all, fledged_per_attempt, fledged_per_box
from layers.nesting.season.likelihood import likelihood_survival
from layers.nesting.season.periods import Periods
from layers.nesting.season.phenology import first_eggs
from layers.nesting.season.report.counting import counts_of, success_of
from layers.nesting.season.report.facts import OwnPeriodFacts, YearFacts, Years
from layers.nesting.season.resampling import LEAST_NESTS, resampled
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.trend import trend
from layers.nesting.season.year_risk import risk_trend
from layers.nesting.season.young import YoungFledged, young_fledged
from layers.nesting.timeline import Service


def years_of(
    so_far: SeasonTable,
    own: SeasonTable,
    own_young: YoungFledged,
    *,
    season: int,
    service: Service,
    lengths: Periods | None,
    guide: Guide,
    species: str | None,
) -> Years:
    """Each season up to one, of which the table and its young are at hand; with the periods that
    the guide has of the trail's own nests of a species, None = of all.
    """
    seen = set(so_far.checked[:, 1].tolist()) | set(so_far.rows[so_far.laid, c.SEASON].tolist())
    each = []
    for year in sorted(int(one) for one in seen if one <= season):
        table = own if year == season else so_far.of_season(year)
        young = own_young if year == season else young_fledged(table)
        each.append(
            YearFacts(
                season=year,
                used=box_use(table, season=year, service=service).used,
                counts=counts_of(table),
                apparent=apparent_success(table),
                daily=likelihood_survival(table),
                success=success_of(table, lengths),
                young=fledged_in_all(table, young),
                per_attempt=fledged_per_attempt(table, young),
                per_box=fledged_per_box(table, young),
                first_eggs=first_eggs(table),
            )
        )
    ends_now = bool(each) and each[-1].season == season
    trends = (
        trend({year.season: year.used for year in each}),
        trend({year.season: year.success for year in each}),
        trend({year.season: year.per_box for year in each}),
    )
    return Years(
        tuple(each),
        trends if each else (),
        risk_trend(so_far),
        _differ(so_far, each) if ends_now and len(each) > 2 else None,
        _differ(so_far, each[-2:]) if ends_now and len(each) > 1 else None,
        tuple(_own_periods(guide, species)),
    )


def _differ(so_far: SeasonTable, each: Sequence[YearFacts]) -> Comparison:
    """Some seasons held against each other, the year as a factor."""
    own = so_far.take(so_far.rows[:, c.SEASON] >= each[0].season)
    rates = {str(year.season): year.daily for year in each if year.daily.n >= LEAST_NESTS}
    return compare_groups(rates, shuffled=resampled(own, own.seasons()))


def _own_periods(guide: Guide, species: str | None) -> Iterator[OwnPeriodFacts]:
    for name, own in sorted(guide.own.items()):
        if species is not None and name != species:
            continue
        printed = guide.find(name)
        for what, period, span in (
            ("last egg to hatching", own.incubation, printed.incubation_days),
            ("hatching to leaving", own.nestling, printed.nestling_days),
        ):
            if period is not None:
                yield OwnPeriodFacts(
                    name, what, period.mean_days, period.nests, span.low, span.high
                )
