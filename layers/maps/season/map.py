"""A map of young fledged per box. It shows exact places: never for the public."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from layers.maps.season.look import INK, LINE, SOFT, drawing, svg_of, titled
from layers.maps.season.plots import Ground
from layers.maps.symbols import OKABE_ITO
from layers.nesting.season.box_results import BoxResult
from layers.nesting.season.report import SeasonReport

# Mean length of a degree of latitude on WGS84, in metres: good to half a per cent, for the
# scale bar of a map a few kilometres wide.
_M_A_DEGREE = 111_195

_MOST_LABELLED = 120
"""Boxes beyond which their ids would cover each other."""

_LEAST_HALF_DEGREES = 0.0005
"""So that one box alone has some ground around it."""


def draw(report: SeasonReport, ground: Ground, *, title: str, alt: str, width_in: float) -> str:
    placed = ground.boxes[ground.boxes.geometry.notna()]
    results = {one.box: one for one in report.boxes}
    lon, lat = placed.geometry.x.to_numpy(), placed.geometry.y.to_numpy()
    middle_lon, middle_lat = (lon.min() + lon.max()) / 2, (lat.min() + lat.max()) / 2
    squeeze = math.cos(math.radians(middle_lat))
    half_lat = max((lat.max() - lat.min()) / 2 * 1.15, _LEAST_HALF_DEGREES)
    half_lon = max((lon.max() - lon.min()) / 2 * 1.12, _LEAST_HALF_DEGREES)
    shape = min(max(half_lat / (half_lon * squeeze), 0.45), 1.25)
    with drawing():
        figure = Figure((width_in, width_in * shape + 0.7), layout="constrained")
        axes = figure.subplots()
        for zone in ground.zones.geometry.dropna().explode():
            axes.fill(
                *np.array(zone.exterior.coords)[:, :2].T,
                facecolor="#f1eee4",
                edgecolor=LINE,
                linewidth=0.6,
            )
        for path in ground.paths.geometry.dropna().explode():
            axes.plot(
                *np.array(path.coords)[:, :2].T,
                color="#a59d86",
                linewidth=0.9,
                linestyle=(0, (4, 2)),
            )
        for box, x, y in zip(placed["box"], lon, lat, strict=True):
            _box(axes, x, y, results.get(box))
        if len(placed) <= _MOST_LABELLED:
            _label(axes, placed["box"], np.column_stack([lon, lat]), near=half_lon * 0.06)
        axes.set_xlim(middle_lon - half_lon, middle_lon + half_lon)
        axes.set_ylim(middle_lat - half_lat, middle_lat + half_lat)
        axes.set_aspect(1 / squeeze)
        axes.set_xticks([])
        axes.set_yticks([])
        _scale(axes, squeeze)
        axes.set_xlabel(
            "number: young likely to have fledged; small ring: none\n"
            "North is up. Dashed: paths. Shaded: zones."
        )
        titled(axes, title, width_in)
        return svg_of(figure, title=title, alt=alt)


def _box(axes: Axes, x: float, y: float, result: BoxResult | None) -> None:
    young = 0 if result is None else round(result.young_expected)
    if young == 0:
        axes.plot(x, y, "o", color=INK, markerfacecolor="white", markersize=4)
    else:
        # The area of a disc shows the number.
        axes.plot(
            x,
            y,
            "o",
            color=INK,
            markerfacecolor=OKABE_ITO["sky blue"],
            markersize=min(5 + 2.6 * math.sqrt(young), 26),
        )
        axes.text(x, y, str(young), ha="center", va="center_baseline", fontsize=7)


def _label(axes: Axes, boxes: Iterable[str], places: NDArray[np.float64], *, near: float) -> None:
    """The id of each box beneath it; above it where a box close by has its own beneath."""
    for at, box in enumerate(boxes):
        beside = np.abs(places[:at] - places[at]).max(axis=1) < near
        above = bool(beside.any())
        axes.annotate(
            box,
            places[at],
            (0, 9 if above else -9),
            textcoords="offset points",
            ha="center",
            va="bottom" if above else "top",
            fontsize=5.5,
            color=SOFT,
        )


def _scale(axes: Axes, squeeze: float) -> None:
    """A bar of a round number of metres, about a fifth of the map wide."""
    left, right = axes.get_xlim()
    bottom, top = axes.get_ylim()
    wanted_m = (right - left) * squeeze * _M_A_DEGREE / 5
    power = 10 ** math.floor(math.log10(wanted_m))
    length_m = max(step * power for step in (1, 2, 5) if step * power <= wanted_m)
    long = length_m / (_M_A_DEGREE * squeeze)
    x, y = left + (right - left) * 0.03, bottom + (top - bottom) * 0.03
    axes.plot([x, x + long], [y, y], color=INK, linewidth=2.5, solid_capstyle="butt")
    text = f"{length_m:.0f} m" if length_m < 1000 else f"{length_m / 1000:.0f} km"
    axes.text(
        x + long / 2, y + (top - bottom) * 0.008, text, ha="center", va="bottom", fontsize=7.5
    )
