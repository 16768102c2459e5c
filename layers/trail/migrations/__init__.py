"""Steps from one format of the trail file to the next.

A step changes rows whose meaning or words have changed. It runs in the transaction of
`upgrade.py`, while no trigger of ours is there; columns that are declared and missing,
and triggers, are put in after the last step. A step is never changed once released.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Mapping
from types import MappingProxyType

from layers.errors import NotATrail
from layers.trail.migrations import to_2
from layers.trail.schema import FORMAT

STEPS: Mapping[int, Callable[[sqlite3.Connection], None]] = MappingProxyType({2: to_2.step})
"""Number of a format -> what brings a file of the format before to it."""


def format_number(text: object) -> int:
    """The number in a text like `boxround 2`.

    Raises
    ------
    NotATrail
        It is no such text.
    """
    found = re.fullmatch(r"boxround (\d{1,6})", str(text))
    if found is None:
        raise NotATrail(f"Expected a trail file of format {FORMAT!r}, got {text!r}")
    return int(found[1])


TODAY = format_number(FORMAT)
"""The number of the format that this program writes."""
