"""Text that a spreadsheet would run as a formula."""

from __future__ import annotations

from typing import Any

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""Beginnings of what spreadsheets take for a formula; common practice, no source."""


def harmless(value: Any) -> Any:
    """A cell's value; text that begins like a formula gets an apostrophe in front."""
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA) else value
