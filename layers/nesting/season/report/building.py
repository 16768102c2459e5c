"""From histories to the facts of a season's report."""

from __future__ import annotations

from collections import Counter
from datetime import date

import numpy as np
import pandas as pd

from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dates, date_attempts
from layers.nesting.histories import Histories
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.box_results import box_results
from layers.nesting.season.box_use import box_use
from layers.nesting.season.clutches import (
    brood_size,
    clutch_size,
    fledged_per_attempt,
    fledged_per_box,
    hatching_success,
)
from layers.nesting.season.comparison import compare_groups
from layers.nesting.season.covariates import TERMS, Covariates, nest_covariates
from layers.nesting.season.encoding import known
from layers.nesting.season.exposure import season_table
from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.losses import losses_by
from layers.nesting.season.mayfield import mayfield
from layers.nesting.season.models import compare_models
from layers.nesting.season.periods import Periods, period_survival, periods
from layers.nesting.season.phenology import broods, first_eggs
from layers.nesting.season.report.facts import (
    Counts,
    GroupFacts,
    Groups,
    SeasonReport,
    SpeciesFacts,
    Survival,
    SurvivalModels,
    Weeks,
    YearFacts,
    Years,
)
from layers.nesting.season.report.groupings import grouping
from layers.nesting.season.report.predicting import predictions
from layers.nesting.season.result import Measure
from layers.nesting.season.samples import (
    Sample,
    for_clutch,
    for_fledged,
    for_hatching,
    for_success,
    for_survival,
)
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.trend import trend
from layers.nesting.timeline import IN_USE, NAME_NOT_RECORDED, Service, Timeline
from layers.nesting.timeline import timeline as timeline_of
from layers.trail.coding import day_number, day_of
from layers.trail.settings import Settings, season_days

# A model's terms that most nests lack would take those nests from every model (common
# practice, no source).
_KNOWN_OF_MOST = 0.9

_CANDIDATES: tuple[tuple[str, ...], ...] = (
    (),
    ("stage",),
    ("stage", "species"),
    ("stage", "section"),
    ("stage", "habitat"),
    ("stage", "guards"),
    ("stage", "mount"),
    ("stage", "hole"),
    ("stage", "height"),
    ("stage", "facing"),
    ("stage", "box age"),
    ("stage", "nest age"),
    ("stage", "date"),
    ("stage", "date", "date squared"),
    ("stage", "year"),
    ("stage", "year trend"),
)
"""One thing at a time beside the stage: a season has too few losses for more."""

MAX_GROUPS = 40
"""Groups that a report lists, and levels of a factor in its models: more are unreadable on
paper, and make a model of many coefficients."""

_ALL = "all nests"


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
        per_attempt=fledged_per_attempt(table),
        per_box=fledged_per_box(table),
        each_species=_each_species(table, season, service),
        groups=_groups(
            covariates,
            so_far,
            by=by,
            season=season,
            boxes=boxes,
            service=service,
            settings=settings,
            lengths=lengths,
        ),
        losses=_losses(table),
        years=_years(so_far, season, service, lengths),
        weeks=weeks_of(timeline, species=common),
        boxes=tuple(box_results(table)),
        models=_models(so_far, covariates, lengths, settings.units),
        left_out={
            name: tuple(sample.listed(table))
            for name, sample in _samples(table).items()
            if not sample.counted.all()
        },
    )


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
        success=_success(table, lengths),
        apparent=apparent_success(table),
        daily=likelihood_survival(table),
        with_eggs=likelihood_survival(table, stage="eggs"),
        with_young=likelihood_survival(table, stage="young"),
        midpoint=mayfield(table),
        forty=mayfield(table, rule="40 %"),
        periods=lengths,
    )


def _success(table: SeasonTable, lengths: Periods | None) -> Measure:
    # Without a nest there are no lengths, and no answer whatever they were.
    egg_days, young_days = (lengths.eggs.days, lengths.young.days) if lengths else (1, 1)
    return nest_success(table, egg_days=egg_days, young_days=young_days)


def _each_species(table: SeasonTable, season: int, service: Service) -> tuple[SpeciesFacts, ...]:
    """Every species with a nest, the one with most nests first."""
    use = box_use(table, season=season, service=service)
    named = [name or NAME_NOT_RECORDED for name in table.species()]
    found = []
    for name, own in table.grouped(named).items():
        if not own.laid.any():
            continue
        found.append(
            SpeciesFacts(
                species=name,
                counts=counts_of(own),
                used=use.by_species[name],
                clutch=clutch_size(own),
                hatching=hatching_success(own),
                brood=brood_size(own),
                per_attempt=fledged_per_attempt(own),
                apparent=apparent_success(own),
                first_eggs={
                    brood: first_eggs(nests)
                    for brood, nests in own.grouped(broods(own)).items()
                    if nests.laid.any()
                },
            )
        )
    return tuple(sorted(found, key=lambda facts: (-facts.counts.attempts, facts.species)))


