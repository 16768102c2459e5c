"""The tables of a report. A cell holds a value, a day, a measure or nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from layers.nesting import attempt_columns as c
from layers.nesting.season.box_results import BoxResult
from layers.nesting.season.doubts import said_number
from layers.nesting.season.models import ModelLine
from layers.nesting.season.report.facts import Counts, SeasonReport
from layers.nesting.season.result import Measure, said
from layers.trail.words import CAUSES

Cell = str | int | float | date | Measure | None


@dataclass(frozen=True)
class Sheet:
    """One table; `passage` is the part of the report that it belongs to."""

    name: str
    title: str
    passage: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


NOT_KNOWN = "not known"
TAKEN_OUT = CAUSES[c.NEST_REMOVED]

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for a formula where it begins a cell."""

_COUNTS = ("nests", "fledged", "lost", "end not known", "going on", "taken out", "young fledged")


def _counts(counts: Counts) -> tuple[Cell, ...]:
    return (
        counts.attempts,
        counts.fledged,
        counts.failed,
        counts.unknown,
        counts.ongoing,
        counts.taken_out,
        counts.young_fledged,
    )


def sheets(report: SeasonReport) -> tuple[Sheet, ...]:
    """Every table of a report that has a row; none where nobody visited a box."""
    if report.last_visit is None:
        return ()
    every = (
        _measures(report),
        _species(report),
        _species_numbers(report),
        _first_eggs(report),
        _weeks(report),
        _survival(report),
        _losses(report),
        _groups(report),
        _group_numbers(report),
        _all_years(report),
        _predictions(report),
        _models(report),
        _coefficients(report),
        _years(report),
        _year_numbers(report),
        _boxes(report),
        _left_out(report),
    )
    return tuple(sheet for sheet in every if sheet.rows)


def _measures(report: SeasonReport) -> Sheet:
    each = [
        report.use.used,
        report.survival.apparent,
        report.survival.success,
        report.hatching,
        report.per_attempt,
        report.per_box,
    ]
    return Sheet(
        "measures",
        "The season in numbers",
        "first",
        ("what", "number"),
        tuple((measure.name, measure) for measure in each if measure.estimate is not None),
    )


def _species(report: SeasonReport) -> Sheet:
    rows = [(one.species, *_counts(one.counts)) for one in report.each_species]
    return Sheet("species", "Nests by species", "first", ("species", *_COUNTS), tuple(rows))


def _species_numbers(report: SeasonReport) -> Sheet:
    heads = (
        "species",
        "boxes used",
        "clutch size",
        "hatching success",
        "brood size",
        "young per nest",
        "apparent success",
    )
    rows = [
        (
            one.species,
            one.used,
            one.clutch,
            one.hatching,
            one.brood,
            one.per_attempt,
            one.apparent,
        )
        for one in report.each_species
    ]
    return Sheet("species-numbers", "Eggs and young by species", "first", heads, tuple(rows))


def _first_eggs(report: SeasonReport) -> Sheet:
    heads = ("species", "brood", "nests", "earliest", "first quarter", "half", "three quarters")
    rows = [
        (
            one.species,
            brood,
            eggs.n,
            eggs.earliest,
            eggs.lower_quartile,
            eggs.median,
            eggs.upper_quartile,
        )
        for one in report.each_species
        for brood, eggs in one.first_eggs.items()
    ]
    return Sheet("first-eggs", "First eggs", "laying", heads, tuple(rows))


def _weeks(report: SeasonReport) -> Sheet:
    weeks = report.weeks
    numbers = list(zip(*weeks.by_species.values(), strict=True))
    return Sheet(
        "weeks",
        "Boxes with eggs or young, by week",
        "laying",
        ("on", *weeks.by_species),
        tuple((day, *row) for day, row in zip(weeks.days, numbers, strict=True)),
    )


