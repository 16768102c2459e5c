"""The season's report, the same for the command, the page and the call."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from layers.maps.season import Plot, drawn, plots
from layers.nesting.season.report import (
    GROUPINGS,
    Passage,
    SeasonReport,
    Sheet,
    passages,
    report_record,
    season_report,
    sheets,
)
from layers.trail.settings import season_of
from server.live.contents import Contents

BY = "section"
"""What nests are grouped by unless chosen otherwise."""

MOST_ROWS = 250
"""Rows of a table that a page shows; its file has them all."""

_PARTS = {
    "first": "In numbers",
    "laying": "Laying",
    "survival": "Survival",
    "losses": "Losses",
    "groups": "Groups",
    "years": "Seasons",
    "boxes": "Boxes",
}
"""Parts of the report behind its text -> heading; what belongs to none is the appendix's."""


@dataclass(frozen=True)
class ReportQuery:
    """Which report: a season, the species by its common name or all, and the grouping."""

    season: int
    species: str | None
    by: str


@dataclass(frozen=True)
class Part:
    """The plots and tables under one heading, each with the address it is found at; a plot has
    one more, for phones.
    """

    heading: str
    plots: tuple[tuple[Plot, str, str], ...]
    sheets: tuple[tuple[Sheet, str], ...]


@dataclass(frozen=True)
class Shown:
    """A report laid out: text, then parts, then the appendix with its methods."""

    report: SeasonReport
    passages: tuple[Passage, ...]
    parts: tuple[Part, ...]
    appendix: Part
    methods: dict[str, Any]


def requested_season(
    contents: Contents, *, year: int | None, species: str, by: str, today: date
) -> ReportQuery:
    """The query in full; `species` is empty for all of them.

    Where no year is named it is the season of today, or the last one with visits.

    Raises
    ------
    BadValue
        The guide has no such species.
    """
    if year is None:
        year = season_of(today, contents.settings.season_starts)
        seasons = contents.histories.seasons()
        if seasons and year not in seasons:
            year = max((one for one in seasons if one < year), default=seasons[0])
    common = contents.guide.find(species).common if species else None
    return ReportQuery(year, common, by)


def report_of(contents: Contents, query: ReportQuery, *, today: date) -> SeasonReport:
    """The report, worked out once while the trail stays as it is."""
    return contents.once(
        ("season", query, today),
        lambda: season_report(
            contents.histories,
            contents.dates(),
            season=query.season,
            on=today,
            boxes=contents.ground.boxes,
            service=contents.service,
            timeline=contents.timeline(query.season, today),
            settings=contents.settings,
            species=query.species,
            by=query.by,
        ),
    )


def record_of(contents: Contents, query: ReportQuery, *, today: date) -> dict[str, Any]:
    """The report as plain values."""
    return report_record(report_of(contents, query, today=today))


def plot_of(contents: Contents, query: ReportQuery, name: str, *, today: date, narrow: bool) -> str:
    """One plot of the report as SVG; `NotKnown` if it has none of that name."""
    return contents.once(
        ("season plot", query, name, today, narrow),
        lambda: drawn(
            name, report_of(contents, query, today=today), contents.ground, narrow=narrow
        ),
    )


def shown(
    contents: Contents,
    report: SeasonReport,
    *,
    plot_at: Callable[[Plot, bool], str],
    sheet_at: Callable[[Sheet], str],
) -> Shown:
    """The report laid out, with addresses for its plots, wide and narrow, and its tables' files."""
    own_plots = [
        (plot, plot_at(plot, False), plot_at(plot, True)) for plot in plots(report, contents.ground)
    ]
    own_sheets = [(sheet, sheet_at(sheet)) for sheet in sheets(report)]

    def part(name: str, heading: str) -> Part:
        return Part(
            heading,
            tuple(each for each in own_plots if each[0].passage == name),
            tuple(pair for pair in own_sheets if pair[0].passage == name),
        )

    parts = [part(name, heading) for name, heading in _PARTS.items()]
    return Shown(
        report=report,
        passages=passages(report),
        parts=tuple(one for one in parts if one.plots or one.sheets),
        appendix=part("methods", "Appendix: how it was worked out"),
        methods=report_record(report)["methods"],
    )


def choices(contents: Contents, query: ReportQuery) -> dict[str, Any]:
    """What a form offers: seasons, the last first; species met here; groupings."""
    seasons = sorted({*contents.histories.seasons(), query.season}, reverse=True)
    met = contents.histories.visits.species_names
    # What a desktop GIS wrote and the guide does not have cannot be chosen.
    names = {name for name in met if contents.guide.get(name) is not None}
    names |= {query.species} if query.species else set()
    return {"seasons": seasons, "species": sorted(names), "groupings": list(GROUPINGS)}
