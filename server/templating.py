"""Pages from templates; every value is escaped unless a template says otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

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


def _season_bar(nest: Mapping[str, Any]) -> Markup:
    """The stages of a nest as a picture, with the same in words."""
    parts = nest["bar"]
    if not parts:
        return Markup("")
    first = date.fromisoformat(parts[0]["from"])
    whole = max((date.fromisoformat(parts[-1]["to"]) - first).days, 1)
    drawn, said = [], []
    for part in parts:
        begin, end = date.fromisoformat(part["from"]), date.fromisoformat(part["to"])
        left, width = (begin - first).days * 100 / whole, (end - begin).days * 100 / whole
        drawn.append(
            Markup('<rect class="stage-{}" x="{:.2f}" y="0" width="{:.2f}" height="10"/>').format(
                part["stage"], left, width
            )
        )
        said.append(f"{part['stage']} from {_long_day(begin)}")
    return Markup(
        '<svg class="season-bar" viewBox="0 0 100 10" preserveAspectRatio="none" role="img" '
        'aria-label="{}">{}</svg><p class="bar-said">{}</p>'
    ).format(", ".join(said), Markup("").join(drawn), ", ".join(said) + ".")


_TEMPLATES.filters |= {
    "long_day": _long_day,
    "days_ago": _days_ago,
    "season_bar": _season_bar,
}


def rendered(template: str, **values: Any) -> str:
    """A page as HTML text."""
    return _TEMPLATES.get_template(template).render(**values)
