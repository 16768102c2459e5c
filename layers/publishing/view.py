"""From a trail to its public view."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import geopandas as gpd

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts, stage_days
from layers.nesting.dating.stages import END
from layers.nesting.guide import Guide
from layers.nesting.histories import Histories
from layers.publishing import statements
from layers.publishing.cells import GridCell
from layers.publishing.identifiers import Identifiers
from layers.publishing.layout import Layout, laid_out
from layers.publishing.nests import boxes_in_use, published_nests, published_until, release_day
from layers.publishing.released import public_paths, public_places, public_zones
from layers.publishing.values import Bird, Cell, Nest, PublicView
from layers.trail.coding import day_of
from layers.trail.public_rules import PublicRules
from layers.trail.settings import Settings, season_of
from layers.trail.words import FATES

MIN_NESTS = 3
"""Published nests of a cell and season from which numbers of eggs and young are published: of
two, the keeper of one learns the other. Three is the usual least number of a table's cell in
official statistics (from memory)."""

UNNAMED = "A nest box trail"
"""Title of the pages of a coarse trail to which the keeper gave no public name: its own is
mostly that of a place, whose outline anybody can look up."""


@dataclass(frozen=True)
class _Box:
    """One box that may be counted."""

    lon: float
    lat: float
    coarse: bool
    in_place: bool


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
    identifiers: Identifiers,
    before: PublicView | None = None,
) -> PublicView:
    """All that the public may see of a trail in the month of a day.

    The view is the same on every day of a month. It is that of a trail without its hidden
    boxes, without every visit made after the last published month, and without the visits of
    each nest that is not published yet.

    Parameters
    ----------
    boxes, paths, places, zones
        As `Trail` gives them.
    histories
        Of all visits, corrected ones left out; boxes besides those of `boxes` do not count.
    identifiers
        What the nests are called.
    before
        The view of the release before, whose one square for the whole trail stays.
    """
    rules = settings.public_rules
    released_on = release_day(on)
    until = published_until(on, delay_days=rules.delay_days)
    shown = _shown(boxes, rules, released_on) if rules.is_open else {}
    layout = _layout(shown, rules, before)
    season = season_of(released_on, settings.season_starts)
    tallies: defaultdict[GridCell, _Tally] = defaultdict(_Tally)
    for name, box in shown.items():
        if box.in_place:
            tallies[layout.cell_of_box[name]].boxes += 1
    nests = published_nests(histories, boxes=shown, rules=rules, until=until)
    names = identifiers.public_nests(nests)
    listed = _nests(nests, names, layout, season=season, tallies=tallies)
    if rules.ongoing == "in use":
        for name in boxes_in_use(histories, boxes=shown, rules=rules, on=on):
            if shown[name].in_place:
                tallies[layout.cell_of_box[name]].in_use.add(name)
    released = rules.released if rules.is_open and not layout.hides_ground else ()
    return PublicView(
        trail=rules.name or (UNNAMED if layout.hides_ground else settings.name),
        region=rules.region or None,
        contact=rules.contact or None,
        released_on=released_on,
        season=season,
        published_until=until,
        cell_deg=layout.size_deg,
        reach_m=layout.reach_m,
        cells=tuple(
            _cell(layout, cell, tallies[cell], shows_use=rules.ongoing == "in use")
            for cell in sorted(tallies)
        ),
        nests=listed,
        birds=_birds(listed, histories.guide),
        paths=public_paths(paths) if "paths" in released else (),
        places=public_places(places) if "places" in released else (),
        zones=public_zones(zones) if "zones" in released else (),
        generalised=statements.generalised(rules, layout, until=until, min_nests=MIN_NESTS)
        if rules.is_open
        else (),
        withheld=statements.withheld(rules, hides_ground=layout.hides_ground)
        if rules.is_open
        else (statements.CLOSED,),
        licence=rules.licence or None,
        identifier=identifiers.public_trail if rules.is_open else "",
    )


def squares_of_boxes(
    boxes: gpd.GeoDataFrame, rules: PublicRules, on: date, *, before: PublicView | None = None
) -> Layout:
    """The square of each box that the view of a day counts: for the keeper, never published."""
    return _layout(_shown(boxes, rules, release_day(on)), rules, before)


def _layout(shown: Mapping[str, _Box], rules: PublicRules, before: PublicView | None) -> Layout:
    marked = any(box.coarse for box in shown.values()) if shown else rules.unmarked == "coarse"
    coarse = marked or bool(rules.coarse_species)
    size_deg = rules.coarse_cell if coarse else rules.cell
    settled = None
    if before is not None and before.reach_m is not None and before.cell_deg == size_deg:
        settled = GridCell.named(before.cells[0].cell) if before.cells else None
    points = {name: (box.lon, box.lat) for name, box in shown.items()}
    return laid_out(points, size_deg=size_deg, settled=settled, coarse=coarse)


def _shown(boxes: gpd.GeoDataFrame, rules: PublicRules, on: date) -> dict[str, _Box]:
    """Boxes with a location that are not hidden and were installed by a day."""
    found = {}
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
        in_place = until is None or _day(until) > on
        found[box] = _Box(point.x, point.y, coarse=how == "coarse", in_place=in_place)
    return found


def _day(value: Any) -> date:
    return date.fromisoformat(value) if isinstance(value, str) else value


def _nests(
    nests: Histories,
    names: Iterable[str],
    layout: Layout,
    *,
    season: int,
    tallies: dict[GridCell, _Tally],
) -> tuple[Nest, ...]:
    """Every published nest with eggs, each counted in its cell."""
    found: list[tuple[GridCell, tuple[Any, ...]]] = []
    ends = stage_days(nests, date_attempts(nests))[:, END]
    for name, row, ended in zip(names, nests.rows, ends, strict=True):
        if row[c.PHASE] < c.EGGS:
            continue
        box = nests.visits.boxes[row[c.BOX]]
        cell = layout.cell_of_box[box]
        species = nests.guide.known_name(nests.species_name(int(row[c.SPECIES])))
        tally = tallies[cell]
        tally.nests += 1
        if species is not None:
            tally.species.add(species)
        if row[c.SEASON] == season:
            tally.nested.add(box)
        fate = row[c.LATER_FATE] if row[c.FATE] == c.ONGOING else row[c.FATE]
        numbers = (row[c.EGGS_MAX], row[c.YOUNG_MAX], row[c.FLEDGED])
        row_of = (
            int(row[c.SEASON]),
            f"{day_of(ended):%Y-%m}",
            species or "",
            FATES[fate],
            *(int(number) for number in numbers),
            name,
        )
        found.append((cell, row_of))
    return tuple(_in_order(found))


def _in_order(found: Iterable[tuple[GridCell, tuple[Any, ...]]]) -> Iterator[Nest]:
    """Nests in an order that follows from their published values, and at last from their names."""
    in_order = sorted(found)
    together = Counter((cell, values[0]) for cell, values in in_order)
    for cell, (season, ended, species, fate, *counts, name) in in_order:
        enough = together[cell, season] >= MIN_NESTS
        eggs, young, fledged = (count if enough and count >= 0 else None for count in counts)
        yield Nest(
            nest=name,
            cell=cell.name,
            season=season,
            species=species or None,
            ended=ended,
            fate=fate,
            eggs=eggs,
            young=young,
            fledged=fledged,
        )


def _birds(nests: Iterable[Nest], guide: Guide) -> tuple[Bird, ...]:
    found = []
    for name in sorted({nest.species for nest in nests if nest.species is not None}):
        species = guide.find(name)
        looks = (species.nest or "", species.eggs or "")
        found.append(Bird(species.common, species.scientific, *looks))
    return tuple(found)


def _cell(layout: Layout, cell: GridCell, tally: _Tally, *, shows_use: bool) -> Cell:
    return Cell(
        cell=cell.name,
        lon=cell.lon,
        lat=cell.lat,
        size_deg=cell.size_deg,
        uncertainty_m=layout.uncertainty_m(cell),
        boxes=tally.boxes,
        nested=len(tally.nested),
        in_use=len(tally.in_use) if shows_use else None,
        nests=tally.nests,
        species=tuple(sorted(tally.species)),
    )
