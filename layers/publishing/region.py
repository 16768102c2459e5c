"""The public view of several trails as one: a region's page is made from it.

It is computed from their public views and from nothing besides, so it can hold nothing that they
do not. Squares of the same size at the same place are one, with their numbers added. No trail is
named: a coarse trail's own name could be looked up. What a trail's rules withhold stays withheld.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby
from typing import TypeVar

from layers.publishing.cells import GridCell
from layers.publishing.nests import release_day
from layers.publishing.values import Cell, PublicView
from layers.words import format_count

T = TypeVar("T")

NO_TRAIL = "No trail has agreed to be shown here."


def region_view(views: Sequence[PublicView], *, on: date) -> PublicView:
    """One view of trails that agreed, on a day.

    Parameters
    ----------
    views
        Of each trail, as released for the month of the day.
    """
    cells = sorted((cell for view in views for cell in view.cells), key=_place)
    released_on = min((view.released_on for view in views), default=release_day(on))
    return PublicView(
        trail=format_count(len(views), "nest box trail", "nest box trails").capitalize(),
        region=_if_of_all(view.region for view in views),
        contact=None,
        released_on=released_on,
        season=max((view.season for view in views), default=released_on.year),
        published_until=min((view.published_until for view in views), default=released_on),
        cell_deg=max((view.cell_deg for view in views), default=0.01),
        reach_m=None,
        cells=tuple(_merged(list(same)) for _, same in groupby(cells, key=_place)),
        nests=tuple(sorted((nest for view in views for nest in view.nests), key=str)),
        birds=tuple(
            bird for _, bird in sorted({bird.name: bird for v in views for bird in v.birds}.items())
        ),
        paths=_all(view.paths for view in views),
        places=_all(view.places for view in views),
        zones=_all(view.zones for view in views),
        generalised=_once(view.generalised for view in views),
        withheld=_once(view.withheld for view in views) if views else (NO_TRAIL,),
        licence="; ".join(sorted({view.licence for view in views if view.licence})) or None
        if all(view.licence for view in views)
        else None,
    )


def _place(cell: Cell) -> GridCell:
    return GridCell.named(cell.cell)


def _merged(same: Sequence[Cell]) -> Cell:
    in_use = [cell.in_use for cell in same if cell.in_use is not None]
    return replace(
        same[0],
        uncertainty_m=max(cell.uncertainty_m for cell in same),
        boxes=sum(cell.boxes for cell in same),
        nested=sum(cell.nested for cell in same),
        # A sum without the trails that withhold it would be the numbers of the others alone.
        in_use=sum(in_use) if len(in_use) == len(same) else None,
        nests=sum(cell.nests for cell in same),
        species=tuple(sorted({name for cell in same for name in cell.species})),
    )


def _all(of_views: Iterable[tuple[T, ...]]) -> tuple[T, ...]:
    """What each view has, in an order that does not follow that of the trails."""
    return tuple(sorted((one for of_view in of_views for one in of_view), key=str))


def _once(of_views: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    """Each sentence once."""
    return tuple(dict.fromkeys(sentence for of_view in of_views for sentence in of_view))


def _if_of_all(words: Iterable[str | None]) -> str | None:
    different = set(words)
    return different.pop() if len(different) == 1 else None
