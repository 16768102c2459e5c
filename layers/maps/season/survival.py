"""Daily survival with its interval, by group: the season filled, all seasons hollow."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from layers.maps.season.look import INK, LINE, drawing, svg_of, titled, wrapped
from layers.maps.season.plots import Ground
from layers.maps.symbols import OKABE_ITO
from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.report import FEW_MARK, FEW_NOTE, SeasonReport, is_few
from layers.nesting.season.result import Interval, Measure

_ROW_INCHES = 0.42
_SEASON: dict[str, Any] = {"marker": "o", "markerfacecolor": OKABE_ITO["blue"], "linestyle": "-"}
_ALL: dict[str, Any] = {"marker": "s", "markerfacecolor": "white", "linestyle": (0, (3, 2))}

Row = tuple[str, Measure | None, Measure | None]


def draw(report: SeasonReport, ground: Ground, *, title: str, alt: str, width_in: float) -> str:
    rows = list(_rows(report))
    left = _left_end(rows)
    room = (1 - left) * 0.18
    with drawing():
        figure = Figure((width_in, 1.4 + _ROW_INCHES * len(rows)), layout="constrained")
        axes = figure.subplots()
        axes.set_xlim(left, 1 + room)
        for place, (_, season, every) in enumerate(rows):
            y = len(rows) - 1 - place
            for measure, shift, look in (
                (season, 0.14 if every else 0.0, _SEASON),
                (every, -0.14, _ALL),
            ):
                if measure is not None and measure.estimate is not None:
                    _point(axes, measure.estimate, measure.interval, y + shift, look)
                    text = f"n {measure.n}{FEW_MARK if is_few(measure) else ''}"
                    axes.text(1 + room * 0.25, y + shift, text, va="center", fontsize=7.5)
        axes.plot([], [], color=INK, label=str(report.season), **_SEASON)
        axes.plot([], [], color=INK, label=f"all seasons up to {report.season}", **_ALL)
        axes.axhline(len(rows) - _above(report) - 0.5, color=LINE)
        axes.set_yticks(range(len(rows)), [name for name, *_ in reversed(rows)])
        axes.tick_params(axis="y", length=0, pad=8)
        axes.set_ylim(-0.6, len(rows) - 0.4)
        axes.set_xticks([tick for tick in axes.get_xticks() if left <= tick <= 1.0001])
        axes.grid(axis="x")
        label = (
            "chance to live through one day, with 95 % interval; n nests watched\n"
            f"an arrow: it goes on to the left\n{FEW_NOTE}"
        )
        axes.set_xlabel(wrapped(label, width_in - 1.5))
        figure.legend(loc="outside lower center", ncols=2, fontsize=8)
        titled(axes, title, width_in)
        return svg_of(figure, title=title, alt=alt)


def _above(report: SeasonReport) -> int:
    survival = report.survival
    each = (survival.daily, survival.with_eggs, survival.with_young)
    return sum(one.estimate is not None for one in each)


def _rows(report: SeasonReport) -> Iterator[Row]:
    """Name, measure of the season, measure of all seasons; the whole trail first."""
    survival = report.survival
    for name, measure in (
        ("all nests", survival.daily),
        ("with eggs", survival.with_eggs),
        ("with young", survival.with_young),
    ):
        if measure.estimate is not None:
            yield name, measure, None
    all_seasons = {one.group: one.survival for one in report.groups.all_years.groups}
    for one in report.groups.season:
        season = one.losses.survival if one.losses else None
        if one.group in all_seasons:
            yield one.group, season, all_seasons[one.group]


def _left_end(rows: list[Row]) -> float:
    """So far left that every group with enough nests is seen whole; the others may run out."""
    every = [measure for _, *both in rows for measure in both if measure is not None]
    ends = [
        measure.interval.low
        for measure in every
        if measure.interval is not None and measure.n >= ENOUGH_NESTS
    ]
    if not ends:
        ends = [measure.estimate for measure in every[:1] if measure.estimate is not None]
        ends = [end - 0.04 for end in ends]
    return max(min(min(ends) - 0.003, 0.985), 0.0)


def _point(
    axes: Axes, estimate: float, interval: Interval | None, y: float, look: dict[str, Any]
) -> None:
    left = axes.get_xlim()[0]
    if interval is not None:
        low = max(interval.low, left)
        axes.plot([low, interval.high], [y, y], color=INK, linestyle=look["linestyle"], lw=1.2)
        if interval.low < left:
            axes.plot(left, y, "<", color=INK, markersize=5, clip_on=False)
    if estimate >= left:
        axes.plot(estimate, y, color=INK, **look)
