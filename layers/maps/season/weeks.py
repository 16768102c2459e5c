"""Occupancy over the weeks: stacked bars by species."""

from __future__ import annotations

from collections.abc import Mapping

from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from layers.maps.season.look import FILLS, INK, NARROW_IN, dated, drawing, svg_of, titled
from layers.maps.season.plots import Ground
from layers.nesting.season.report import SeasonReport
from layers.trail.coding import day_number


def draw(report: SeasonReport, ground: Ground, *, title: str, alt: str, width_in: float) -> str:
    with drawing():
        narrow = width_in <= NARROW_IN
        figure = Figure((width_in, 4.2 if narrow else 3.2), layout="constrained")
        axes = figure.subplots()
        days = [day_number(day) for day in report.weeks.days]
        below = [0] * len(days)
        for (name, numbers), (colour, hatch) in zip(
            shortened(report.weeks.by_species).items(), FILLS, strict=False
        ):
            axes.bar(
                days,
                numbers,
                6,
                below,
                color=colour,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.6,
                label=name,
            )
            below = [low + n for low, n in zip(below, numbers, strict=True)]
        dated(axes)
        axes.set_xlabel("week beginning")
        axes.set_ylabel("boxes with eggs or young")
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
        axes.grid(axis="y")
        if narrow:
            figure.legend(loc="outside lower center", ncols=2, fontsize=8)
        else:
            axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), reverse=True, fontsize=8)
        titled(axes, title, width_in)
        return svg_of(figure, title=title, alt=alt)


def shortened(by_species: Mapping[str, tuple[int, ...]]) -> dict[str, tuple[int, ...]]:
    """As many species as there are looks; the rest together, as the last."""
    if len(by_species) <= len(FILLS):
        return dict(by_species)
    names = list(by_species)
    own = {name: by_species[name] for name in names[: len(FILLS) - 1]}
    rest = [by_species[name] for name in names[len(FILLS) - 1 :]]
    return own | {"other species": tuple(map(sum, zip(*rest, strict=True)))}
