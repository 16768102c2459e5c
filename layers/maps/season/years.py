"""Seasons side by side: boxes used, nest success, young per box."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.ticker import PercentFormatter

from layers.maps.season.look import INK, NARROW_IN, drawing, svg_of, wrapped
from layers.maps.season.plots import Ground
from layers.maps.symbols import OKABE_ITO
from layers.nesting.season.report import FEW_MARK, FEW_NOTE, SeasonReport, is_few
from layers.nesting.season.result import Measure

_MOST_LABELLED = 8


def draw(report: SeasonReport, ground: Ground, *, title: str, alt: str, width_in: float) -> str:
    each = report.years.each
    panels: tuple[tuple[str, list[Measure]], ...] = (
        ("boxes used", [one.used for one in each]),
        ("nest success", [one.success for one in each]),
        ("young fledged per box", [one.per_box for one in each]),
    )
    years = [one.season for one in each]
    with drawing():
        narrow = width_in <= NARROW_IN
        figure = Figure((width_in, 6.0 if narrow else 2.9), layout="constrained")
        shape = (len(panels), 1) if narrow else (1, len(panels))
        for axes, (name, measures) in zip(figure.subplots(*shape), panels, strict=True):
            for year, measure in zip(years, measures, strict=True):
                if measure.estimate is None:
                    continue
                if measure.interval is not None:
                    ends = [measure.interval.low, measure.interval.high]
                    axes.plot([year, year], ends, color=INK, linewidth=1.2)
                face = OKABE_ITO["blue"] if year == report.season else "white"
                axes.plot(year, measure.estimate, "o", color=INK, markerfacecolor=face)
                if len(years) <= _MOST_LABELLED:
                    text = f"n {measure.n}{FEW_MARK if is_few(measure) else ''}\n"
                    axes.text(year, 0, text, ha="center", va="bottom", fontsize=7)
            shares = measures[0].unit == "share"
            axes.set_ylim(0, 1 if shares else None)
            if shares:
                axes.yaxis.set_major_formatter(PercentFormatter(1, symbol=" %"))
            axes.set_xlim(years[0] - 0.6, years[-1] + 0.6)
            if len(years) <= _MOST_LABELLED:
                axes.set_xticks(years)
            axes.tick_params(axis="x", labelsize=8)
            axes.grid(axis="y")
            axes.set_title(name, loc="left")
        figure.suptitle(title, x=0.01, ha="left", fontsize=10, fontweight="bold")
        few = any(is_few(one) for _, measures in panels for one in measures)
        label = f"season ({report.season} filled), with 95 % intervals and n"
        label += f"\n{FEW_NOTE}" if few else ""
        figure.supxlabel(wrapped(label, width_in), fontsize=9)
        return svg_of(figure, title=title, alt=alt)
