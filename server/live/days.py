"""Days as people and programs write them to us."""

from __future__ import annotations

import re
from datetime import date

EXPECTED_DAY = "a date like 2026-05-14, from 1900 to 2999"


def read_day(text: str) -> date:
    """The day that ISO text names.

    Raises
    ------
    ValueError
        It is no day of that form, or so far off that it has no season.
    """
    if not re.fullmatch(r"(19|2\d)\d\d-\d\d-\d\d", text):
        raise ValueError(EXPECTED_DAY)
    return date.fromisoformat(text)
