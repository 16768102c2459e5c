"""The social-card picture: the trail's name and its cells, as other sites show a link."""

from __future__ import annotations

import io
import math

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from layers.publishing import PublicView

WIDTH_PX, HEIGHT_PX = 1200, 630
"""The size that the Open Graph protocol's readers commonly show (common practice, no source)."""

_DPI = 100
_PAPER, _INK, _NESTED, _NONE = "#fbf9f3", "#1d2a26", "#00674b", "#ffffff"


def card_png(view: PublicView) -> bytes:
    """The picture, without metadata besides its size."""
    figure = Figure((WIDTH_PX / _DPI, HEIGHT_PX / _DPI), dpi=_DPI, facecolor=_PAPER)
    FigureCanvasAgg(figure)
    _words(figure, view)
    _map(figure, view)
    picture = io.BytesIO()
    figure.savefig(picture, format="png", metadata={"Software": None})
    return picture.getvalue()


def _words(figure: Figure, view: PublicView) -> None:
    boxes = sum(cell.boxes for cell in view.cells)
    lines = [
        (0.88, 36, "bold", _wrapped(view.trail)),
        (0.40, 28, "normal", _counted(boxes, "nest box", "nest boxes")),
        (0.30, 28, "normal", _counted(len(view.nests), "finished nest", "finished nests")),
        (0.14, 18, "normal", "Locations are shown as grid squares"),
    ]
    for height, size, weight, text in lines:
        # A name may hold a dollar sign, which would begin a formula.
        figure.text(
            0.05, height, text, size=size, weight=weight, color=_INK, va="top", parse_math=False
        )


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _wrapped(text: str, *, most: int = 16, lines: int = 3) -> str:
    words = text.split()
    made = [""]
    for word in words:
        if made[-1] and len(made[-1]) + 1 + len(word) > most:
            made.append("")
        made[-1] = f"{made[-1]} {word}".strip()
    cut = [line if len(line) <= most else line[: most - 1] + "…" for line in made[:lines]]
    if len(made) > lines:
        cut[-1] = cut[-1].rstrip("…") + "…"
    return "\n".join(cut)


def _map(figure: Figure, view: PublicView) -> None:
    finest = min((cell.size_deg for cell in view.cells), default=None)
    cells = [cell for cell in view.cells if cell.size_deg == finest]
    axes = figure.add_axes((0.52, 0.06, 0.44, 0.88))
    axes.set_axis_off()
    for cell in cells:
        west, south, _, _ = cell.bounds
        axes.add_patch(
            Rectangle(
                (west, south),
                cell.size_deg,
                cell.size_deg,
                facecolor=_NESTED if cell.nested else _NONE,
                edgecolor=_INK,
                linewidth=2,
            )
        )
        axes.text(
            cell.lon,
            cell.lat,
            str(cell.boxes),
            ha="center",
            va="center",
            color=_NONE if cell.nested else _INK,
            size=20 if len(cells) <= 30 else 9,
            weight="bold",
        )
    axes.autoscale_view()
    if cells:
        shrinks = _shrinks(sum(cell.lat for cell in cells) / len(cells))
        axes.set_aspect(1 / shrinks, adjustable="datalim")


def _shrinks(lat: float) -> float:
    """How much shorter a degree of longitude is than one of latitude."""
    return max(math.cos(math.radians(lat)), 0.05)
