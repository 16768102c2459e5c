"""Parts of pages as HTML, written once: for a page of the server, the map's card, and one file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from layers.maps.nest_picture import nest_picture
from layers.words import format_long_day

TEMPLATES = Path(__file__).parent / "templates"
"""Templates of these parts, to be used by other templates too."""


def days_ago(days: int | None) -> str:
    """How long ago a visit was, in words; None = there was none this season."""
    if days is None:
        return "none this season"
    return {0: "on this day", 1: "1 day ago"}.get(days, f"{days} days ago")


def next_day(day: str) -> str:
    """The day after a day, both as ISO text."""
    return (date.fromisoformat(day) + timedelta(days=1)).isoformat()


class DatedText(NamedTuple):
    """A text that holds from a day on, and until before another; None = without a limit."""

    text: str
    begin: str | None
    end: str | None

    def holds(self, on: str) -> bool:
        """Whether it holds on a day."""
        return (self.begin or "") <= on and (self.end is None or on < self.end)


def fates(attempt: Mapping[str, Any]) -> Iterator[DatedText]:
    """The stage of a nest on each day, with its outcome if that is known, without a gap."""
    ongoing = attempt["fate"] == "ongoing"
    end = f"{attempt['fate']}: {attempt['cause']}" if attempt["cause"] else attempt["fate"]
    between = attempt["stage"] if ongoing else end
    known_to = None
    for piece in attempt["bar"]:
        if known_to is not None and known_to < piece["from"]:
            yield DatedText(between, known_to, piece["from"])
        later = "" if ongoing else f" on this day; later {end}"
        yield DatedText(piece["stage"] + later, piece["from"], piece["to"])
        known_to = piece["to"]
    yield DatedText(between, known_to, None)


def last_inside(visits: list[Mapping[str, Any]]) -> Iterator[DatedText]:
    """What was last seen inside on each day; `visits` newest first."""
    end = None
    for visit in visits:
        if visit["inside"] and visit["date"] != end:
            text = f"Last seen inside ({format_long_day(visit['date'])}): {visit['inside']}."
            yield DatedText(text, visit["date"], end)
            end = visit["date"]
    yield DatedText("Nothing is recorded of the inside.", None, end)


FILTERS = {
    "long_day": format_long_day,
    "days_ago": days_ago,
    "next_day": next_day,
    "nest_picture": nest_picture,
    "fates": fates,
    "last_inside": last_inside,
}
"""What the templates format with."""

_ENVIRONMENT = Environment(
    loader=FileSystemLoader(TEMPLATES),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_ENVIRONMENT.filters |= FILTERS


def rendered(template: str, **values: Any) -> str:
    """One of `TEMPLATES` as text; every value is escaped."""
    return _ENVIRONMENT.get_template(template).render(**values)


def card_html(
    card: Mapping[str, Any], *, linked: bool, recorded: bool = True, base: str = ""
) -> str:
    """The map's card of a box, but for its head.

    Parameters
    ----------
    card
        As `layers.nesting.card.box_card` gives it.
    linked
        Whether there is a server with the box's page.
    recorded
        Whether that server also has the form of a visit.
    base
        What precedes the addresses of that server, such as `/t/alderbeck`.

    Parts that hold on some days alone carry `data-from` and `data-to` (excluded) or
    `data-except`; the script shows those of the day that the map shows. It fills the element
    with `data-state`.
    """
    bars = [attempt["bar"] for attempt in card["attempts"]]
    # A nest without a bar is shown on every day.
    first_nest = min((bar[0]["from"] for bar in bars), default=None) if all(bars) else None
    values = {"linked": linked, "recorded": recorded, "base": base, "first_nest": first_nest}
    return rendered("card.html", card=card, **values)