def _survival(report: SeasonReport) -> Sheet:
    survival = report.survival
    each = (
        (survival.apparent, "known ends only"),
        (survival.success, "likelihood, eggs and young apart"),
        (survival.daily, "likelihood"),
        (survival.with_eggs, "likelihood"),
        (survival.with_young, "likelihood"),
        (survival.midpoint, "Mayfield, losses halfway"),
        (survival.forty, "Mayfield, losses at 40 %"),
    )
    return Sheet(
        "survival",
        "Survival by several methods",
        "survival",
        ("what", "method", "number"),
        tuple((one.name, how, one) for one, how in each if one.estimate is not None),
    )


def _losses(report: SeasonReport) -> Sheet:
    return Sheet(
        "losses",
        "Losses by cause",
        "losses",
        ("cause", "nests lost", "daily rate of loss"),
        tuple((cause, n, report.losses.get(cause)) for cause, n in report.counts.causes.items()),
    )


def _groups(report: SeasonReport) -> Sheet:
    groups = report.groups
    rows = [(one.group, *_counts(one.counts)) for one in groups.season]
    title = f"Nests by {groups.by}, {report.season}"
    return Sheet("groups", title, "groups", (groups.by, *_COUNTS), tuple(rows))


def _group_numbers(report: SeasonReport) -> Sheet:
    groups = report.groups
    of_boxes = ("boxes used", "young per box") if any(one.used for one in groups.season) else ()
    heads = (groups.by, *of_boxes, "young per nest", "apparent success", "daily survival")
    rows = [
        (
            one.group,
            *((one.used, one.per_box) if of_boxes else ()),
            one.per_attempt,
            one.apparent,
            one.losses.survival if one.losses else None,
        )
        for one in groups.season
    ]
    title = f"Use and success by {groups.by}, {report.season}"
    return Sheet("group-numbers", title, "groups", heads, tuple(rows))


def _all_years(report: SeasonReport) -> Sheet:
    rows = [
        (
            one.group,
            one.nests,
            round(one.nest_days),
            sum(int(rate.parts["losses"]) for rate in one.by_cause.values()),
            one.survival,
            report.groups.success[one.group],
        )
        for one in report.groups.all_years.groups
    ]
    return Sheet(
        "groups-all-seasons",
        f"Survival by {report.groups.by}, all seasons up to {report.season}",
        "groups",
        (
            report.groups.by,
            "nests watched",
            "days watched",
            "nests lost",
            "daily survival",
            "first egg to fledging",
        ),
        tuple(rows),
    )


def _predictions(report: SeasonReport) -> Sheet:
    rows = [
        (of.term, one.value, one.with_eggs, one.with_young, one.success)
        for of in report.predictions
        for one in of.each
    ]
    return Sheet(
        "predictions",
        f"Survival by models of the stage and one thing more, all seasons up to {report.season}",
        "groups",
        (
            "depends on",
            "with",
            "daily survival with eggs",
            "daily survival with young",
            "first egg to fledging",
        ),
        tuple(rows),
    )


def _terms(line: ModelLine) -> str:
    return " + ".join(line.fit.terms) or "one rate for all"


def _models(report: SeasonReport) -> Sheet:
    lines = report.models.lines if report.models else ()
    heads = (
        "daily survival depends on",
        "coefficients",
        "AICc",
        "more than the best",
        "weight",
        "nests",
        "nests lost",
    )
    rows = [
        (
            _terms(line),
            len(line.fit.coefficients),
            line.fit.aicc,
            line.delta,
            line.weight,
            line.fit.nests,
            line.fit.losses,
        )
        for line in lines
    ]
    return Sheet("models", "Models of daily survival, all seasons", "methods", heads, tuple(rows))


def _coefficients(report: SeasonReport) -> Sheet:
    line = report.models.lines[0] if report.models and report.models.lines else None
    rows: tuple[tuple[Cell, ...], ...] = ()
    title = "Coefficients of the best model"
    if line is not None:
        title = f"Coefficients of the best model ({_terms(line)}), on the logit of daily survival"
        rows = tuple(
            (one.name, one.estimate, one.standard_error, one.low, one.high)
            if one.estimable
            else (one.name, None, None, None, None)
            for one in line.fit.coefficients
        )
    heads = ("coefficient", "estimate", "standard error", "low", "high")
    return Sheet("coefficients", title, "methods", heads, rows)


