"""First eggs by species as ridges: a hill for each, with a stroke for each nest."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from layers.maps.season.look import INK, dated, drawing, svg_of, titled, wrapped
from layers.maps.season.plots import Ground
from layers.maps.symbols import OKABE_ITO
from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.doubts import format_cases
from layers.nesting.season.report import FEW_MARK, FEW_NOTE, SeasonReport

SMOOTH_DAYS = 4.0
"""Standard deviation of each nest's share of a hill, beside what its own dating allows."""

ENOUGH_FOR_A_HILL = 10
"""Of fewer nests a smooth curve shows more than is known (common practice, no source)."""

_MOST_SPECIES = 12
_LOOKS = {"first": (OKABE_ITO["sky blue"], ""), "later": (OKABE_ITO["orange"], "////")}


def draw(report: SeasonReport, ground: Ground, *, title: str, alt: str, width_in: float) -> str:
    listed = report.each_species[:_MOST_SPECIES]
    broods = [
        {
            kind: [
                (day, width)
                for brood, eggs in one.first_eggs.items()
                if (brood == "first") == (kind == "first")
                for day, width in zip(eggs.days, eggs.widths, strict=True)
            ]
            for kind in _LOOKS
        }
        for one in listed
    ]
    every = [day for own in broods for nests in own.values() for day, _ in nests]
    days = np.arange(min(every) - 14, max(every) + 15)
    with drawing():
        figure = Figure((width_in, 1.2 + 0.55 * len(listed)), layout="constrained")
        axes = figure.subplots()
        for place, own in enumerate(broods):
            base = len(listed) - 1 - place
            hills = {
                kind: hill(days, nests)
                for kind, nests in own.items()
                if len(nests) >= ENOUGH_FOR_A_HILL
            }
            top = max((float(heights.max()) for heights in hills.values()), default=1.0)
            for kind, heights in hills.items():
                colour, hatch = _LOOKS[kind]
                axes.fill_between(
                    days,
                    base,
                    base + 0.85 * heights / top,
                    facecolor=colour,
                    hatch=hatch,
                    edgecolor=INK,
                    linewidth=0.8,
                    zorder=2 + place,
                    label=f"{kind} broods" if place == _first_with(broods, kind) else None,
                )
            strokes = [day for nests in own.values() for day, _ in nests]
            axes.plot(
                strokes, [base - 0.07] * len(strokes), "|", color=INK, markersize=5, zorder=99
            )
        axes.set_yticks(
            [len(listed) - 1 - place for place in range(len(listed))],
            [f"{one.species}\n{_with_n(one.counts.attempts)}" for one in listed],
            va="bottom",
        )
        axes.tick_params(axis="y", length=0)
        axes.set_ylim(-0.25, len(listed))
        axes.set_xlim(days[0], days[-1])
        dated(axes)
        axes.grid(axis="x")
        label = f"first egg; a stroke for each nest, a hill from {ENOUGH_FOR_A_HILL}\n{FEW_NOTE}"
        axes.set_xlabel(wrapped(label, width_in - 1.5))
        if axes.get_legend_handles_labels()[1]:
            axes.legend(loc="upper right", fontsize=8)
        titled(axes, title, width_in)
        return svg_of(figure, title=title, alt=alt)


def _with_n(nests: int) -> str:
    return format_cases(nests, "nests") + (FEW_MARK if nests < ENOUGH_NESTS else "")


def hill(days: NDArray[np.int64], nests: list[tuple[int, int]]) -> NDArray[np.float64]:
    """How many first eggs a day, each spread over the days that it may lie in."""
    heights = np.zeros(len(days))
    for day, width in nests:
        # A uniform window of `width` days has a variance of width**2 / 12.
        spread = np.sqrt(SMOOTH_DAYS**2 + width**2 / 12)
        heights += np.exp(-0.5 * ((days - day) / spread) ** 2) / spread
    return heights


def _first_with(broods: list[dict[str, list[tuple[int, int]]]], kind: str) -> int:
    """The place of the first species with a hill of that kind; -1 where there is none."""
    enough = (place for place, own in enumerate(broods) if len(own[kind]) >= ENOUGH_FOR_A_HILL)
    return next(enough, -1)
