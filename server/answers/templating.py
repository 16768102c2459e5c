"""Pages from templates; every value is escaped unless a template says otherwise."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from server.answers.nest_picture import nest_picture

STATIC = Path(__file__).parents[1] / "static"
"""Where the scripts and styles of pages lie."""

_TEMPLATES = Environment(
    loader=PackageLoader("server"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


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
