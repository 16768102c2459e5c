"""A season beside those before it."""

from __future__ import annotations

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.box_use import box_use
from layers.nesting.season.comparison import compare_groups
from layers.nesting.season.fledglings import fledged_in_all, fledged_per_attempt, fledged_per_box
from layers.nesting.season.likelihood import likelihood_survival
from layers.nesting.season.periods import Periods
from layers.nesting.season.phenology import first_eggs
from layers.nesting.season.report.counting import counts_of, success_of
from layers.nesting.season.report.facts import YearFacts, Years
from layers.nesting.season.resampling import LEAST_NESTS, resampled
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.trend import trend
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
) -> Years:
    """Each season up to one, of which the table and its young are at hand."""
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
    with_last = None
    if len(each) > 1 and each[-1].season == season:
        two = so_far.take(so_far.rows[:, c.SEASON] >= each[-2].season)
        enough = [year for year in each[-2:] if year.daily.n >= LEAST_NESTS]
        rates = {str(year.season): year.daily for year in enough}
        with_last = compare_groups(rates, shuffled=resampled(two, two.seasons()))
    trends = (
        trend({year.season: year.used for year in each}),
        trend({year.season: year.success for year in each}),
        trend({year.season: year.per_box for year in each}),
    )
    return Years(tuple(each), trends if each else (), with_last)
