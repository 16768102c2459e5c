"""A release: the public view of a month as it is stored, so that no day of the month differs.

What a trail's file held when the release was made is all that the month shows. A box that is
moved, marked or added, and a visit that is corrected, change nothing before the next one.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import shapely

from layers.publishing.values import Bird, Cell, Nest, Path, Place, PublicView, Zone

FORMAT = 1
"""Rises when a stored view means something else: older ones are then made anew."""

_OF_CLASS: Mapping[str, Callable[..., Any]] = {
    "cells": Cell,
    "nests": Nest,
    "birds": Bird,
    "paths": Path,
    "places": Place,
    "zones": Zone,
}
_DAYS = ("released_on", "published_until")
_SHAPES = ("line", "area")


def view_to_text(view: PublicView) -> str:
    """The view as JSON."""
    return json.dumps({"format": FORMAT, **_plain(view)}, ensure_ascii=False)


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        return {one.name: _plain(getattr(value, one.name)) for one in dataclasses.fields(value)}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, shapely.Geometry):
        return shapely.to_wkb(value, hex=True)
    return value.isoformat() if isinstance(value, date) else value


def view_from_text(text: str) -> PublicView | None:
    """The view that `view_to_text` gave; None where it is of another format."""
    try:
        held = json.loads(text)
        if held.pop("format") != FORMAT:
            return None
        for name, make in _OF_CLASS.items():
            held[name] = tuple(make(**_read(row)) for row in held[name])
        for name in _DAYS:
            held[name] = date.fromisoformat(held[name])
        return PublicView(**{name: _tuple(value) for name, value in held.items()})
    except (ValueError, TypeError, KeyError, AttributeError, shapely.errors.GEOSException):
        return None


def _read(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: shapely.from_wkb(value) if name in _SHAPES else _tuple(value)
        for name, value in row.items()
    }


def _tuple(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
