"""One box from raw cells to a clean row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from types import MappingProxyType
from typing import Any

from layers.errors import BadValue
from layers.trail.bring import values
from layers.trail.bring.cells import Cells
from layers.trail.bring.days import DayOrder, day
from layers.trail.measures import M_PER_FOOT, MM_PER_INCH
from layers.trail.words import PUBLIC


@dataclass(frozen=True)
class Measure:
    """A measure of a box and the units it may come in.

    `column` is where it is stored, in the unit of that name, between `low` and `high`:
    wide enough for any nest box, narrow enough to tell inches from millimetres.
    `units` maps each unit to the factor into the stored one.
    """

    name: str
    column: str
    low: float
    high: float
    units: Mapping[str, float]


_INTO_MM = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH}
_INTO_M = {"m": 1.0, "cm": 0.01, "ft": M_PER_FOOT}

MEASURES = (
    Measure("hole", "hole_mm", 10, 400, _INTO_MM),
    Measure("floor", "floor_mm", 40, 1500, _INTO_MM),
    Measure("depth", "depth_mm", 40, 2500, _INTO_MM),
    Measure("height", "height_m", 0, 60, _INTO_M),
)
"""Limits: common practice, no source."""

COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "box": ("box id", "box no", "box number", "nest box", "nestbox", "nestbox id"),
        "name": ("box name",),
        "section": (),
        **{f"{m.name}_{unit}": () for m in MEASURES for unit in m.units},
        "hole_shape": ("shape of hole",),
        "facing_deg": ("facing", "faces", "aspect", "orientation"),
        "mount": ("mounted on", "mounting"),
        "guards": ("guard", "predator guard"),
        "opens": (),
        "pair": ("paired with",),
        "habitat": (),
        "installed_on": ("installed", "date installed"),
        "removed_on": ("removed", "date removed"),
        "cleaned_on": ("cleaned", "date cleaned", "last cleaned"),
        "public": (),
        "note": ("notes", "comment", "comments", "remarks", "desc", "description"),
    }
)
"""Columns a person gives, each with other plain names for it; `hole_in` is in inches.

`installed` is also what ten letters, the most in a Shapefile, leave of `installed_on`.
"""

_COMPASS = (
    *("n", "nne", "ne", "ene", "e", "ese", "se", "sse"),
    *("s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw"),
)


@dataclass(frozen=True)
class BoxRules:
    """What a box is checked against: the trail's words for guards, and the day it is."""

    guards: tuple[str, ...]
    today: date
    dates: DayOrder | None = None


def read_box(cells: Cells, *, rules: BoxRules) -> dict[str, Any]:
    """The columns of a box; faults are noted in `cells`."""
    any_day = partial(day, order=rules.dates)
    clean: dict[str, Any] = {
        "box": cells.need("box", values.box_id, expected="the id of a box"),
        "facing_deg": cells.take("facing_deg", facing),
        "guards": cells.take("guards", partial(values.words, column="guards", known=rules.guards)),
        "pair": cells.take("pair", values.box_id),
        "installed_on": _iso(cells.take("installed_on", any_day)),
        "removed_on": _iso(cells.take("removed_on", any_day)),
        "cleaned_on": _iso(cells.take("cleaned_on", partial(any_day, latest=rules.today))),
        "public": cells.take("public", partial(values.word, column="public", known=PUBLIC)),
        "note": cells.take("note", values.text),
    }
    for name in ("name", "section", "hole_shape", "mount", "opens", "habitat"):
        clean[name] = cells.take(name, values.line)
    for measure in MEASURES:
        clean[measure.column] = _measured(cells, measure)
    if clean["pair"] is not None and clean["pair"] == clean["box"]:
        cells.fault("the id of another box", values.said(clean["pair"]), "pair")
    first, last = clean["installed_on"], clean["removed_on"]
    if first is not None and last is not None and last < first:
        cells.fault(f"a day from {first} on, when it was installed", last, "removed_on")
    return clean


def facing(value: object) -> float:
    """Degrees clockwise from north, 0 to below 360, from a number or a compass word."""
    expected = "0 to 360 degrees, or a compass word like north-east"
    if isinstance(value, str):
        word = "".join(letter for letter in value.casefold() if letter.isalpha())
        for point in ("north", "south", "east", "west"):
            word = word.replace(point, point[0])
        if word in _COMPASS and not any(letter.isdigit() for letter in value):
            return _COMPASS.index(word) * 360 / len(_COMPASS)
        value = value.strip().removesuffix("°")
    degrees = values.decimal(value, expected=expected)
    if not 0 <= degrees <= 360:
        raise BadValue(expected, values.said(value))
    return degrees % 360


def _measured(cells: Cells, measure: Measure) -> float | None:
    """A measure in its stored unit, from whichever column of it is filled in."""
    filled = [unit for unit in measure.units if cells.has(f"{measure.name}_{unit}")]
    if len(filled) > 1:
        names = ", ".join(f"{measure.name}_{unit}" for unit in filled)
        cells.fault("one column of a measure", names, measure.column)
        return None
    if not filled:
        return None
    unit = filled[0]
    parse = partial(
        values.measure,
        unit=unit,
        low=measure.low,
        high=measure.high,
        factor=measure.units[unit],
    )
    return cells.take(f"{measure.name}_{unit}", parse)


def _iso(found: date | None) -> str | None:
    return None if found is None else found.isoformat()
