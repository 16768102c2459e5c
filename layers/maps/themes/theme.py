"""What a theme is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from layers.maps.symbols import Symbol
from layers.nesting.histories import Histories


@dataclass(frozen=True)
class Painted:
    """A theme applied to a trail.

    Attributes
    ----------
    symbols
        One for each class, in the order of the legend.
    class_of
        For each code of the theme's column the position of its class in `symbols`.
    """

    symbols: tuple[Symbol, ...]
    class_of: tuple[int, ...]


@dataclass(frozen=True)
class Theme:
    """A way to paint the boxes by one column of codes.

    Attributes
    ----------
    title
        What people read above the legend.
    painted
        Its symbols for a trail.
    day_by_day
        Whether its column is one of a day's own data (`payload.due_payload`), not of a season's
        `Timeline`.
    """

    name: str
    title: str
    column: str
    painted: Callable[[Histories], Painted]
    day_by_day: bool = False
