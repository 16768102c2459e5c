"""Histories of boxes from visits written down by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts, known_on, stage_days
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.nests import nests
from layers.trail.coding import code_visits
from layers.trail.visits import Visits
from layers.trail.words import ACTIONS, SIGNS

BLUEBIRD, SWALLOW, WREN = "eastern bluebird", "tree swallow", "house wren"


def seen(day: str, **found: Any) -> dict[str, Any]:
    """One visit, to box A1 unless another is named, on a day of 2026 given as `MM-DD` (or a
    full date).
    """
    on = dt.date.fromisoformat(day if len(day) > 5 else f"2026-{day}")
    entered = dt.datetime.combine(on, dt.time(20), dt.UTC)
    box = found.get("box", "A1")
    row = {"box": box, "seen_on": on, "entered_at": entered, "visit_id": f"{box}{on}{len(found)}"}
    if "eggs" in found or "young" in found:
        row["opened"] = "yes"
    return row | found


def coded(*visits: dict[str, Any], boxes: Sequence[str] = ("A1",)) -> Visits:
    return code_visits(
        visits,
        boxes=boxes,
        timezone=ZoneInfo("America/New_York"),
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )


def read(
    *visits: dict[str, Any], season_starts: str = "01-01", boxes: Sequence[str] = ("A1",)
) -> Histories:
    visited = coded(*visits, boxes=boxes)
    return read_histories(visited, standard_guide(), season_starts=season_starts)


def told(*visits: dict[str, Any], on: str = "2026-12-31") -> list[dict[str, Any]]:
    """The attempts as records, looked at on a day."""
    day = dt.date.fromisoformat(on)
    return nests(*known_on(read(*visits), day), on=day)


def stages(histories: Histories) -> list[int]:
    return [int(stage) for stage in histories.visit_stage]


def day(text: str) -> int:
    return (dt.date.fromisoformat(f"2026-{text}") - dt.date(1970, 1, 1)).days


def row(histories: Histories, attempt: int = 0) -> dict[str, int]:
    """Some days and counts of an attempt by name, for assertions."""
    days = stage_days(histories, date_attempts(histories))[attempt].tolist()
    return dict(zip(("START", "EGG", "COMPLETE", "HATCH", "END"), days, strict=True)) | {
        name: int(histories.rows[attempt, getattr(c, name)]) for name in ("EGGS_MAX", "YOUNG_MAX")
    }
