"""What nests can be grouped by in a report."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from layers.errors import BadValue
from layers.nesting.season.covariates import NO_GUARD, Covariates
from layers.nesting.season.phenology import broods
from layers.nesting.season.tables import SeasonTable
from layers.nesting.timeline import NAME_NOT_RECORDED
from layers.trail.measures import said_mm

Labels = list[str | None]


@dataclass(frozen=True)
class Grouping:
    """One way to group nests.

    Attributes
    ----------
    words
        What the groups are, for a heading: "sections of the trail".
    of_nests
        The group of each attempt; None = not known. Takes the table, its covariates and the
        units to name lengths in.
    box_column
        The column of the boxes that the group comes from; None where it is no matter
        of the box.
    term
        The same as a term of a model; None where it is none.
    """

    words: str
    of_nests: Callable[[SeasonTable, Covariates, str], Labels]
    box_column: str | None = None
    term: str | None = None


def _column(name: str) -> Callable[[SeasonTable, Covariates, str], Labels]:
    return lambda table, covariates, units: list(covariates[name])


def _hole(table: SeasonTable, covariates: Covariates, units: str) -> Labels:
    return [None if np.isnan(mm) else said_mm(mm, units) for mm in covariates["hole_mm"]]


def _species(table: SeasonTable, covariates: Covariates, units: str) -> Labels:
    return [name or NAME_NOT_RECORDED for name in table.species()]


def _broods(table: SeasonTable, covariates: Covariates, units: str) -> Labels:
    return [f"{brood} brood" for brood in broods(table)]


GROUPINGS: Mapping[str, Grouping] = MappingProxyType(
    {
        "section": Grouping("sections of the trail", _column("section"), "section", "section"),
        "guard": Grouping("guards of the boxes", _column("guards"), "guards", "guards"),
        "hole": Grouping("widths of the hole", _hole, "hole_mm", "hole"),
        "habitat": Grouping("habitats around the boxes", _column("habitat"), "habitat", "habitat"),
        "mount": Grouping("what the boxes hang on", _column("mount"), "mount", "mount"),
        "species": Grouping("species", _species, term="species"),
        "brood": Grouping("first and later broods", _broods),
    }
)
"""Every grouping, by the name to ask for it."""


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


def box_labels(
    given: Grouping, boxes: pd.DataFrame, *, ids: tuple[str, ...], units: str
) -> Labels | None:
    """The group of each box of `ids`; None where boxes have none.

    A box's guards are those it has now.
    """
    if given.box_column is None:
        return None
    column = boxes.set_index("box")[given.box_column].reindex(list(ids))
    known = pd.Index(ids).isin(boxes["box"])
    return [
        _box_label(given.box_column, value, units) if is_box else None
        for value, is_box in zip(column, known, strict=True)
    ]


def _box_label(column: str, value: Any, units: str) -> str | None:
    missing = pd.isna(value) or value == ""
    if column == "guards":
        return NO_GUARD if missing else str(value).replace(";", ", ")
    if missing:
        return None
    return said_mm(float(value), units) if column == "hole_mm" else str(value)
