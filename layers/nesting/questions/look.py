"""A visit beside the nest that it belongs to, read from plain rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from layers.nesting.guide import Guide
from layers.nesting.questions.figures import Figures, figures_of
from layers.words import format_day

Row = Mapping[str, Any]

# Two visits further apart are not of one nest.
_GAP_DAYS = 30

_EMPTYING = ("cleaned", "nest removed")


class Look:
    """A visit beside the nest that it belongs to: the visits since the box was last empty.

    `earlier` and `later` are in the order of their days.
    """

    def __init__(
        self,
        box: Row,
        visit: Row,
        guide: Guide,
        *,
        earlier: Sequence[Row],
        same_day: Sequence[Row],
        later: Sequence[Row],
    ) -> None:
        self.box, self.visit = box, visit
        self.earlier, self.same_day, self.later = earlier, same_day, later
        self.nest, self.empty = nest_before(visit, self.earlier)
        name = visit.get("species") or next(
            (one["species"] for one in reversed(self.nest) if one.get("species")), None
        )
        self.figures: Figures = figures_of(guide, name)

    def days_since(self, other: Row) -> int:
        """Days from another visit to this one."""
        return days_between(other, self.visit)

    @property
    def following(self) -> list[Row]:
        """Later visits of the same nest."""
        found: list[Row] = []
        before = self.visit
        for one in self.later:
            if was_emptied(before) or is_empty(one) or days_between(before, one) > _GAP_DAYS:
                break
            found.append(one)
            before = one
        return found


def nest_before(visit: Row, earlier: Sequence[Row]) -> tuple[list[Row], Row | None]:
    """The visits to the same nest before a visit, in order, and the visit before these that
    found or left the box empty; None where there is none.
    """
    nest: list[Row] = []
    after = visit
    for one in reversed(earlier):
        if days_between(one, after) > _GAP_DAYS:
            return nest[::-1], None
        if is_empty(one) or was_emptied(one):
            return nest[::-1], one
        nest.append(one)
        after = one
    return nest[::-1], None


def days_between(first: Row, second: Row) -> int:
    return (date.fromisoformat(second["seen_on"]) - date.fromisoformat(first["seen_on"])).days


def on_day(visit: Row) -> str:
    return f"on {format_day(date.fromisoformat(visit['seen_on']))}"


def count_of(visit: Row, column: str) -> int:
    """A count; one that was not recorded is 0."""
    return int(visit.get(column) or 0)


def has_young(visit: Row) -> bool:
    return count_of(visit, "young") > 0 or (
        visit.get("young") is None and visit.get("young_days") is not None
    )


def no_eggs(visit: Row) -> bool:
    return visit.get("eggs") == 0 or (visit.get("eggs") is None and visit.get("nest") == "none")


def no_young(visit: Row) -> bool:
    return not has_young(visit) and (visit.get("young") == 0 or visit.get("nest") == "none")


def is_empty(visit: Row) -> bool:
    return no_eggs(visit) and no_young(visit)


def was_emptied(visit: Row) -> bool:
    actions = visit.get("actions")
    return bool(actions) and any(one in str(actions).split(";") for one in _EMPTYING)


def is_kept_warm(visit: Row) -> bool:
    return visit.get("eggs_warm") == "yes" or visit.get("adult") in ("sitting", "flushed")
