"""From a trail to its public view."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts, stage_days
from layers.nesting.dating.stages import END
from layers.nesting.histories import Histories
from layers.publishing import statements
from layers.publishing.cells import GridCell, cell_of
from layers.publishing.nests import (
    COARSE,
    PublishedNest,
    boxes_in_use,
    known,
    published_nests,
    published_until,
)
from layers.publishing.values import Cell, Nest, Path, Place, PublicView, Zone
from layers.trail.coding import day_of
from layers.trail.public_rules import PublicRules
from layers.trail.settings import Settings, season_of
from layers.trail.words import FATES

MIN_NESTS = 3
"""Published nests of a cell and season from which numbers of eggs and young are published: of
two, the keeper of one learns the other. Three is the usual least number of a table's cell in
official statistics (from memory)."""

_GROUND_DEG = 1e-5
"""Released lines and areas are published to about a metre."""

PUBLIC_PLACES = ("start", "landmark")
PUBLIC_ZONES = ("habitat", "building", "water")


@dataclass(frozen=True)
class _Box:
    """One box that may be counted, its cell, and the cell of its protected nests."""

    box: str
    cell: GridCell
    coarse_cell: GridCell
    in_place: bool

    def cell_for(self, protection: int) -> GridCell:
        return self.coarse_cell if protection == COARSE else self.cell


@dataclass
class _Tally:
    """The numbers of one cell."""

    boxes: int = 0
    nested: set[str] = field(default_factory=set)
    in_use: set[str] = field(default_factory=set)
    nests: int = 0
    species: set[str] = field(default_factory=set)


def public_view(
    boxes: gpd.GeoDataFrame,
    histories: Histories,
    *,
    paths: gpd.GeoDataFrame,
    places: gpd.GeoDataFrame,
    zones: gpd.GeoDataFrame,
    settings: Settings,
    on: date,
) -> PublicView:
    """All that the public may see of a trail on a day.

    The view is the same as that of a trail without its hidden boxes, without every visit
    made after the last published month, and without the visits of each nest that is not
    published yet.

    Parameters
    ----------
    boxes, paths, places, zones
        As `Trail` gives them.
    histories
        Of all visits, corrected ones left out; boxes besides those of `boxes` do not count.
    """
    rules = settings.public_rules
    until = published_until(on, delay_days=rules.delay_days)
    shown = {box.box: box for box in _shown(boxes, rules, on)} if rules.is_open else {}
    nests = published_nests(histories, boxes=shown, rules=rules, until=until)
    season = season_of(on, settings.season_starts)
    tallies: defaultdict[GridCell, _Tally] = defaultdict(_Tally)
    for box in shown.values():
        if box.in_place:
            tallies[box.cell].boxes += 1
    listed = _nests(nests, shown, season=season, tallies=tallies)
    if rules.ongoing == "in use":
        for name, protection in boxes_in_use(histories, boxes=shown, rules=rules, on=on):
            if shown[name].in_place:
                tallies[shown[name].cell_for(protection)].in_use.add(name)
    released = rules.released if rules.is_open else ()
    return PublicView(
        trail=settings.name,
        on=on,
        season=season,
        published_until=until,
        cell_deg=rules.cell,
        coarse_cell_deg=rules.coarse_cell,
        cells=tuple(
            _cell(cell, tallies[cell], shows_use=rules.ongoing == "in use")
            for cell in sorted(tallies)
        ),
        nests=listed,
        paths=tuple(_paths(paths)) if "paths" in released else (),
        places=tuple(_places(places)) if "places" in released else (),
        zones=tuple(_zones(zones)) if "zones" in released else (),
        generalised=statements.generalised(rules, until=until, min_nests=MIN_NESTS)
        if rules.is_open
        else (),
        withheld=statements.withheld(rules) if rules.is_open else (statements.CLOSED,),
        licence=rules.licence or None,
    )


def _shown(boxes: gpd.GeoDataFrame, rules: PublicRules, on: date) -> Iterator[_Box]:
    """Boxes with a location that are not hidden and were installed by a day."""
    for box, word, since, until, point in zip(
        boxes["box"],
        boxes["public"],
        boxes["installed_on"],
        boxes["removed_on"],
        boxes.geometry,
        strict=True,
    ):
        how = rules.shown_as(word)
        if how is None or point is None or point.is_empty:
            continue
        if since is not None and _day(since) > on:
            continue
        coarse = cell_of(point.x, point.y, size_deg=rules.coarse_cell)
        fine = cell_of(point.x, point.y, size_deg=rules.cell) if how == "shown" else coarse
        yield _Box(box, fine, coarse, in_place=until is None or _day(until) > on)


def _day(value: Any) -> date:
    return date.fromisoformat(value) if isinstance(value, str) else value


def _nests(
    nests: Iterable[PublishedNest],
    shown: dict[str, _Box],
    *,
    season: int,
    tallies: dict[GridCell, _Tally],
) -> tuple[Nest, ...]:
    """Every published nest with eggs, each counted in its cell."""
    found: list[tuple[GridCell, tuple[Any, ...]]] = []
    ends: dict[int, NDArray[np.int32]] = {}
    for nest in nests:
        histories = nest.histories
        row = histories.rows[nest.attempt]
        if row[c.PHASE] < c.EGGS:
            continue
        if id(histories) not in ends:
            ends[id(histories)] = stage_days(histories, date_attempts(histories))[:, END]
        ended = ends[id(histories)][nest.attempt]
        box = shown[histories.visits.boxes[row[c.BOX]]]
        cell = box.cell_for(nest.protection)
        species = known(histories.species_name(int(row[c.SPECIES])), histories.guide)
        tally = tallies[cell]
        tally.nests += 1
        if species is not None:
            tally.species.add(species)
        if row[c.SEASON] == season:
            tally.nested.add(box.box)
        fate = row[c.LATER_FATE] if row[c.FATE] == c.ONGOING else row[c.FATE]
        numbers = (row[c.EGGS_MAX], row[c.YOUNG_MAX], row[c.FLEDGED])
        row_of = (
            int(row[c.SEASON]),
            f"{day_of(ended):%Y-%m}",
            species or "",
            FATES[fate],
            *(int(number) for number in numbers),
        )
        found.append((cell, row_of))
    return tuple(_numbered(found))


def _numbered(found: Iterable[tuple[GridCell, tuple[Any, ...]]]) -> Iterator[Nest]:
    """Nests in an order that follows from their published values alone."""
    in_order = sorted(found)
    together = Counter((cell, values[0]) for cell, values in in_order)
    number: Counter[tuple[GridCell, int]] = Counter()
    for cell, (season, ended, species, fate, *counts) in in_order:
        key = (cell, season)
        number[key] += 1
        enough = together[key] >= MIN_NESTS
        eggs, young, fledged = (count if enough and count >= 0 else None for count in counts)
        yield Nest(
            nest=f"{cell.name}-{season}-{number[key]}",
            cell=cell.name,
            season=season,
            species=species or None,
            ended=ended,
            fate=fate,
            eggs=eggs,
            young=young,
            fledged=fledged,
        )


def _cell(cell: GridCell, tally: _Tally, *, shows_use: bool) -> Cell:
    return Cell(
        cell=cell.name,
        lon=cell.lon,
        lat=cell.lat,
        size_deg=cell.size_deg,
        uncertainty_m=cell.uncertainty_m,
        boxes=tally.boxes,
        nested=len(tally.nested),
        in_use=len(tally.in_use) if shows_use else None,
        nests=tally.nests,
        species=tuple(sorted(tally.species)),
    )


def _paths(paths: gpd.GeoDataFrame) -> Iterator[Path]:
    for name, kind, open_to, line in zip(
        paths["name"], paths["kind"], paths["open_to"], _drawn(paths), strict=True
    ):
        if open_to == "all" and line is not None:
            yield Path(name, kind, line)


def _places(places: gpd.GeoDataFrame) -> Iterator[Place]:
    for name, kind, point in zip(places["name"], places["kind"], _drawn(places), strict=True):
        if kind in PUBLIC_PLACES and point is not None:
            yield Place(name, kind, point.x, point.y)


def _zones(zones: gpd.GeoDataFrame) -> Iterator[Zone]:
    for name, kind, area in zip(zones["name"], zones["kind"], _drawn(zones), strict=True):
        if kind in PUBLIC_ZONES and area is not None:
            yield Zone(name, kind, area)


def _drawn(frame: gpd.GeoDataFrame) -> list[Any]:
    shapes = shapely.set_precision(
        shapely.force_2d(frame.geometry.to_numpy()), _GROUND_DEG, mode="pointwise"
    )
    return [None if shape is None or shape.is_empty else shape for shape in shapes]
