"""The common look of the report's plots, and the way from a figure to SVG.

Each series differs by hatch, marker or line as well as by colour, so that a copy in grey
can be read. Letters become outlines: no font is needed where the plot is shown.
"""

from __future__ import annotations

import io
import textwrap
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from html import escape
from typing import Any

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from layers.maps.symbols import OKABE_ITO, WHITE
from layers.trail.coding import day_number, day_of

WIDTH_IN = 7.1
"""The width of text on an A4 or Letter page between the report's margins."""

NARROW_IN = 4.7
"""Shown on a phone of 390 CSS pixels, letters are then about as large as drawn."""

INK, SOFT, LINE = "#1d2a26", "#4c5a54", "#cfc8b6"

FILLS: tuple[tuple[str, str], ...] = (
    (OKABE_ITO["blue"], ""),
    (OKABE_ITO["orange"], "////"),
    (WHITE, "\\\\\\\\"),
    (OKABE_ITO["sky blue"], "+++"),
    (OKABE_ITO["yellow"], "||||"),
    (OKABE_ITO["reddish purple"], "xxxx"),
    (WHITE, "----"),
)
"""Colour and hatch of each series in turn; the last is for all that remain."""

_LOOK: dict[Any, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 9,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.titlesize": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "grid.color": LINE,
    "grid.linewidth": 0.6,
    "hatch.linewidth": 0.6,
    "legend.frameon": False,
    "legend.handleheight": 1.2,
    "text.color": INK,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    # Names are a person's own words, no formulas.
    "text.parse_math": False,
    "svg.fonttype": "path",
    # The same report gives the same file.
    "svg.hashsalt": "boxround",
}

# The drawing library keeps its settings for the whole process.
_drawing = threading.Lock()


@contextmanager
def drawing() -> Iterator[None]:
    """Within this, figures are made and written in the common look, one at a time."""
    with _drawing, rc_context(_LOOK):
        yield


def svg_of(figure: Figure, *, title: str, alt: str) -> str:
    """A figure as SVG text with its title and a description. Call within `drawing`."""
    written = io.StringIO()
    figure.savefig(written, format="svg", metadata={"Date": None, "Creator": None})
    _, _, drawn = written.getvalue().partition("<svg ")
    attributes, _, content = drawn.partition(">")
    return (
        f'<svg role="img" aria-labelledby="title described" {attributes}>'
        f'<title id="title">{escape(title)}</title><desc id="described">{escape(alt)}</desc>'
        f"{content}"
    )


def dated(axes: Axes) -> None:
    """The first of each month along an axis of days since 1970-01-01."""
    low, high = (day_of(int(end)) for end in axes.get_xlim())
    months = range(low.year * 12 + low.month, high.year * 12 + high.month)
    starts = [date(month // 12, month % 12 + 1, 1) for month in months]
    axes.set_xticks([day_number(day) for day in starts], [f"1 {day:%b}" for day in starts])


def titled(axes: Axes, title: str, width_in: float) -> None:
    """A plot's title, at its left."""
    text = wrapped(title, width_in - 1)
    axes.set_title(text, loc="left", fontweight="bold", fontsize=10, pad=8)


def wrapped(text: str, width_in: float) -> str:
    """A text in lines that fit a width; letters of 9 points are some 5 points wide."""
    lines = text.splitlines()
    return "\n".join(textwrap.fill(line, max(int(width_in * 72 / 5), 20)) for line in lines)