def _groups(
    covariates: Covariates,
    so_far: SeasonTable,
    *,
    by: str,
    season: int,
    boxes: pd.DataFrame,
    service: Service,
    settings: Settings,
    lengths: Periods | None,
) -> Groups:
    given = grouping(by)
    table = so_far.of_season(season)
    of_boxes = given.of_each_box(boxes, ids=so_far.boxes, units=settings.units)
    every = np.array(given.of_nests(so_far, covariates, settings.units), object)
    nests = Counter({label: 0 for label in of_boxes or [] if label is not None})
    nests.update(label for label in every[so_far.laid].tolist() if label is not None)
    listed = [name for name, _ in sorted(nests.items(), key=lambda one: (-one[1], one[0]))]
    listed = listed[:MAX_GROUPS]
    kept = set(listed)
    every[[label not in kept for label in every.tolist()]] = None
    named = every[so_far.rows[:, c.SEASON] == season]
    losses = losses_by(table, named.tolist())
    with_losses = {group.group: group for group in losses.groups}
    of_box = None if of_boxes is None else np.array(of_boxes, object)
    facts = []
    for name in sorted(listed):
        own = table.take(named == name)
        used, per_box = None, None
        if of_box is not None:
            among = of_box == name
            used = box_use(table, season=season, service=service, among=among).used
            per_box = fledged_per_box(table.of_boxes(among))
        facts.append(
            GroupFacts(
                group=name,
                counts=counts_of(own),
                used=used,
                per_box=per_box,
                per_attempt=fledged_per_attempt(own),
                apparent=apparent_success(own),
                losses=with_losses.get(name),
            )
        )
    all_years = losses_by(so_far, every.tolist())
    # Where the length of nests is not known, there is no group either.
    whole_days = lengths.eggs.days + lengths.young.days if lengths else 0
    return Groups(
        by=by,
        words=given.words,
        season=tuple(facts),
        comparison=losses.comparison,
        without_group=losses.without_group,
        omitted=len(nests) - len(listed),
        all_years=all_years,
        success={
            one.group: period_survival(one.survival, days=whole_days, name="nest success")
            for one in all_years.groups
        },
    )


def _losses(table: SeasonTable) -> dict[str, Measure]:
    groups = losses_by(table, [_ALL] * len(table)).groups
    return dict(groups[0].by_cause) if groups else {}


def _years(so_far: SeasonTable, season: int, service: Service, lengths: Periods | None) -> Years:
    seen = set(so_far.checked[:, 1].tolist()) | set(so_far.rows[so_far.laid, c.SEASON].tolist())
    each = []
    for year in sorted(int(one) for one in seen if one <= season):
        table = so_far.of_season(year)
        each.append(
            YearFacts(
                season=year,
                used=box_use(table, season=year, service=service).used,
                counts=counts_of(table),
                apparent=apparent_success(table),
                daily=likelihood_survival(table),
                success=_success(table, lengths),
                per_attempt=fledged_per_attempt(table),
                per_box=fledged_per_box(table),
                first_eggs=first_eggs(table),
            )
        )
    with_last = None
    if len(each) > 1 and each[-1].season == season:
        with_last = compare_groups({str(year.season): year.daily for year in each[-2:]})
    trends = (
        trend({year.season: year.used for year in each}),
        trend({year.season: year.success for year in each}),
        trend({year.season: year.per_box for year in each}),
    )
    return Years(tuple(each), trends if each else (), with_last)


def weeks_of(timeline: Timeline, *, species: str | None) -> Weeks:
    """Boxes in use on the first day of each week of a season; of one species, or of each."""
    names = timeline.species_names
    starts = [day_of(timeline.first_day + day) for day in range(0, timeline.days, 7)]
    numbers = np.zeros((len(starts), len(names) + 1), int)
    for at, day in enumerate(starts):
        states = timeline.on(day)
        in_use = states.species[states.occupancy == IN_USE]
        numbers[at] = np.bincount(in_use, minlength=len(names) + 1)
    numbers = numbers[:, 1:]
    if species is not None:
        numbers[:, [name != species for name in names]] = 0
    busy = np.flatnonzero(numbers.sum(axis=1))
    if len(busy) == 0:
        return Weeks((), {})
    # A week before and after, so that a plot starts and ends at none.
    shown = slice(max(int(busy[0]) - 1, 0), int(busy[-1]) + 2)
    order = np.argsort(-numbers.sum(axis=0), kind="stable")
    return Weeks(
        tuple(starts[shown]),
        {
            names[code]: tuple(numbers[shown, code].tolist())
            for code in order
            if numbers[:, code].any()
        },
    )


def _models(
    table: SeasonTable, covariates: Covariates, lengths: Periods | None, units: str
) -> SurvivalModels | None:
    """Candidate models whose terms most nests have a value for, and not all the same one."""
    watched = np.unique(table.intervals.nest)
    if len(watched) == 0:
        return None

    def usable(name: str) -> bool:
        term = TERMS[name]
        if term.of_part:
            return True
        given = covariates[term.column][watched]
        there = known(given)
        levels = len(set(given[there].tolist()))
        fits = levels <= MAX_GROUPS or term.kind != "factor"
        return bool(there.mean() >= _KNOWN_OF_MOST and levels > 1 and fits)

    candidates = [terms for terms in _CANDIDATES if all(usable(name) for name in terms)]
    models = compare_models(table, covariates, candidates=candidates)
    predicted = predictions(models, table, covariates, lengths=lengths, units=units)
    return SurvivalModels(models.lines, models.unfit, models.left_out, predicted)


def _samples(table: SeasonTable) -> dict[str, Sample]:
    return {
        "survival": for_survival(table),
        "apparent success": for_success(table),
        "clutch size": for_clutch(table),
        "hatching success": for_hatching(table),
        "young fledged": for_fledged(table),
    }
