"""Themes of the map: what its symbols stand for. To add one is to add a file and its name here.

A theme shows a whole season from its `Timeline`, or one day alone. What is due is of one day,
so it has an address of its own, requested only when that theme is shown: for 10,000 boxes 0.6 s
once and 0.01 s after a visit, while page and season data stay as they were.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from layers.maps.themes import due, fate, occupancy, species
from layers.maps.themes.theme import Painted, Theme

THEMES: Mapping[str, Theme] = MappingProxyType(
    {theme.name: theme for theme in (occupancy.THEME, species.THEME, fate.THEME, due.THEME)}
)
"""Every theme by name; the first is shown first."""

__all__ = ["THEMES", "Painted", "Theme"]
