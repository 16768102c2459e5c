"""The key to species on this trail: for the call and for the visit form."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from layers.errors import BadValue
from layers.nesting.key import Identification, Seen, identify, region_at, region_of
from server.live.contents import Contents

MOST_EGGS = 60

MOST_LENGTH_MM = 150.0
"""As long as an egg in the guide may be (`guide.species.BOUNDS`)."""


def who_it_may_be(
    contents: Contents,
    *,
    on: date,
    materials: Sequence[str] = (),
    form: str | None = None,
    ground: str | None = None,
    marks: str | None = None,
    eggs: int | None = None,
    egg_length_mm: float | None = None,
    adult: str | None = None,
    box: str | None = None,
) -> Identification:
    """Which species a nest seen on a day may belong to, by the guide and the trail's own nests.

    Parameters
    ----------
    box
        The box that the nest is in: its hole, if round, leaves out species that do not pass it.

    Raises
    ------
    BadValue
        A word is none of the key's.
    NotKnown
        There is no such box.
    """
    trail = contents.histories
    seen = Seen(
        materials=tuple(materials),
        form=form,
        ground=ground,
        marks=marks,
        eggs=eggs,
        egg_length_mm=egg_length_mm,
        adult=adult,
        region=region_of_trail(contents),
        hole_mm=None if box is None else _round_hole_mm(contents.ground.box(box)),
    )
    return identify(contents.guide, seen, trail=trail, on=on)


def region_of_trail(contents: Contents) -> str | None:
    """The region by where the boxes are; where none has a place, by the species recorded."""
    points = contents.ground.boxes.geometry.dropna()
    if len(points) == 0:
        return region_of(contents.histories)
    return region_at(float(points.x.median()), float(points.y.median()))


def _round_hole_mm(box: Mapping[str, Any]) -> float | None:
    return box["hole_mm"] if box["hole_shape"] in (None, "", "round") else None


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
