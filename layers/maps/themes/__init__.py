"""Themes of the map: what its symbols stand for. To add one is to add a file and its name here."""

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
