"""What a trail puts into an archive, as tables: everything, places as squares, or nests over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import shapely
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dates, date_attempts
from layers.nesting.histories import Histories
from layers.nesting.reading.observations import seasons_of
from layers.pooling.choices import RELEASES
from layers.pooling.codes import with_codes
from layers.pooling.columns import ENDS, EVENT_COLUMNS, TABLES, schema_of
from layers.pooling.geometry import with_geometry
from layers.publishing.identifiers import Identifiers
from layers.publishing.layout import Layout
from layers.publishing.nests import published_nests, published_until
from layers.publishing.values import PublicView
from layers.trail.field import Field
from layers.trail.schema import VISITS
from layers.trail.settings import Settings
from layers.trail.visits import STILL_CURRENT, Visits
from layers.trail.words import FATES

Key = tuple[str, int | None]
"""A table's name and the season of a partition; None where the table has none."""
Part = Any
"""An Arrow table; one with a geometry as `geometry.with_geometry` makes it."""


@dataclass(frozen=True)
class Names:
    """What a trail, its boxes and its attempts are called in a release."""

    trail: str
    box: Callable[[str], str]
    nests: Callable[[Histories], list[str]]


@dataclass(frozen=True)
class TrailContents:
    """What is read from a trail's file.

    Attributes
    ----------
    stored
        Every row of its visits: row number, then the columns of the schema.
    histories
        Of its visits, read with the guide that the trail has without its own periods, so that
        every trail of an archive is read alike.
    every_visit
        The same with the rows that were corrected, or that take one back.
    layout, view
        The squares of its public boxes, and its public view of the day.
    """

    identifiers: Identifiers
    settings: Settings
    boxes: gpd.GeoDataFrame
    stored: Sequence[tuple[Any, ...]]
    histories: Histories
    every_visit: Visits
    layout: Layout
    view: PublicView
    on: date

    def names(self, *, coarse: bool) -> Names:
        """A coarse release is named as what the public gets: a guess cannot be tested by it."""
        ids = self.identifiers
        if coarse:
            return Names(ids.public_trail, ids.public_box, ids.public_nests)
        return Names(ids.trail, ids.box, ids.nests)


def tables_of(trail: TrailContents, release: str) -> dict[Key, Part]:
    """The partitions of a trail by one of `RELEASES`; tables without a row are left out.

    Raises
    ------
    BadValue
        The trail's public rules show nothing, and the release goes by them.
    """
    if release not in RELEASES:
        raise BadValue(f"one of {', '.join(RELEASES)}", repr(release), column="release")
    if release == "full":
        return _observed(trail, trail.histories, coarse=False)
    if not trail.settings.public_rules.is_open:
        raise BadValue(
            "a trail whose public rules show something, or the release full",
            f"{trail.settings.name}, which shows nothing to the public",
            column="release",
        )
    if release == "nests over":
        return _public(trail)
    rules = trail.settings.public_rules
    until = published_until(trail.on, delay_days=rules.delay_days)
    shown = published_nests(
        trail.histories, boxes=trail.layout.cell_of_box, rules=rules, until=until
    )
    return _observed(trail, shown, coarse=True)


def _observed(trail: TrailContents, histories: Histories, *, coarse: bool) -> dict[Key, Part]:
    dates = date_attempts(histories)
    visits = histories.visits if coarse else trail.every_visit
    starts = trail.settings.season_starts
    names = trail.names(coarse=coarse)
    called = names.nests(histories)
    laid = np.flatnonzero(histories.rows[:, c.LAID] == 1).tolist()
    nests = {attempt: called[attempt] for attempt in laid}
    parts: dict[Key, Part] = {}
    seen = _visits(trail, histories, names, nests, coarse=coarse)
    seasons = seasons_of(visits.day, starts)
    for season in np.unique(seasons).tolist():
        parts["visits", season] = seen.filter(pa.array(seasons == season))
    found = _attempts(trail, histories, dates, names, nests)
    of_attempt = histories.rows[list(nests), c.SEASON]
    for season in np.unique(of_attempt).tolist():
        parts["attempts", season] = found.filter(pa.array(of_attempt == season))
    boxes = _boxes(trail, coarse=coarse)
    if len(boxes):
        parts["boxes", None] = boxes
    return parts


