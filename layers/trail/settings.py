"""What holds for a whole trail: the one row of its `trail` table."""

from __future__ import annotations

import json
import re
import zoneinfo
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any

from layers.errors import BadValue
from layers.trail import words
from layers.trail.public_rules import PublicRules
from layers.trail.schema import EXTENDABLE, TRAIL


@cache
def _timezones() -> frozenset[str]:
    """Names of the time zones of this machine; looking them up reads 600 files, 25 ms."""
    return frozenset(zoneinfo.available_timezones())


@dataclass(frozen=True)
class Settings:
    """A trail's settings.

    Attributes
    ----------
    season_starts
        `MM-DD` on which a season begins; a season is named after the year it begins in.
    visit_every_days
        Days after which a box is overdue for a visit.
    open_ground_m
        Longest leg of a round straight over open ground; 0 for none.
    own_words
        The trail's own words by column (`signs`, `actions`, `guards`).
    guide
        The trail's own species figures as TOML text; None = the guide as shipped.
    public_rules
        What the public may see.
    """

    name: str
    timezone: str
    units: str = "metric"
    season_starts: str = "01-01"
    visit_every_days: int = 7
    open_ground_m: int = 250
    own_words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    guide: str | None = None
    public_rules: PublicRules = field(default_factory=PublicRules)

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise BadValue("a name for the trail", repr(self.name), column="name")
        if self.timezone not in _timezones():
            hint = words.nearest_hint(self.timezone, _timezones())
            raise BadValue(
                f"a time zone name like America/New_York{hint}",
                repr(self.timezone),
                column="timezone",
            )
        words.one_word(self.units, "units", words.UNITS)
        season_month_day(self.season_starts)
        for name in ("visit_every_days", "open_ground_m"):
            column, value = TRAIL[name], getattr(self, name)
            if column.between and not column.between[0] <= value <= column.between[1]:
                raise BadValue(column.range_text, str(value), column=name)
        for name in self.own_words:
            words.one_word(name, "words", tuple(EXTENDABLE))

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.timezone)

    def words(self, column: str) -> tuple[str, ...]:
        """The words a column may hold: the shipped list, then the trail's own."""
        return EXTENDABLE[column].words + tuple(self.own_words.get(column, ()))

    def as_row(self) -> dict[str, Any]:
        """The settings as columns of the `trail` table."""
        rules = self.public_rules.as_json()
        return {
            "name": self.name,
            "timezone": self.timezone,
            "units": self.units,
            "season_starts": self.season_starts,
            "visit_every_days": self.visit_every_days,
            "open_ground_m": self.open_ground_m,
            "words": json.dumps(self.own_words, ensure_ascii=False) if self.own_words else None,
            "guide": self.guide,
            "public_rules": json.dumps(rules, ensure_ascii=False) if rules else None,
        }

    @classmethod
    def from_row(cls, row: Mapping[str, Any]) -> Settings:
        """The settings that a row of the `trail` table holds; faults name the column."""
        own, rules = (_json_held(row, column) for column in ("words", "public_rules"))
        return cls(
            name=row["name"],
            timezone=row["timezone"],
            units=row["units"],
            season_starts=row["season_starts"],
            visit_every_days=row["visit_every_days"],
            open_ground_m=cls.open_ground_m
            if row["open_ground_m"] is None
            else row["open_ground_m"],
            own_words={name: tuple(listed) for name, listed in own.items()},
            guide=row["guide"],
            public_rules=PublicRules.from_json(rules),
        )


def _json_held(row: Mapping[str, Any], column: str) -> Mapping[str, Any]:
    try:
        held = json.loads(row[column] or "{}")
    except ValueError as error:
        raise BadValue("JSON in the trail's row", str(error), column=column) from error
    if not isinstance(held, dict):
        raise BadValue("a JSON object in the trail's row", repr(held), column=column)
    return held


def season_month_day(text: str) -> tuple[int, int]:
    """Month and day of a `MM-DD` text; 29 February is refused, since most years lack it."""
    found = re.fullmatch(r"(\d\d)-(\d\d)", text)
    try:
        if found is None:
            raise ValueError("not two numbers")
        day = date(2001, int(found[1]), int(found[2]))
    except ValueError as error:
        raise BadValue("a month and day like 01-01", repr(text), column="season_starts") from error
    return day.month, day.day


def season_of(day: date, season_starts: str) -> int:
    """The season a day falls in, named after the year it begins in."""
    return day.year - ((day.month, day.day) < season_month_day(season_starts))


def season_days(season: int, season_starts: str) -> tuple[date, date]:
    """First and last day of a season."""
    month, day = season_month_day(season_starts)
    last = date.fromordinal(date(season + 1, month, day).toordinal() - 1)
    return date(season, month, day), last
