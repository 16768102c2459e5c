"""What a visit is checked against."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date
from functools import cached_property, lru_cache, partial
from typing import Any, Self, TypeVar
from zoneinfo import ZoneInfo

from layers.errors import BadValue
from layers.trail.bring import values
from layers.trail.bring.days import DayOrder
from layers.trail.bring.moments import stored_moment
from layers.trail.schema import VISITS
from layers.trail.store import Trail
from layers.trail.words import ADULT, NEST

T = TypeVar("T")


@dataclass(frozen=True)
class VisitRules:
    """What a visit is checked against.

    Attributes
    ----------
    boxes
        Ids of the boxes of the trail.
    signs, actions
        The words that the columns may hold, the trail's own ones too.
    species
        Gives the guide's name for what a person wrote; raises `BadValue` naming the nearest.
    today
        No visit is later.
    timezone
        IANA name of the trail's time zone.
    dates
        How days like 03/04/2026 are meant; None = such a day is refused.
    """

    boxes: AbstractSet[str]
    signs: tuple[str, ...]
    actions: tuple[str, ...]
    species: Callable[[str], str]
    today: date
    timezone: str
    dates: DayOrder | None = None

    @classmethod
    def of(
        cls,
        trail: Trail,
        *,
        species: Callable[[str], str],
        today: date,
        dates: DayOrder | None = None,
    ) -> Self:
        """The rules of a trail as it is now."""
        settings = trail.settings()
        return cls(
            boxes=frozenset(trail.box_ids()),
            signs=settings.words("signs"),
            actions=settings.words("actions"),
            species=species,
            today=today,
            timezone=settings.timezone,
            dates=dates,
        )

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)

    @cached_property
    def readers(self) -> Mapping[str, Callable[[object], Any]]:
        """What reads each cell but those of box, date and time, by column."""
        return {
            "observer": _remembering(values.line),
            "species": _remembering(lambda value: self.species(values.line(value))),
            "nest": _remembering(_nest),
            **{
                one.name: _remembering(partial(values.count, most=one.most or 0))
                for one in VISITS.fields
                if one.kind == "whole"
            },
            "eggs_warm": _remembering(values.yes_no),
            "adult": _remembering(partial(values.word, column="adult", known=ADULT)),
            "signs": _remembering(partial(values.words, column="signs", known=self.signs)),
            "actions": _remembering(partial(values.words, column="actions", known=self.actions)),
            "opened": _remembering(values.yes_no),
            "note": values.text,
            "visit_id": values.uuid_text,
            "entered_at": stored_moment,
            "replaces": values.uuid_text,
        }

    @cached_property
    def _alike(self) -> dict[str, str]:
        return {_plain_id(box): box for box in self.boxes}

    def box(self, value: object) -> str:
        """The id of a box of the trail; another is refused, naming one that reads the same."""
        box = values.box_id(value)
        if box in self.boxes:
            return box
        alike = self._alike.get(_plain_id(box))
        hint = f" (nearest: {alike})" if alike else ""
        raise BadValue(f"the id of a box of this trail{hint}", values.said(box))


def _nest(value: object) -> str:
    now = VISITS["nest"].former.get(values.text(value).casefold(), value)
    return values.word(now, column="nest", known=NEST)


def _remembering(parse: Callable[[object], T]) -> Callable[[object], T]:
    """The same answers for text met before, refusals too: most cells say what others did."""

    @lru_cache(maxsize=10_000)
    def answer(text: str) -> T | BadValue:
        try:
            return parse(text)
        except BadValue as error:
            return error

    def read(value: object) -> T:
        found = answer(value) if isinstance(value, str) else parse(value)
        if isinstance(found, BadValue):
            raise BadValue(found.fault.expected, found.fault.came)
        return found

    return read


def _plain_id(box: str) -> str:
    """An id without case, signs and leading zeros: a-7 and A07 read the same."""
    runs = re.findall(r"\d+|[^\W\d_]+", box.casefold())
    return "".join(run.lstrip("0") or "0" for run in runs)
