"""Times of a day in minutes."""

from __future__ import annotations

DAY_MINUTES = 24 * 60.0


def clock(minutes: float) -> str:
    """Minutes after midnight as hours and minutes, such as "09:05"; past midnight goes on."""
    whole = round(minutes)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"
