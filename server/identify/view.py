"""The key to species on this trail: for the call and for the visit form."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date

from layers.errors import BadValue
from layers.nesting.key import Answer, Seen, identify, region_of
from server.live.contents import Contents

MOST_EGGS = 60

MOST_LENGTH_MM = 150.0
"""As long as an egg in the guide may be (`guide.species.BOUNDS`)."""


def who_it_may_be(
    contents: Contents,
    *,
    on: date,
    materials: Sequence[str] = (),
    ground: str | None = None,
    marks: str | None = None,
    eggs: int | None = None,
    egg_length_mm: float | None = None,
) -> Answer:
    """Which species a nest seen on a day may belong to, by the guide and the trail's own nests.

    Raises
    ------
    BadValue
        A word is none of the key's.
    """
    trail = contents.histories
    seen = Seen(tuple(materials), ground, marks, eggs, egg_length_mm, region_of(trail))
    return identify(contents.guide, seen, trail=trail, on=on)


def read_eggs(text: str) -> int | None:
    """How many eggs, as typed; None where that is no number that the key can use."""
    found = re.fullmatch(r"\s*0*([1-9]\d?)\s*", text)
    eggs = int(found[1]) if found else 0
    return eggs if 0 < eggs <= MOST_EGGS else None


def read_length_mm(text: str) -> float | None:
    """The length of an egg as typed; None where nothing is.

    Raises
    ------
    BadValue
        It is no length of an egg.
    """
    if not text.strip():
        return None
    try:
        length = float(text.replace(",", "."))
    except ValueError:
        length = math.nan
    if not 0 < length <= MOST_LENGTH_MM:
        raise BadValue("a length in millimetres like 17.5", repr(text), column="egg length")
    return length