def _years(report: SeasonReport) -> Sheet:
    rows = [(str(one.season), *_counts(one.counts)) for one in report.years.each]
    return Sheet("years", "Nests by season", "years", ("season", *_COUNTS), tuple(rows))


def _year_numbers(report: SeasonReport) -> Sheet:
    heads = (
        "season",
        "boxes used",
        "apparent success",
        "nest success",
        "young per nest",
        "young per box",
        "half of first eggs by",
    )
    rows = [
        (
            str(one.season),
            one.used,
            one.apparent,
            one.success,
            one.per_attempt,
            one.per_box,
            one.first_eggs.median,
        )
        for one in report.years.each
    ]
    return Sheet("year-numbers", "Use and success by season", "years", heads, tuple(rows))


def _boxes(report: SeasonReport) -> Sheet:
    heads = ("box", *_COUNTS, "lost to")
    return Sheet("boxes", "Box by box", "boxes", heads, tuple(map(_box, report.boxes)))


def _box(one: BoxResult) -> tuple[Cell, ...]:
    lost = {cause: n for cause, n in one.losses.items() if cause != TAKEN_OUT}
    taken_out = one.losses.get(TAKEN_OUT, 0)
    return (
        one.box,
        one.attempts,
        one.fledged,
        one.failed - taken_out,
        one.unknown,
        one.ongoing,
        taken_out,
        one.young_fledged,
        ", ".join(f"{cause} {n}" for cause, n in lost.items()),
    )


def _left_out(report: SeasonReport) -> Sheet:
    """A row for each attempt and reason, with the measures that leave it out for that reason."""
    measures: dict[tuple[str, int, str], list[str]] = {}
    for measure, each in report.left_out.items():
        for one in each:
            measures.setdefault((one.box, one.attempt, one.reason), []).append(measure)
    rows = [
        (box, attempt, reason, ", ".join(names))
        for (box, attempt, reason), names in sorted(measures.items())
    ]
    heads = ("box", "attempt", "because", "does not count for")
    return Sheet("left-out", "Attempts left out, and why", "methods", heads, tuple(rows))


def shown(cell: Cell) -> str:
    """A cell as people read it; a measure never without its n."""
    if cell is None:
        return NOT_KNOWN
    if isinstance(cell, date):
        return f"{cell.day} {cell:%B}"
    if isinstance(cell, float):
        return f"{cell:.3f}"
    if not isinstance(cell, Measure):
        return str(cell)
    if cell.estimate is None:
        return f"no answer ({said_number(cell.n, cell.counted)})"
    text = said(cell.estimate, cell.unit)
    if cell.interval is not None:
        low, high = said(cell.interval.low, cell.unit), said(cell.interval.high, cell.unit)
        text += f" ({low} to {high})"
    return f"{text}, n {cell.n}"


def as_csv(sheet: Sheet) -> str:
    """A table as comma-separated text: a measure takes columns for its number, interval and n.

    A person's word that a spreadsheet would take for a formula gets an apostrophe in front.
    """
    wide = [
        any(isinstance(row[at], Measure) for row in sheet.rows) for at in range(len(sheet.heads))
    ]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_spread(sheet.heads, wide))
    writer.writerows(
        [value for cell, own in zip(row, wide, strict=True) for value in _values(cell, wide=own)]
        for row in sheet.rows
    )
    return text.getvalue()


def _spread(heads: Sequence[str], wide: Iterable[bool]) -> list[str]:
    spread = []
    for head, own in zip(heads, wide, strict=True):
        spread += [head, f"{head}, low", f"{head}, high", f"{head}, n"] if own else [head]
    return spread


def _values(cell: Cell, *, wide: bool) -> list[str | int | float | None]:
    if isinstance(cell, Measure):
        low, high = (cell.interval.low, cell.interval.high) if cell.interval else (None, None)
        return [cell.estimate, low, high, cell.n]
    value = cell.isoformat() if isinstance(cell, date) else cell
    if isinstance(value, str) and value.startswith(_FORMULA):
        value = f"'{value}"
    return [value, None, None, None] if wide else [value]