def _table(name: str, columns: Mapping[str, Any], size: int) -> Any:
    """An Arrow table with every column of the schema; those not given are empty."""
    schema = schema_of(TABLES[name])
    arrays = []
    for one in schema:
        values = columns.get(one.name)
        if values is None:
            arrays.append(pa.nulls(size, one.type))
        elif isinstance(values, pa.Array | pa.ChunkedArray):
            arrays.append(values)
        elif pa.types.is_dictionary(one.type):
            encoded = pa.array(values, pa.string()).dictionary_encode()
            arrays.append(encoded.cast(one.type))
        else:
            arrays.append(pa.array(values, one.type))
    return pa.Table.from_arrays(arrays, schema=schema)


def _visits(
    trail: TrailContents,
    histories: Histories,
    names: Names,
    nests: Mapping[int, str],
    *,
    coarse: bool,
) -> Any:
    """Visits in the order of `Visits`, as words and as codes."""
    visits = histories.visits if coarse else trail.every_visit
    by_row = {row[0]: row for row in trail.stored}
    rows = [by_row[row] for row in visits.row.tolist()]
    columns: dict[str, Any] = {}
    for at, field in enumerate(VISITS.fields, start=1):
        column = next(one for one in TABLES["visits"].columns if one.name == field.name)
        if not coarse or "coarse" in column.releases:
            cells = [row[at] for row in rows]
            columns[field.name] = _clean(cells, field, shipped_alone=coarse)
    own = histories.visit_attempt.tolist()
    nest_of = {
        row: nests[attempt]
        for row, attempt in zip(histories.visits.row.tolist(), own, strict=True)
        if attempt in nests
    }
    size = len(rows)
    ids = {box: names.box(box) for box in visits.boxes}
    columns["trail"] = [names.trail] * size
    columns["box_id"] = [ids[visits.boxes[code]] for code in visits.box.tolist()]
    columns["nest_id"] = [nest_of.get(row) for row in visits.row.tolist()]
    columns["current"] = visits.replaced_s == STILL_CURRENT
    if coarse:
        visits = replace(visits, minute=np.full(size, -1, np.int16))
    return with_codes(_table("visits", columns, size), visits)


def _clean(cells: list[Any], field: Field, *, shipped_alone: bool) -> list[Any]:
    """Cells as Arrow takes them; what a desktop GIS wrote against the schema is not recorded."""
    read = _READ.get(field.storage, _text)
    values = [None if cell is None else read(cell) for cell in cells]
    if shipped_alone and field.extendable:
        known = set(field.words)
        return [
            value and (";".join(one for one in value.split(";") if one.strip() in known) or None)
            for value in values
        ]
    return values


def _whole(cell: Any) -> int | None:
    fits = isinstance(cell, int | float) and cell % 1 == 0 and abs(cell) < 2**31
    return int(cell) if fits else None


def _number(cell: Any) -> float | None:
    return float(cell) if isinstance(cell, int | float) else None


def _day(cell: Any) -> date | None:
    try:
        return date.fromisoformat(cell)
    except (TypeError, ValueError):
        return None


def _moment(cell: Any) -> datetime | None:
    try:
        moment = datetime.fromisoformat(cell)
    except (TypeError, ValueError):
        return None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _text(cell: Any) -> str | None:
    return str(cell) or None


_READ: Mapping[str, Any] = {
    "INTEGER": _whole,
    "REAL": _number,
    "DATE": _day,
    "DATETIME": _moment,
}


