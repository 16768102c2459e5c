"""The picture of a nest's days as SVG. It needs no script."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from markupsafe import Markup

_ROW_PX, _AXIS_PX = 24, 22

# Height of a bar: the wider interval is drawn lower than the narrower. The likeliest day is a
# narrow mark.
_HIGH_PX = {"95": 8, "best": 20}
_USUAL_PX = 14

_LINE = Markup('<line class="{}" x1="{:.2f}%" x2="{:.2f}%" y1="0" y2="{}"/>')
_SHOWN = Markup(
    '<line class="shown" data-first="{}" data-days="{}" x1="{:.2f}%" x2="{:.2f}%" y1="0" y2="{}"'
    ' display="{}"/>'
)
_DAY = Markup('<text x="{:.2f}%" y="{}" dx="3">{}</text>')
_BAR = Markup('<rect class="days-{}" x="{:.2f}%" width="{:.2f}%" y="{}" height="{}"/>')
_MARK = Markup(
    '<rect class="days-{}" x="{:.2f}%" width="6" transform="translate(-3 0)" y="{}" height="{}"/>'
)


def nest_picture(
    drawn: Mapping[str, Any] | None, on: date | str, *, movable: bool = False
) -> Markup:
    """The picture that `layers.nesting.pictures.picture` describes; empty where there is none.

    `on` is marked by a dashed line if the picture reaches it. With `movable` there is a line in any
    case, if only a hidden one, so that a script can move it to another day.
    """
    if drawn is None:
        return Markup("")
    high = len(drawn["rows"]) * _ROW_PX
    label = Markup("<span>{}</span>")
    labels = Markup("").join(label.format(row["label"]) for row in drawn["rows"])
    return Markup(
        '<div class="calendar" aria-hidden="true"><div class="calendar-labels">{}</div>'
        '<svg width="100%" height="{}">{}</svg></div>'
    ).format(labels, high + _AXIS_PX, Markup("").join(_pieces(drawn, str(on), high, movable)))


def _pieces(drawn: Mapping[str, Any], on: str, high: int, movable: bool) -> Iterator[Markup]:
    first = date.fromisoformat(drawn["from"])
    whole = (date.fromisoformat(drawn["to"]) - first).days

    def at(day: str) -> float:
        return (date.fromisoformat(day) - first).days * 100 / whole

    for day in drawn["marks"]:
        yield _LINE.format("axis", at(day), at(day), high + 5)
        mark = date.fromisoformat(day)
        yield _DAY.format(at(day), high + _AXIS_PX - 6, f"{mark.day} {mark:%b}")
    for number, row in enumerate(drawn["rows"]):
        for part in row["parts"]:
            left, wide = at(part["from"]), at(part["to"]) - at(part["from"])
            height = _HIGH_PX.get(part["style"], _USUAL_PX)
            top = number * _ROW_PX + (_ROW_PX - height) // 2
            if part["style"] == "best":
                yield _MARK.format(part["style"], left + wide / 2, top, height)
            else:
                yield _BAR.format(part["style"], left, wide, top, height)
    middle = at(on) + 50 / whole
    inside = 0 < middle < 100
    if inside or movable:
        display = "inline" if inside else "none"
        yield _SHOWN.format(drawn["from"], whole, middle, middle, high, display)
