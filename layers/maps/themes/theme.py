"""What a theme is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

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


class Theme(Protocol):
    """A way to paint the boxes by one column of codes."""

    @property
    def name(self) -> str: ...

    @property
    def title(self) -> str:
        """What people read above the legend."""
        ...

    @property
    def column(self) -> str:
        """The column that it paints."""
        ...

    @property
    def day_by_day(self) -> bool:
        """Whether its column is one of a day's own data (`payload.due_payload`), not of a season's
        `Timeline`.
        """
        ...

    def painted(self, histories: Histories) -> Painted:
        """Its symbols for a trail."""
        ...
