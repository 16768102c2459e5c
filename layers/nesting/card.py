"""The card of one box: its set-up, attempts with reasons, and visits, as one record."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from layers.nesting.box_days import days_records
from layers.nesting.cautions import sign_cautions
from layers.nesting.dating import Dates, date_attempts, stages_at_visits
from layers.nesting.due import OPEN, Due, due
from layers.nesting.histories import Histories
from layers.nesting.nests import nests
from layers.nesting.timeline import Service
from layers.trail.map_schema import BOXES
from layers.trail.measures import format_height, format_mm
from layers.trail.settings import Settings
from layers.trail.words import STAGES
from layers.words import format_age

_FACTS = tuple(f for f in BOXES.fields if f.name not in ("box", "name", "section", "public"))


def inside(row: Mapping[str, Any]) -> str:
    """What a visit found inside, in words: `5 eggs, warm; adult sitting; nest: lined cup`.

    `row` holds a visit's columns as stored. What was not recorded is left out; an
    empty text means that nothing about the inside was recorded.
    """
    parts = []
    eggs, young, dead = row.get("eggs"), row.get("young"), row.get("dead_young")
    if eggs:
        warmth = {"yes": ", warm", "no": ", cold"}.get(row.get("eggs_warm") or "", "")
        parts.append(f"{eggs} {'egg' if eggs == 1 else 'eggs'}{warmth}")
    if young:
        age = row.get("young_days")
        judged = "" if age is None else f", {format_age(age)}"
        parts.append(f"{young} young{judged}")
    if dead:
        parts.append(f"{dead} dead young")
    for column, one, many in (("eggs", "egg", "eggs"), ("young", "young", "young")):
        if count := row.get(f"parasite_{column}"):
            parts.append(f"{count} {one if count == 1 else many} of a parasite")
    if not (eggs or young):
        none = [word for word, count in (("eggs", eggs), ("young", young)) if count == 0]
        if none:
            parts.append(f"no {' and no '.join(none)}")
    if row.get("adult"):
        adult = row["adult"]
        parts.append("no adult seen" if adult == "none" else f"adult {adult}")
    if row.get("nest"):
        parts.append("no nest" if row["nest"] == "none" else f"nest: {row['nest']}")
    return "; ".join(parts)


def _facts(box: Mapping[str, Any], units: str) -> list[list[str]]:
    facts = []
    for field in _FACTS:
        value = box.get(field.name)
        if value is None or (isinstance(value, float) and math.isnan(value)):
            continue
        if field.unit == "mm":
            text = format_mm(value, units)
        elif field.unit == "m":
            text = format_height(value, units)
        elif field.unit == "degrees":
            text = f"{value:.0f}°"
        else:
            text = str(value).replace(";", ", ")
        facts.append([field.label, text])
    return facts


def box_card(
    histories: Histories,
    box: Mapping[str, Any],
    visit_rows: Sequence[Mapping[str, Any]],
    *,
    settings: Settings,
    on: date,
) -> dict[str, Any]:
    """All that was known about one box on a day, ready for JSON.

    One box is read and dated by itself, which takes a millisecond, so that its card waits
    for no other box.

    Parameters
    ----------
    box
        The box's row: columns of the `boxes` table, and `lon`, `lat`.
    visit_rows
        The visits that `histories` holds of this box, in the same order, in whole words.
    on
        Visits made after it are left out.

    Returns
    -------
    dict
        `on`, `box, name, section, lon, lat, facts` (label and text), `due` (what the box
        needs; None = it does not stand), `attempts` (as `nests` and `days_records` give
        them), `visits` (newest first), `cautions` for whoever goes there.
    """
    box_id = box["box"]
    known = histories.of_box(box_id, until=on)
    dates = date_attempts(known)
    attempts = [
        attempt | days
        for attempt, days in zip(
            nests(known, dates, on=on), days_records(known, dates, on=on), strict=True
        )
    ]
    needed = _due(known, dates, box, on=on, settings=settings)
    visits, stages = [], stages_at_visits(known, dates)
    for at, row in enumerate(visit_rows[: len(known.visits)]):
        minute, stage = int(known.visits.minute[at]), int(stages[at])
        visits.append(
            {
                "visit_id": row["visit_id"],
                "date": row["seen_on"],
                "time": None if minute < 0 else f"{minute // 60:02d}:{minute % 60:02d}",
                "observer": row["observer"],
                "species": row["species"],
                "inside": inside(row),
                "stage": STAGES[stage] if stage >= 0 else None,
                "signs": _listed(row["signs"]),
                "actions": _listed(row["actions"]),
                "note": row["note"],
                "own_columns": own_columns(row["own_columns"]),
            }
        )
    visits.reverse()
    return {
        "on": on.isoformat(),
        "box": box_id,
        "name": box["name"],
        "section": box["section"],
        "lon": box["lon"],
        "lat": box["lat"],
        "facts": _facts(box, settings.units),
        "due": None if needed is None else _due_record(needed),
        "attempts": attempts,
        "visits": visits,
        "cautions": _cautions(known, box_id, needed, on=on),
    }


def _due(
    known: Histories, dates: Dates, box: Mapping[str, Any], *, on: date, settings: Settings
) -> Due | None:
    """What the box needs; None where it does not stand on that day."""
    service = Service.from_days([box["installed_on"]], [box["removed_on"]])
    listed = due(
        known,
        on=on,
        settings=settings,
        dates=dates,
        service=service,
        guards={box["box"]: box["guards"]},
    )
    return listed[0] if listed else None


def _due_record(needed: Due) -> dict[str, Any]:
    return {
        "due": needed.due,
        "urgency": needed.urgency,
        "until": None if needed.until is None else needed.until.isoformat(),
        "reasons": [reason.text for reason in needed.reasons],
        "approach": needed.approach,
        "approach_text": needed.approach_text,
        "expected": needed.expected,
    }


def _cautions(known: Histories, box: str, needed: Due | None, *, on: date) -> list[str]:
    """How to approach it; and what to mind inside, where nothing speaks against opening."""
    approach = OPEN if needed is None else needed.approach
    text = "" if needed is None else needed.approach_text
    if approach != OPEN:
        return [f"{approach.capitalize()}. {text}"]
    return [*([text] if text else []), *sign_cautions(known, box, on=on)]


def _listed(text: str | None) -> list[str]:
    return [part.strip() for part in (text or "").split(";") if part.strip()]


def own_columns(held: str | None) -> dict[str, str]:
    """A keeper's own columns of a visit, by their names; empty where what is held is no JSON."""
    try:
        found = json.loads(held or "{}")
    except ValueError:
        return {}
    return {str(name): str(text) for name, text in found.items()} if isinstance(found, dict) else {}
