"""The tables of a report, each declared by its columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from operator import attrgetter
from typing import TypeVar

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.box_results import BoxResult
from layers.nesting.season.losses import GroupLosses
from layers.nesting.season.models import ModelLine
from layers.nesting.season.phenology import FirstEggs
from layers.nesting.season.report.cells import Cell, Sheet
from layers.nesting.season.report.facts import GroupFacts, OwnPeriodFacts, SeasonReport, YearFacts
from layers.trail.words import CAUSES

T = TypeVar("T")
Columns = Mapping[str, Callable[[T], Cell]]

TAKEN_OUT = CAUSES[c.NEST_REMOVED]

_OUTCOMES = {
    "nests": "attempts",
    "fledged": "fledged",
    "lost": "failed",
    "outcome unknown": "unknown",
    "ongoing": "ongoing",
    "taken out": "taken_out",
    "young counted late": "young_fledged",
}


def sheets(report: SeasonReport) -> tuple[Sheet, ...]:
    """Every table of a report that has a row; none where no box was visited."""
    if report.last_visit is None:
        return ()
    every = (
        _measures(report),
        *_species(report),
        _weeks(report),
        _survival(report),
        _losses(report),
        *_groups(report),
        _predictions(report),
        *_models(report),
        *_years(report),
        _boxes(report),
        _left_out(report),
    )
    return tuple(sheet for sheet in every if sheet.rows)


def _sheet(name: str, title: str, passage: str, items: Iterable[T], columns: Columns[T]) -> Sheet:
    """A table with a row an item, and a column a name with its value of an item."""
    rows = tuple(tuple(value(item) for value in columns.values()) for item in items)
    return Sheet(name, title, passage, tuple(columns), rows)


def _marked(sheet: Sheet, nests: Iterable[int]) -> Sheet:
    """The table of groups of so many nests, small ones marked."""
    return replace(sheet, few=frozenset(at for at, n in enumerate(nests) if n < ENOUGH_NESTS))


def _of(**paths: str) -> dict[str, attrgetter[Cell]]:
    return {head.replace("_", " "): attrgetter(path) for head, path in paths.items()}


def _counts(head: str, path: str) -> dict[str, attrgetter[Cell]]:
    """A column that names the item, then its counts by outcome."""
    counts = {name: attrgetter(f"counts.{column}") for name, column in _OUTCOMES.items()}
    return {head: attrgetter(path), **counts}


def _measures(report: SeasonReport) -> Sheet:
    each = (
        report.use.used,
        report.survival.apparent,
        report.survival.success,
        report.hatching,
        report.young,
        report.per_attempt,
        report.per_successful,
        report.per_box,
    )
    rows = tuple((measure.name, measure) for measure in each if measure.estimate is not None)
    return Sheet("measures", "The season in numbers", "first", ("measure", "number"), rows)


def _species(report: SeasonReport) -> tuple[Sheet, ...]:
    listed = report.each_species
    numbers = _of(
        species="species",
        boxes_used="used",
        clutch_size="clutch",
        hatching_success="hatching",
        brood_size="brood",
        young_fledged="young",
        young_per_nest="per_attempt",
        apparent_success="apparent",
    )
    first_eggs = [
        (one.species, brood, eggs) for one in listed for brood, eggs in one.first_eggs.items()
    ]
    dates: Columns[tuple[str, str, FirstEggs]] = {
        "species": lambda row: row[0],
        "brood": lambda row: row[1],
        "nests": lambda row: row[2].n,
        "earliest": lambda row: row[2].earliest,
        "first quarter": lambda row: row[2].lower_quartile,
        "half": lambda row: row[2].median,
        "three quarters": lambda row: row[2].upper_quartile,
    }
    counts = _counts("species", "species")
    nests = [one.counts.attempts for one in listed]
    return (
        _marked(_sheet("species", "Nests by species", "first", listed, counts), nests),
        _sheet("species-numbers", "Eggs and young by species", "first", listed, numbers),
        _marked(
            _sheet("first-eggs", "First eggs", "laying", first_eggs, dates),
            [eggs.n for *_, eggs in first_eggs],
        ),
    )


def _weeks(report: SeasonReport) -> Sheet:
    weeks = report.weeks
    numbers = zip(*weeks.by_species.values(), strict=True)
    rows = tuple((day, *row) for day, row in zip(weeks.days, numbers, strict=False))
    heads = ("week beginning", *weeks.by_species)
    return Sheet("weeks", "Boxes with eggs or young, by week", "laying", heads, rows)


def _survival(report: SeasonReport) -> Sheet:
    survival = report.survival
    each = (
        (survival.apparent, "known outcomes only"),
        (survival.success, "likelihood, eggs and young apart"),
        (survival.daily, "likelihood"),
        (survival.with_eggs, "likelihood"),
        (survival.with_young, "likelihood"),
        (survival.midpoint, "Mayfield, losses halfway"),
        (survival.forty, "Mayfield, losses at 40 %"),
    )
    rows = tuple((one.name, how, one) for one, how in each if one.estimate is not None)
    heads = ("measure", "method", "number")
    return Sheet("survival", "Survival by several methods", "survival", heads, rows)


def _losses(report: SeasonReport) -> Sheet:
    causes = report.counts.causes.items()
    rows = tuple((cause, n, report.losses.get(cause)) for cause, n in causes)
    heads = ("cause", "nests lost", "daily rate of loss")
    return Sheet("losses", "Losses by cause", "losses", heads, rows)


def _groups(report: SeasonReport) -> tuple[Sheet, ...]:
    groups, by, season = report.groups, report.groups.by, report.season
    of_boxes = any(one.used for one in groups.season)
    numbers: Columns[GroupFacts] = {
        by: lambda one: one.group,
        **(_of(boxes_used="used", young_per_box="per_box") if of_boxes else {}),
        **_of(young_per_nest="per_attempt", apparent_success="apparent"),
        "daily survival": lambda one: one.losses.survival if one.losses else None,
    }
    every: Columns[GroupLosses] = {
        by: lambda one: one.group,
        "nests watched": lambda one: one.nests,
        "days watched": lambda one: round(one.nest_days),
        "nests lost": lambda one: one.losses,
        "daily survival": lambda one: one.survival,
        "first egg to fledging": lambda one: groups.success[one.group],
    }
    by_group = _sheet(
        "groups", f"Nests by {by}, {season}", "groups", groups.season, _counts(by, "group")
    )
    return (
        _marked(by_group, [one.counts.attempts for one in groups.season]),
        _sheet(
            "group-numbers", f"Use and success by {by}, {season}", "groups", groups.season, numbers
        ),
        _marked(
            _sheet(
                "groups-all-seasons",
                f"Survival by {by}, all seasons up to {season}",
                "groups",
                groups.all_years.groups,
                every,
            ),
            [one.nests for one in groups.all_years.groups],
        ),
    )


def _predictions(report: SeasonReport) -> Sheet:
    rows = tuple(
        (of.term, one.value, of.nests, one.with_eggs, one.with_young, one.success)
        for of in report.predictions
        for one in of.each
    )
    heads = (
        "depends on",
        "with",
        "nests in the model",
        "daily survival with eggs",
        "daily survival with young",
        "first egg to fledging",
    )
    title = f"Survival by models of the stage and one term more, all seasons up to {report.season}"
    return Sheet("predictions", title, "groups", heads, rows)


def _terms(line: ModelLine) -> str:
    return " + ".join(line.fit.terms) or "one rate for all"


def _models(report: SeasonReport) -> tuple[Sheet, ...]:
    lines = report.models.lines if report.models else ()
    columns: Columns[ModelLine] = {
        "daily survival depends on": _terms,
        "coefficients": lambda line: len(line.fit.coefficients),
        "AICc": lambda line: line.fit.aicc,
        "more than the best": lambda line: line.delta,
        "weight": lambda line: line.weight,
        "nests": lambda line: line.fit.nests,
        "nests lost": lambda line: line.fit.losses,
    }
    models = _sheet("models", "Models of daily survival, all seasons", "methods", lines, columns)
    if not lines:
        return (models,)
    best = lines[0]
    rows = tuple(
        (one.name, one.estimate, one.standard_error, one.low, one.high)
        if one.estimable
        else (one.name, None, None, None, None)
        for one in best.fit.coefficients
    )
    title = f"Coefficients of the best model ({_terms(best)}), on the logit of daily survival"
    heads = ("coefficient", "estimate", "standard error", "low", "high")
    return models, Sheet("coefficients", title, "methods", heads, rows)


def _years(report: SeasonReport) -> tuple[Sheet, ...]:
    years = report.years.each
    season: dict[str, Callable[[YearFacts], Cell]] = {"season": lambda one: str(one.season)}
    numbers: Columns[YearFacts] = season | _of(
        boxes_used="used",
        apparent_success="apparent",
        nest_success="success",
        young_fledged="young",
        young_per_nest="per_attempt",
        young_per_box="per_box",
        half_of_first_eggs_by="first_eggs.median",
    )
    counts: Columns[YearFacts] = {**_counts("season", "season"), **season}
    title = "Use and success by season"
    own: Columns[OwnPeriodFacts] = {
        **_of(species="species", period="period", mean_days="mean_days", nests="nests"),
        **_of(guide_least="guide_low", guide_most="guide_high"),
    }
    return (
        _marked(
            _sheet("years", "Nests by season", "years", years, counts),
            [one.counts.attempts for one in years],
        ),
        _sheet("year-numbers", title, "years", years, numbers),
        _sheet("own-periods", "The trail's own periods", "years", report.years.own_periods, own),
    )


def _boxes(report: SeasonReport) -> Sheet:
    def lost_to(one: BoxResult) -> str:
        causes = (f"{cause} {n}" for cause, n in one.losses.items() if cause != TAKEN_OUT)
        return ", ".join(causes)

    columns: Columns[BoxResult] = {
        "box": lambda one: one.box,
        **{head: attrgetter(column) for head, column in _OUTCOMES.items()},
        "lost": lambda one: one.failed - one.losses.get(TAKEN_OUT, 0),
        "taken out": lambda one: one.losses.get(TAKEN_OUT, 0),
        "lost to": lost_to,
    }
    return _sheet("boxes", "Box by box", "boxes", report.boxes, columns)


def _left_out(report: SeasonReport) -> Sheet:
    """A row for each attempt and reason, with the measures that leave it out for that reason."""
    measures: dict[tuple[str, int, str], list[str]] = {}
    for measure, each in report.left_out.items():
        for one in each:
            measures.setdefault((one.box, one.attempt, one.reason), []).append(measure)
    rows = tuple((*key, ", ".join(names)) for key, names in sorted(measures.items()))
    heads = ("box", "attempt", "reason", "does not count for")
    return Sheet("left-out", "Attempts left out, and why", "methods", heads, rows)
