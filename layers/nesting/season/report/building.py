"""From histories to the facts of a season's report."""

from __future__ import annotations

from datetime import date

import pandas as pd

from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dates, date_attempts
from layers.nesting.histories import Histories
from layers.nesting.season.box_results import box_results
from layers.nesting.season.box_use import box_use
from layers.nesting.season.clutches import hatching_success
from layers.nesting.season.covariates import nest_covariates
from layers.nesting.season.exposure import season_table
from layers.nesting.season.fledglings import (
    fledged_in_all,
    fledged_per_attempt,
    fledged_per_box,
    fledged_per_successful,
)
from layers.nesting.season.periods import periods
from layers.nesting.season.report.candidates import models_of
from layers.nesting.season.report.counting import counts_of, survival_of
from layers.nesting.season.report.facts import SeasonReport
from layers.nesting.season.report.groupings import grouping
from layers.nesting.season.report.groups import groups_of, losses_of
from layers.nesting.season.report.species import each_species, without_house_sparrows
from layers.nesting.season.report.weeks import weeks_of
from layers.nesting.season.report.years import years_of
from layers.nesting.season.samples import (
    Sample,
    for_clutch,
    for_fledged,
    for_hatching,
    for_success,
    for_survival,
)
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import young_fledged
from layers.nesting.timeline import Service, Timeline
from layers.nesting.timeline import timeline as timeline_of
from layers.trail.coding import day_number, day_of
from layers.trail.settings import Settings, season_days


def season_report(
    histories: Histories,
    dates: Dates,
    *,
    season: int,
    on: date,
    boxes: pd.DataFrame,
    service: Service,
    timeline: Timeline,
    settings: Settings,
    species: str | None = None,
    by: str = "section",
) -> SeasonReport:
    """All that a report of one season shows.

    Parameters
    ----------
    dates, timeline
        Of `histories`; used where no visit is later than `on`. The timeline is that of the season.
    on
        The day to look from: only visits up to it are used.
    boxes
        The trail's boxes, columns as `Trail.boxes()` gives them.
    species
        Only nests of this species, by any name of the guide; None = all.
    by
        What to group nests by: a name of `GROUPINGS`.

    Raises
    ------
    BadValue
        The guide has no such species, or there is no such grouping.
    """
    grouping(by)
    if (histories.visits.day > day_number(on)).any():
        histories = histories.up_to(on)
        dates = date_attempts(histories)
        timeline = timeline_of(histories, dates, season=season, on=on, service=service)
    days = histories.visits.day
    common = None if species is None else histories.guide.find(species).common
    whole = season_table(histories, dates, on=on, species=common)
    so_far = whole.take(whole.rows[:, c.SEASON] <= season)
    table = whole.of_season(season)
    young = young_fledged(table)
    first, last = season_days(season, settings.season_starts)
    in_season = days[(days >= day_number(first)) & (days <= day_number(last))]
    # Over all seasons, so that seasons are compared over the same days.
    lengths = periods(so_far)
    covariates = nest_covariates(histories, so_far, boxes=boxes)
    return SeasonReport(
        trail=settings.name,
        season=season,
        species=common,
        on=on,
        last_visit=day_of(int(in_season.max())) if len(in_season) else None,
        over=on > last,
        use=box_use(table, season=season, service=service),
        counts=counts_of(table),
        survival=survival_of(table, lengths),
        hatching=hatching_success(table),
        young=fledged_in_all(table, young),
        per_attempt=fledged_per_attempt(table, young),
        per_successful=fledged_per_successful(table, young),
        per_box=fledged_per_box(table, young),
        apart=without_house_sparrows(table, young),
        each_species=each_species(table, young, season, service),
        groups=groups_of(
            covariates,
            so_far,
            young,
            by=by,
            season=season,
            boxes=boxes,
            service=service,
            settings=settings,
            lengths=lengths,
        ),
        losses=losses_of(table),
        years=years_of(
            so_far,
            table,
            young,
            season=season,
            service=service,
            lengths=lengths,
            guide=histories.guide,
            species=common,
        ),
        weeks=weeks_of(timeline, species=common),
        boxes=tuple(box_results(table, young)),
        models=models_of(so_far, covariates, lengths, settings.units),
        left_out={
            name: tuple(sample.listed(table))
            for name, sample in _samples(table).items()
            if not sample.counted.all()
        },
    )


def _samples(table: SeasonTable) -> dict[str, Sample]:
    return {
        "survival": for_survival(table),
        "apparent success": for_success(table),
        "clutch size": for_clutch(table),
        "hatching success": for_hatching(table),
        "young fledged": for_fledged(table),
    }
