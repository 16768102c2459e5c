"""A nest's days as a picture: rows of bars along one axis of days, for any face to draw."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any

from layers.nesting.forecast import BANDING, CHECK, CLOSED

STYLES = (
    "building",
    "laying",
    "incubating",
    "nestlings",
    "95",
    "80",
    "best",
    "banding",
    "closed",
    "check",
)
"""What a bar may be: a stage, an interval, the likeliest day, or days to come."""

_WINDOWS = {
    BANDING: ("Banding, licensed only", "banding"),
    CLOSED: ("Keep it closed", "closed"),
    CHECK: ("Check, then clean", "check"),
}

# Days drawn of what holds from a day on.
_OPEN_END = 7

# Room beside the first and the last bar.
_MARGIN = 1

# Days between two marks of the axis, and the longest axis that has them: four to six marks
# are readable on a phone.
_STEPS = ((7, 35), (14, 70), (28, 140))
_LONGEST_STEP = 56


def picture(
    bar: Sequence[dict[str, str]], days: Iterable[dict[str, Any]], windows: Iterable[dict[str, Any]]
) -> dict[str, Any] | None:
    """Rows of bars; None where there is nothing to draw.

    Parameters
    ----------
    bar, days, windows
        Stages, dated events and things to come, as the records of `box_days` hold them.

    Returns
    -------
    dict
        `from` and `to` (excluded): the axis. `marks`: its days. `rows`: each a `label` and
        `parts` with `style` (one of `STYLES`), `from` and `to` (excluded). Days are ISO text.
    """
    stages = [_part(piece["stage"], piece["from"], piece["to"]) for piece in bar]
    rows: list[dict[str, Any]] = [{"label": "Stage", "parts": stages}]
    rows += [
        {
            "label": one["event"].capitalize(),
            "parts": [
                _days("95", *one["within_95"]),
                _days("80", *one["within_80"]),
                _days("best", one["best"], one["best"]),
            ],
        }
        for one in days
    ]
    for one in windows:
        label, style = _WINDOWS[one["kind"]]
        last = one["last"] or _later(one["first"], _OPEN_END)
        rows.append({"label": label, "parts": [_days(style, one["first"], last)]})
    rows = [row for row in rows if row["parts"]]
    if not rows:
        return None
    parts = [part for row in rows for part in row["parts"]]
    begin = _later(min(part["from"] for part in parts), -_MARGIN)
    end = _later(max(part["to"] for part in parts), _MARGIN)
    return {"from": begin, "to": end, "marks": _marks(begin, end), "rows": rows}


def _part(style: str, begin: str, end: str) -> dict[str, str]:
    return {"style": style, "from": begin, "to": end}


def _days(style: str, first: str, last: str) -> dict[str, str]:
    return _part(style, first, _later(last, 1))


def _later(day: str, by: int) -> str:
    return (date.fromisoformat(day) + timedelta(days=by)).isoformat()


def _marks(begin: str, end: str) -> list[str]:
    first, last = date.fromisoformat(begin), date.fromisoformat(end)
    length = (last - first).days
    step = next((step for step, most in _STEPS if length <= most), _LONGEST_STEP)
    end_of_marks = length - length // 6  # room for the last one's words
    return [_later(begin, by) for by in range(_MARGIN, end_of_marks, step)]
