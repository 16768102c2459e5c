"""Lost nests by cause, as bars."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from layers.maps.season.look import INK, drawing, svg_of, titled, wrapped
from layers.maps.season.plots import Ground
from layers.maps.symbols import OKABE_ITO
from layers.nesting.season.report import SeasonReport


def draw(report: SeasonReport, ground: Ground, *, title: str, alt: str, width_in: float) -> str:
    causes = list(report.counts.causes.items())[::-1]
    names = [name for name, _ in causes]
    numbers = [n for _, n in causes]
    with drawing():
        figure = Figure((width_in, 1.1 + 0.3 * len(causes)), layout="constrained")
        axes = figure.subplots()
        axes.barh(names, numbers, 0.65, color=OKABE_ITO["orange"], edgecolor=INK, linewidth=0.8)
        for place, n in enumerate(numbers):
            axes.text(n, place, f" {n}", va="center")
        axes.set_xlim(0, max(numbers) * 1.08)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        axes.tick_params(axis="y", length=0)
        axes.grid(axis="x")
        label = f"nests lost, of {report.counts.known} whose end is known"
        axes.set_xlabel(wrapped(label, width_in - 1.5))
        titled(axes, title, width_in)
        return svg_of(figure, title=title, alt=alt)
