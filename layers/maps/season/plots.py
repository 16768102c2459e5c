"""Which plots a report has, what each shows in words, and the way to draw one.

The library that draws takes half a second to load, so the modules that use it are loaded
when a plot is drawn.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import geopandas as gpd

from layers.errors import NotKnown
from layers.nesting.season.doubts import format_cases
from layers.nesting.season.report import SeasonReport
from layers.nesting.season.result import Measure, format_value
from layers.words import format_day

MOST_MAPPED = 1500
"""Boxes beyond which those on one page cover each other."""


class Ground(Protocol):
    """Boxes, paths and zones, as the trail's frames."""

    @property
    def boxes(self) -> gpd.GeoDataFrame: ...

    @property
    def paths(self) -> gpd.GeoDataFrame: ...

    @property
    def zones(self) -> gpd.GeoDataFrame: ...


@dataclass(frozen=True)
class Plot:
    """One plot: `passage` is the part of the report that it belongs to, `alt` what it shows."""

    name: str
    title: str
    passage: str
    alt: str


def plots(report: SeasonReport, ground: Ground) -> tuple[Plot, ...]:
    """The plots that there is something to draw for."""
    return tuple(_plots(report, ground))


def drawn(name: str, report: SeasonReport, ground: Ground, *, narrow: bool = False) -> str:
    """One plot as SVG text, as wide as a page or, where `narrow`, as a phone.

    Raises
    ------
    NotKnown
        The report has no plot of that name, or nothing to draw in it.
    """
    own = {plot.name: plot for plot in plots(report, ground)}
    if name not in own:
        having = ", ".join(own) or "none at all"
        raise NotKnown(f"Expected a plot of season {report.season} ({having}), got {name!r}")
    module = importlib.import_module(f"layers.maps.season.{name}")
    look = importlib.import_module("layers.maps.season.look")
    plot, width_in = own[name], look.NARROW_IN if narrow else look.WIDTH_IN
    svg: str = module.draw(report, ground, title=plot.title, alt=plot.alt, width_in=width_in)
    return svg


def _plots(report: SeasonReport, ground: Ground) -> Iterator[Plot]:
    season = report.season
    if report.weeks.days:
        most, when = max(zip(report.weeks.in_use, report.weeks.days, strict=True))
        yield Plot(
            "weeks",
            f"Boxes with eggs or young, week by week, {season}",
            "laying",
            f"Bars by week and species. Most boxes at once: {most}, about {format_day(when)}.",
        )
    if report.each_species:
        halves = [
            f"{one.species} {format_day(eggs.median)} ({format_cases(eggs.n, 'nests')})"
            for one in report.each_species
            for brood, eggs in one.first_eggs.items()
            if brood == "first" and eggs.median is not None
        ]
        yield Plot(
            "phenology",
            f"First eggs by species, {season}",
            "laying",
            f"One ridge a species. Half of the first broods begun by: {'; '.join(halves)}.",
        )
    if report.survival.daily.estimate is not None:
        rows = [f"all nests {_with_n(report.survival.daily)}"]
        rows += [
            f"{one.group} {_with_n(one.losses.survival)}"
            for one in report.groups.season
            if one.losses
        ]
        yield Plot(
            "survival",
            f"Daily survival of nests by {report.groups.by}",
            "groups",
            f"Points with 95 % intervals, {season} and all seasons. {season}: {'; '.join(rows)}.",
        )
    if report.counts.causes:
        causes = ", ".join(f"{cause} {n}" for cause, n in report.counts.causes.items())
        yield Plot(
            "losses",
            f"What nests were lost to, {season}",
            "losses",
            f"Bars of lost nests by cause: {causes}.",
        )
    if len(report.years.each) > 1 and report.years.each[-1].season == season:
        rows = [f"{one.season}: {_with_n(one.success)}" for one in report.years.each]
        yield Plot(
            "years",
            "Seasons side by side",
            "years",
            "Boxes used, nest success and young per box of each season, with 95 % intervals. "
            f"Nest success {'; '.join(rows)}.",
        )
    if report.boxes and 0 < ground.boxes.geometry.notna().sum() <= MOST_MAPPED:
        most_young = max(report.boxes, key=lambda one: one.young_expected)
        young = round(most_young.young_expected)
        yield Plot(
            "map",
            f"Young fledged per box, {season}",
            "boxes",
            f"Map of the boxes, a larger disc for more young. Most: {young} in {most_young.box}."
            if young
            else "Map of the boxes; no young are likely to have fledged.",
        )


def _with_n(measure: Measure) -> str:
    estimate = measure.estimate
    number = "no answer" if estimate is None else format_value(estimate, measure.unit)
    return f"{number} ({format_cases(measure.n, measure.counted)})"
