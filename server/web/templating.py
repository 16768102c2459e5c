"""Pages from templates; every value is escaped unless a template says otherwise."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from layers.maps.nest_picture import nest_picture
from layers.maps.page import ASSETS

_SERVER = Path(__file__).parents[1]


def static_folders() -> dict[str, Path]:
    """Name below `/static` -> folder of scripts and styles: one a feature, and the map's."""
    own = {folder.parent.name: folder for folder in sorted(_SERVER.glob("*/static"))}
    return own | {"map": ASSETS}


def static_file(feature: str, name: str) -> Path:
    """A script or style of a feature."""
    return _SERVER / feature / "static" / name


# The public pages have templates of their own (`server/public/pages.py`), some of equal names.
_FOLDERS = sorted(set(_SERVER.glob("*/templates")) - {_SERVER / "public" / "templates"})

_TEMPLATES = Environment(
    loader=FileSystemLoader(_FOLDERS),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_TEMPLATES.globals |= {"links": (), "features": frozenset()}


def _long_day(day: date | str) -> str:
    day = date.fromisoformat(day) if isinstance(day, str) else day
    return f"{day.day} {day:%B} {day.year}"


def _days_ago(days: int | None) -> str:
    if days is None:
        return "none this season"
    return {0: "today", 1: "1 day ago"}.get(days, f"{days} days ago")


_TEMPLATES.filters |= {
    "long_day": _long_day,
    "days_ago": _days_ago,
    "nest_picture": nest_picture,
}


def rendered(template: str, **values: Any) -> str:
    """A page as HTML text."""
    return _TEMPLATES.get_template(template).render(**values)
