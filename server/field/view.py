"""One day of the trail as the field page holds it: every box, what to expect, and the form."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from layers.maps.key_drawing import key_drawing
from layers.nesting.card import inside
from layers.nesting.cautions import LAW, ON_A_ROUND, sign_cautions
from layers.nesting.due import OPEN, Due
from layers.nesting.histories import Histories
from layers.nesting.key import key_table
from layers.nesting.questions import figures_of_all
from layers.trail.coding import day_number, day_of
from layers.trail.field import Field
from layers.trail.schema import VISITS
from layers.trail.settings import Settings
from layers.trail.visits import Visits
from layers.words import format_day, format_days
from server.identify.view import region_of_trail
from server.live.contents import Contents

_ELSEWHERE = {"box", "seen_on", "seen_at", "observer", "species", "eggs", "young", "young_days"}
"""Columns with a place of their own on the page; all others are folded below them."""
_WORDS = ("nest", "adult", "eggs_warm", "opened")
_HISTORY_DAYS = 200
"""Visits further back have nothing to do with a nest of today; see `layers.nesting.questions`."""

AGES: tuple[tuple[int, str], ...] = (
    (0, "naked and pink, eyes shut"),
    (3, "grey down on the head, eyes shut"),
    (6, "dark quills show, eyes half open"),
    (9, "quills burst into feathers, eyes open"),
    (12, "feathered, tail short"),
)
"""How young of small songbirds look at about so many days: from memory, no source."""


def field_day(contents: Contents, on: date) -> dict[str, Any]:
    """All that one day in the field takes, ready for JSON; made once per version and day.

    Returns
    -------
    dict
        `on, version, trail, units, timezone`; `fields` (the rest of the form), `species`
        (names of the guide), `met` (those recorded here) and `figures` of the species, by which a
        visit raises questions; `ages`, `cautions`, `law`; `boxes` that stand on the day, each as
        `_box` gives it.
    """
    known = contents.known_on(on)
    met = {name for name in contents.histories.visits.species_names if name}
    places = {row["box"]: row for row in contents.ground.records}
    return {
        "on": on.isoformat(),
        "version": contents.version,
        "trail": contents.settings.name,
        "units": contents.settings.units,
        "timezone": contents.settings.timezone,
        "fields": [_field(one, contents.settings) for one in _rest()],
        "species": [species.common for species in contents.guide.species],
        "met": sorted(met),
        "figures": figures_of_all(contents.guide),
        "ages": [{"days": days, "text": text} for days, text in AGES],
        "cautions": list(ON_A_ROUND),
        "law": LAW,
        "boxes": [
            _box(known, places[due.box], due, on=on)
            for due in contents.due(on)
            if due.box in places
        ],
    }


def field_key(contents: Contents, on: date) -> dict[str, Any]:
    """The key to species with its drawings, for a page that identifies without the server."""
    region = region_of_trail(contents)
    table = key_table(contents.guide, region=region, trail=contents.histories, on=on)
    for one in table["species"]:
        one["drawing"] = key_drawing(contents.guide.find(one["name"]))
    return table


def _rest() -> list[Field]:
    return [one for one in VISITS.fields if not one.automatic and one.name not in _ELSEWHERE]


def _field(field: Field, settings: Settings) -> dict[str, Any]:
    words = settings.words(field.name) if field.extendable else field.words
    return {
        "name": field.entry_name,
        "label": field.label,
        "kind": field.kind,
        "unit": field.unit,
        "least": field.least,
        "most": field.most,
        "words": list(words),
    }


def _box(known: Contents, place: Mapping[str, Any], due: Due, *, on: date) -> dict[str, Any]:
    """One box: where it is, how to approach it, what to expect, and what was seen last.

    `closed` holds the days on which it must stay closed, in words; `last` the latest visit,
    `today` every visit of the day.
    """
    histories = known.histories
    attempts = histories.attempts_of(due.box)
    closed = known.dates().of(attempts[-1]).closed if attempts else None
    if closed is not None and closed[1] < on:
        closed = None
    at = [i for i in histories.visits_of(due.box) if histories.visits.day[i] <= day_number(on)]
    seen = [_visit(histories, i) for i in at]
    return {
        "box": due.box,
        "name": place["name"],
        "section": place["section"],
        "lat": place["lat"],
        "lon": place["lon"],
        "due": due.due,
        "urgency": due.urgency,
        "reasons": [reason.text for reason in due.reasons],
        "approach": due.approach,
        "approach_text": due.approach_text,
        "closed": None if closed is None else format_days(*closed),
        "expected": due.expected,
        "cautions": sign_cautions(histories, due.box, on=on) if due.approach == OPEN else [],
        "last": seen[-1] if seen else None,
        "today": [one for one in seen if one["date"] == on.isoformat()],
        "hole_mm": place["hole_mm"],
        "hole_shape": place["hole_shape"],
        "installed_on": place["installed_on"],
        "removed_on": place["removed_on"],
        "history": [
            _history(histories, i)
            for i in at
            if histories.visits.day[i] > day_number(on) - _HISTORY_DAYS
        ],
    }


def _visit(histories: Histories, at: int) -> dict[str, Any]:
    """One visit: counts and words as stored, and in a sentence."""
    visits = histories.visits
    row = _row(visits, at)
    day = day_of(int(visits.day[at]))
    minute = int(visits.minute[at])
    observer = int(visits.observer[at])
    return row | {
        "date": day.isoformat(),
        "day": format_day(day),
        "time": None if minute < 0 else f"{minute // 60:02d}:{minute % 60:02d}",
        "species": histories.species_name(int(visits.species[at])),
        "observer": None if observer < 0 else visits.observers[observer],
        "text": inside(row) or "nothing recorded about the inside",
    }


def _history(histories: Histories, at: int) -> dict[str, Any]:
    """What the questions about a visit look at in one before it, under the columns' names."""
    visits = histories.visits
    observer, actions = int(visits.observer[at]), int(visits.actions[at])
    done = [word for i, word in enumerate(visits.actions_words) if actions >> i & 1]
    row = _row(visits, at) | {
        "seen_on": day_of(int(visits.day[at])).isoformat(),
        "species": histories.species_name(int(visits.species[at])),
        "observer": None if observer < 0 else visits.observers[observer],
        "actions": ";".join(done) or None,
    }
    return {name: value for name, value in row.items() if value is not None}


def _row(visits: Visits, at: int) -> dict[str, Any]:
    """What one visit found inside, by column, as stored; None = not recorded."""
    counts = {name: int(visits.column(name)[at]) for name in ("eggs", "young", "young_days")}
    row: dict[str, Any] = {name: n if n >= 0 else None for name, n in counts.items()}
    for name in _WORDS:
        code = int(visits.column(name)[at])
        row[name] = VISITS[name].words[code] if code >= 0 else None
    return row