def _attempts(
    trail: TrailContents,
    histories: Histories,
    dates: Dates,
    names: Names,
    nests: Mapping[int, str],
) -> Any:
    chosen = np.array(list(nests), np.int64)
    rows = histories.rows[chosen]
    days = histories.visits.day
    owned = np.flatnonzero(histories.visit_attempt >= 0)
    own = histories.visit_attempt[owned]
    first = np.full(len(histories) + 1, np.iinfo(np.int32).max, np.int32)
    last = np.full(len(histories) + 1, np.iinfo(np.int32).min, np.int32)
    np.minimum.at(first, own, days[owned])
    np.maximum.at(last, own, days[owned])
    number = np.bincount(own, minlength=len(histories) + 1)
    fates = histories.fates(trail.on)[chosen]
    ids = {box: names.box(box) for box in histories.visits.boxes}
    columns: dict[str, Any] = {
        "trail": [names.trail] * len(chosen),
        "box_id": [ids[histories.visits.boxes[code]] for code in rows[:, c.BOX].tolist()],
        "nest_id": list(nests.values()),
        "attempt": histories.numbers[chosen],
        "species": [histories.species_name(code) for code in rows[:, c.SPECIES].tolist()],
        "fate": [FATES[code] for code in fates.tolist()],
        "first_seen": _days(first[chosen], first[chosen] > c.MISSING),
        "last_seen": _days(last[chosen], first[chosen] > c.MISSING),
        "visits": number[chosen],
        "chance_hatched": _known(dates.hatched[chosen]),
        "chance_fledged": _known(dates.fledged[chosen]),
    }
    counts = (("eggs", c.EGGS_MAX), ("young", c.YOUNG_MAX), ("fledged", c.FLEDGED))
    for name, at in counts:
        columns[name] = pa.array(rows[:, at], pa.int32(), mask=rows[:, at] < 0)
    best = dates.best_days(chosen)
    for event, name in enumerate(EVENT_COLUMNS):
        there = best[:, event] != c.MISSING
        columns[name] = _days(best[:, event], there)
        for at, end in enumerate(ENDS):
            moments = np.where(there, dates.ends[chosen, event, at], 0.0)
            # The whole days that the interval touches, as `Dated.days_95` has them.
            whole = np.floor(moments) if end.startswith("low") else np.ceil(moments) - 1
            if not end.startswith("low"):
                low = np.floor(np.where(there, dates.ends[chosen, event, 3 - at], 0.0))
                whole = np.maximum(whole, low)
            columns[f"{name}_{end}"] = _days(whole, there)
    return _table("attempts", columns, len(chosen))


def _days(days: NDArray[Any], there: NDArray[np.bool_]) -> Any:
    return pa.array(np.where(there, days, 0).astype(np.int32), mask=~there).cast(pa.date32())


def _known(values: NDArray[np.float64]) -> Any:
    return pa.array(values, pa.float64(), mask=np.isnan(values))


def _boxes(trail: TrailContents, *, coarse: bool) -> Any:
    boxes = trail.boxes
    if coarse:
        boxes = boxes[boxes["box"].isin(trail.layout.cell_of_box)]
    names, ids = trail.names(coarse=coarse), boxes["box"].tolist()
    columns: dict[str, Any] = {
        "trail": [names.trail] * len(ids),
        "box_id": [names.box(box) for box in ids],
    }
    for column in TABLES["boxes"].columns:
        if column.name in boxes.columns and (not coarse or "coarse" in column.releases):
            cells = [None if pd.isna(cell) else cell for cell in boxes[column.name].tolist()]
            columns[column.name] = _clean(cells, column.field, shipped_alone=coarse)
    shapes = boxes.geometry.tolist()
    if coarse:
        cells_of = [trail.layout.cell_of_box[box] for box in ids]
        columns["square"] = [cell.name for cell in cells_of]
        columns["uncertainty_m"] = [trail.layout.uncertainty_m(cell) for cell in cells_of]
        shapes = [shapely.Point(cell.lon, cell.lat) for cell in cells_of]
    return with_geometry(_table("boxes", columns, len(ids)), shapes)


def _public(trail: TrailContents) -> dict[Key, Part]:
    view, name = trail.view, trail.identifiers.public_trail
    parts: dict[Key, Part] = {}
    for season in sorted({nest.season for nest in view.nests}):
        nests = [nest for nest in view.nests if nest.season == season]
        columns = {
            column.name: [getattr(nest, column.name) for nest in nests]
            for column in TABLES["nests"].columns
            if column.name != "trail"
        }
        parts["nests", season] = _table(
            "nests", {"trail": [name] * len(nests), **columns}, len(nests)
        )
    if view.cells:
        cells = view.cells
        columns = {
            one: [getattr(cell, one) for cell in cells]
            for one in ("cell", "uncertainty_m", "boxes", "nests")
        }
        columns["trail"] = [name] * len(cells)
        columns["species"] = ["; ".join(cell.species) or None for cell in cells]
        parts["squares", None] = with_geometry(
            _table("squares", columns, len(cells)), [cell.footprint for cell in cells]
        )
    return parts
