"""How a row of a file differs from the row that the trail holds in its stead."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from layers.trail.bring.values import said

_NOT_CONTENT = frozenset({"fid", "visit_id", "entered_at", "geometry"})


def same(one: object, other: object) -> bool:
    """Whether two cells hold the same; numbers up to what rounding does to them."""
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)
    return one == other


def differences(new: Mapping[str, Any], stored: Mapping[str, Any]) -> str:
    """The columns in which two rows differ, in words; empty if in none.

    A blank cell of `new` that the trail has filled in is told too.
    """
    told = [
        f"{column} {_told(new[column])} instead of {_told(stored.get(column))}"
        for column in new
        if column not in _NOT_CONTENT and not same(new[column], stored.get(column))
    ]
    return ", ".join(told)


def _told(value: object) -> str:
    return "blank" if value is None else said(value)
