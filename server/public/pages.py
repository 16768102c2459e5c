"""The public pages, from a view; every value is escaped."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from itertools import groupby
from types import MappingProxyType
from typing import Any

import shapely
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from layers.errors import NotKnown
from layers.maps.key_drawing import key_drawing
from layers.nesting.guide import guide_with
from layers.publishing import Nest, PublicView
from layers.publishing.statements import NO_LICENCE
from layers.words import format_length, format_long_day
from server.public.story import MONTHS, plural, sentences, species_stories
from server.public.summary import seasons

_TEMPLATES = Environment(
    loader=PackageLoader("server.public"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def _month(month: str) -> str:
    return f"{date.fromisoformat(f'{month}-01'):%B %Y}"


def _middle(cell: str) -> str:
    """A cell's id as words: `42.645° N 77.955° W`."""
    north, east, _ = cell.split("-", 2)
    return f"{north[:-1]}° {north[-1]} {east[:-1]}° {east[-1]}"


def _or_dash(count: int | None) -> str:
    return "–" if count is None else str(count)


_TEMPLATES.filters |= {
    "long_day": format_long_day,
    "month": _month,
    "middle": _middle,
    "distance": format_length,
    "plural": plural,
    "or_dash": _or_dash,
}


def _drawn(view: PublicView) -> dict[str, Any]:
    """What the map's script draws."""
    return {
        "cells": [
            {
                "place": _middle(cell.cell),
                "lon": cell.lon,
                "lat": cell.lat,
                "bounds": cell.bounds,
                "size_deg": cell.size_deg,
                "boxes": cell.boxes,
                "nested": cell.nested,
                "in_use": cell.in_use,
                "nests": cell.nests,
                "species": cell.species,
            }
            for cell in view.cells
        ],
        # Where one square stands for the whole trail, boxes may be outside of it.
        "around_m": view.cells[0].uncertainty_m if view.cells and view.reach_m else None,
        "paths": _collection((path.line, path.name, path.kind) for path in view.paths),
        "places": _collection(
            (shapely.Point(place.lon, place.lat), place.name, place.kind) for place in view.places
        ),
        "zones": _collection((zone.area, zone.name, zone.kind) for zone in view.zones),
    }


def _collection(shapes: Iterable[tuple[shapely.Geometry, str | None, str | None]]) -> Any:
    return {
        "features": [
            {
                "type": "Feature",
                "geometry": json.loads(shapely.to_geojson(shape)),
                "properties": {"name": name, "kind": kind},
            }
            for shape, name, kind in shapes
        ]
    }


def _map(view: PublicView) -> Mapping[str, Any]:
    return {
        "title": "The season",
        "drawn": _drawn(view),
        "shows_use": _shows_use(view),
        "sentences": sentences(view),
        "species": [
            (one, next(bird for bird in view.birds if bird.name == one.name), _drawing(one.name))
            for one in species_stories(view)
        ],
        "months": MONTHS,
        "boxes": sum(cell.boxes for cell in view.cells),
        "widest_m": max((cell.uncertainty_m for cell in view.cells), default=0),
    }


def _drawing(species: str) -> Markup:
    """A drawing of its nest and eggs; empty for a species that the guide as shipped lacks."""
    try:
        return Markup(key_drawing(guide_with(None).find(species)))
    except NotKnown:
        return Markup()


def _shows_use(view: PublicView) -> bool:
    return any(cell.in_use is not None for cell in view.cells)


def _list(view: PublicView) -> Mapping[str, Any]:
    def season(nest: Nest) -> int:
        return nest.season

    def latest_first(nest: Nest) -> tuple[int, str, str]:
        return -nest.season, nest.ended, nest.species or ""

    ordered = sorted(view.nests, key=latest_first)
    nests = [(year, list(listed)) for year, listed in groupby(ordered, season)]
    return {"title": "Nests", "nests": nests}


def _seasons(view: PublicView) -> Mapping[str, Any]:
    return {"title": "Seasons", "seasons": seasons(view)}


def _about(view: PublicView) -> Mapping[str, Any]:
    return {"title": "About", "licence": view.licence or NO_LICENCE}


PAGES: Mapping[str, tuple[str, Callable[[PublicView], Mapping[str, Any]]]] = MappingProxyType(
    {
        "index.html": ("map.html", _map),
        "list.html": ("list.html", _list),
        "seasons.html": ("seasons.html", _seasons),
        "about.html": ("about.html", _about),
        "embed.html": ("embed.html", _map),
    }
)
"""Name of each page -> its template, and what it needs besides the view."""


def page(name: str, view: PublicView, *, address: str | None) -> bytes:
    """One page.

    Parameters
    ----------
    address
        Where the pages will be found, with a slash at its end; None = not known. Only
        what other sites read (Open Graph) needs it: links are relative.
    """
    template, values_of = PAGES[name]
    html = _TEMPLATES.get_template(template).render(
        view=view, page=name, address=address, description=_description(view), **values_of(view)
    )
    return html.encode()


def _description(view: PublicView) -> str:
    return f"{sentences(view)[0]} Locations are shown as grid squares, never exact."
