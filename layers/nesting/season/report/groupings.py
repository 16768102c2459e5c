"""What nests can be grouped by in a report."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import pandas as pd

from layers.errors import BadValue
from layers.nesting.season.covariates import NO_GUARD, Covariates
from layers.nesting.season.phenology import broods
from layers.nesting.season.tables import SeasonTable
from layers.nesting.timeline import NAME_NOT_RECORDED
from layers.trail.measures import format_height, format_mm

Labels = list[str | None]

HEIGHT_STEP_M = 0.5
"""Heights are grouped to the nearest of these steps (our own choice, no source)."""

COMPASS = ("north", "east", "south", "west")
"""The quarters that a hole may face, clockwise."""

# Last whole year of each group of box ages (our own choice, no source).
_AGES = {2: "0 to 2 years", 5: "3 to 5 years", 10: "6 to 10 years"}


@dataclass(frozen=True)
class Grouping:
    """One way to group nests.

    Attributes
    ----------
    words
        What the groups are, for a heading: "sections of the trail".
    column
        The covariate that it comes from; None for what only the attempts give.
    label
        The group of one value of that column, with the units to name lengths in.
    of_boxes
        Whether the column is one of the boxes too.
    term
        The same as a term of a model; None where it is none.
    """

    words: str
    column: str | None
    label: Callable[[Any, str], str]
    of_boxes: bool = True
    term: str | None = None

    def of_nests(self, table: SeasonTable, covariates: Covariates, units: str) -> Labels:
        """The group of each attempt; None = not known."""
        if self.column is None:
            values: Labels = table.species() if self.term == "species" else list(broods(table))
            return [self.label(value, units) for value in values]
        given = covariates[self.column].tolist()
        return [None if pd.isna(value) else self.label(value, units) for value in given]

    def of_each_box(
        self, boxes: pd.DataFrame, *, ids: tuple[str, ...], units: str
    ) -> Labels | None:
        """The group of each box of `ids`; None where boxes have none.

        A box's guards are those it has now.
        """
        if self.column is None or not self.of_boxes:
            return None
        column = boxes.set_index("box")[self.column].reindex(list(ids))
        if self.column == "guards":
            column = column.where(column.notna() & (column != ""), NO_GUARD)
        known = pd.Index(ids).isin(boxes["box"])
        return [
            self.label(value, units) if is_box and not (pd.isna(value) or value == "") else None
            for value, is_box in zip(column, known, strict=True)
        ]


def _word(value: Any, units: str) -> str:
    return str(value)


def _guards(value: Any, units: str) -> str:
    return str(value).replace(";", ", ")


def _height(metres: float, units: str) -> str:
    return f"about {format_height(round(metres / HEIGHT_STEP_M) * HEIGHT_STEP_M, units)}"


def facing(degrees: float, units: str = "") -> str:
    """The quarter of the compass that a bearing is in."""
    return COMPASS[round(degrees / 90) % 4]


def _age(years: float, units: str) -> str:
    return next((label for last, label in _AGES.items() if years < last + 1), "over 10 years")


GROUPINGS: Mapping[str, Grouping] = MappingProxyType(
    {
        "section": Grouping("sections of the trail", "section", _word, term="section"),
        "guard": Grouping("guards of the boxes", "guards", _guards, term="guards"),
        "hole": Grouping("widths of the hole", "hole_mm", format_mm, term="hole"),
        "height": Grouping(
            "heights of the hole above the ground", "height_m", _height, term="height"
        ),
        "facing": Grouping("ways the hole faces", "facing_deg", facing, term="facing"),
        "box age": Grouping(
            "ages of the boxes when the nest began",
            "box_years",
            _age,
            of_boxes=False,
            term="box age",
        ),
        "habitat": Grouping("habitats around the boxes", "habitat", _word, term="habitat"),
        "mount": Grouping("what the boxes hang on", "mount", _word, term="mount"),
        "species": Grouping(
            "species", None, lambda name, units: name or NAME_NOT_RECORDED, term="species"
        ),
        "brood": Grouping("first and later broods", None, lambda brood, units: f"{brood} brood"),
    }
)
"""Every grouping, by its name."""


def grouping(name: str) -> Grouping:
    """The grouping of that name.

    Raises
    ------
    BadValue
        There is none of that name.
    """
    if name not in GROUPINGS:
        raise BadValue(f"one of {', '.join(GROUPINGS)}", repr(name), column="by")
    return GROUPINGS[name]
