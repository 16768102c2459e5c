"""Text that a spreadsheet would run as a formula."""

from __future__ import annotations

from typing import Any

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""Beginnings of what spreadsheets take for a formula; common practice, no source."""


def harmless(value: Any) -> Any:
    """A cell's value; text that begins like a formula gets an apostrophe in front."""
    return f"'{value}" if isinstance(value, str) and _like_a_formula(value) else value


def restored(cell: str) -> str:
    """A cell of text without the apostrophe that `harmless` put in front."""
    return cell[1:] if cell[:1] == "'" and _like_a_formula(cell) else cell


def _like_a_formula(text: str) -> bool:
    # Behind apostrophes too, so that what begins with one comes back as it was.
    return text.lstrip("'").startswith(_FORMULA)
