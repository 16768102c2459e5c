"""From the tables of a guide file to species, with every fault collected.

A value of an entry is one table or a list of tables, one for each source:
`{ usual = 14.1, source = "..." }` for a mean or a single value,
`{ low = 12, high = 14, source = "..." }` for a range, or all four. The span takes in
all of them; a mean number of eggs, days or broods is widened to whole ones. A mean is not a range,
so five rules fill gaps:

- Incubation of which only single values are known runs from `INCUBATION_DAYS_AROUND` before
  the least of them to as much after the greatest, or `INCUBATION_SHARE_AROUND` of it where that
  is more, in whole days.
- Nestling days of which only single values are known run from `SHORTEST_SHARE` of the least
  of them to `LONGEST_SHARE` of the greatest, in whole days outwards.
- A clutch range that is not given runs from half the usual clutch to one and a half.
- The age from which a box stays closed, if not given, is `CLOSED_SHARE` of the shortest
  nestling period.
- Young can be banded, if no age is given, from `BANDING_SHARE` of the shortest nestling period
  to the day before the box must stay closed. This rule is from memory, and so marked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from layers.errors import Fault
from layers.nesting.guide.species import BOUNDS, Source, Span, Species
from layers.trail.words import nearest_hint

COMPUTED = "computed"
"""Source of a number that a rule of this module gave."""

THIS_TRAIL = "this_trail"
"""Source of a number for which the guide file names none."""

# Our own choices, at the median shares (0.85 and 1.09) of the shortest and the longest published
# nestling period in the mean one, over the species of the guide for which both are known.
SHORTEST_SHARE = 0.85
LONGEST_SHARE = 1.1

# Our own choice: the printed ranges of the guide are two to three days wide for most songbirds,
# and somewhat wider where incubation is longer.
INCUBATION_DAYS_AROUND = 1
INCUBATION_SHARE_AROUND = 0.05

# Heuristic: 0.65 to 0.70 of the nestling period gives the days after which keepers leave
# boxes closed (bluebird 12, prothonotary warbler 7). Applied to the shortest period.
CLOSED_SHARE = 0.68

# From memory: songbirds are banded from about half of their time in the nest on (tits from
# day 7 or 8, bluebirds from day 8, swallows and wrens later).
BANDING_SHARE = 0.5

_LOOKS = ("nest", "eggs", "parasites")
_FLAGS = ("leaves_at_once", "starts_before_last_egg")
_ENTRY_KEYS = ("scientific", "also", "regions", "alike", *_LOOKS, *_FLAGS, *BOUNDS)
_PART_KEYS = ("low", "high", "usual", "source")


@dataclass
class Report:
    """Collects what is wrong with one guide file."""

    file: str
    faults: list[Fault] = field(default_factory=list)

    def add(
        self, expected: str, came: object, *, at: str | None = None, row: int | None = None
    ) -> None:
        self.faults.append(Fault(expected, str(came), file=self.file, row=row, column=at))

    def unknown_keys(
        self, table: Mapping[str, Any], known: Iterable[str], *, at: str | None = None
    ) -> None:
        known = tuple(known)
        for key in table:
            if key not in known:
                self.add(f"one of {', '.join(known)}{nearest_hint(key, known)}", repr(key), at=at)


@dataclass(frozen=True)
class _Part:
    """What one source says of one value."""

    low: float
    high: float
    usual: float | None
    single: bool
    source: str
    memory: bool


@dataclass(frozen=True)
class Entry:
    """One entry being read: its name, its table, and what its numbers may cite."""

    common: str
    table: Mapping[str, Any]
    sources: Mapping[str, Source]
    report: Report

    def species(self) -> Species | None:
        """The species, or None if the entry has a fault (which the report then holds)."""
        before = len(self.report.faults)
        self.report.unknown_keys(self.table, _ENTRY_KEYS, at=self.common)
        looks = {name: self._look(name) for name in _LOOKS}
        leaves_at_once = self._flag("leaves_at_once")
        parts = {name: self._parts(name) for name in BOUNDS if name in self.table}
        for name, widened in _WIDENED.items():
            found = parts.get(name)
            if found and all(part.single for part in found):
                found.append(widened(found))
        spans: dict[str, Span | None] = dict.fromkeys(BOUNDS)
        spans |= {name: _union(found) for name, found in parts.items() if found}
        _fill(spans, leaves_at_once=leaves_at_once)
        self._check(spans)
        values: dict[str, Any] = {
            "common": self.common,
            "scientific": self._scientific(),
            "also": self._names("also"),
            "regions": self._names("regions"),
            **{name: look[0] if look else None for name, look in looks.items()},
            "look_sources": tuple(dict.fromkeys(look[1] for look in looks.values() if look)),
            "alike": self._word("alike"),
            "leaves_at_once": leaves_at_once,
            "starts_before_last_egg": self._flag("starts_before_last_egg"),
            **spans,
        }
        return Species(**values) if len(self.report.faults) == before else None

    def _fault(self, expected: str, came: object, name: str) -> None:
        self.report.add(expected, came, at=f"{self.common}, {name}")

    def _scientific(self) -> str | None:
        value = self.table.get("scientific")
        if isinstance(value, str):
            return value.strip()
        self._fault("a scientific name", repr(value), "scientific")
        return None

    def _names(self, name: str) -> tuple[str, ...]:
        value = self.table.get(name, [])
        if isinstance(value, list) and all(
            isinstance(text, str) and text.strip() for text in value
        ):
            return tuple(value)
        self._fault("a list of names", repr(value), name)
        return ()

    def _word(self, name: str) -> str | None:
        value = self.table.get(name)
        if value is None or isinstance(value, str):
            return value
        self._fault("a word", repr(value), name)
        return None

    def _flag(self, name: str) -> bool:
        value = self.table.get(name, False)
        if isinstance(value, bool):
            return value
        self._fault("true or false", repr(value), name)
        return False

    def _look(self, name: str) -> tuple[str, str] | None:
        value = self.table.get(name)
        if value is None:
            return None
        if not (isinstance(value, dict) and isinstance(value.get("words"), str)):
            self._fault('a table like { words = "moss cup" }', repr(value), name)
            return None
        self.report.unknown_keys(value, ("words", "source"), at=f"{self.common}, {name}")
        return value["words"], self._source(value, name)

    def _source(self, table: Mapping[str, Any], name: str) -> str:
        source = table.get("source", THIS_TRAIL)
        if isinstance(source, str) and source in self.sources:
            return source
        close = nearest_hint(str(source), self.sources)
        self._fault(f"a source that the guide lists{close}", repr(source), name)
        return THIS_TRAIL

    def _parts(self, name: str) -> list[_Part]:
        value = self.table[name]
        tables = value if isinstance(value, list) else [value]
        if not tables:
            self._fault("at least one value", "an empty list", name)
        return [part for table in tables if (part := self._part(table, name)) is not None]

    def _part(self, table: object, name: str) -> _Part | None:
        if not isinstance(table, dict):
            self._fault("a table like { low = 12, high = 14 }", repr(table), name)
            return None
        self.report.unknown_keys(table, _PART_KEYS, at=f"{self.common}, {name}")
        source = self._source(table, name)
        numbers = {key: table[key] for key in ("low", "high", "usual") if key in table}
        if set(numbers) not in ({"usual"}, {"low", "high"}, {"low", "high", "usual"}):
            self._fault("low and high, or usual, or all three", ", ".join(table) or "nothing", name)
            return None
        least, greatest = BOUNDS[name]
        for key, number in numbers.items():
            # TOML knows true, nan and inf; none of them passes here.
            plain = isinstance(number, (int, float)) and not isinstance(number, bool)
            if not (plain and least <= number <= greatest):
                self._fault(f"{key} from {least:g} to {greatest:g}", repr(number), name)
                return None
        usual, single = numbers.get("usual"), "low" not in numbers
        if not single:
            low, high = numbers["low"], numbers["high"]
        elif name.endswith(("_m", "_mm")):
            low = high = numbers["usual"]
        else:
            low, high = math.floor(numbers["usual"]), math.ceil(numbers["usual"])
        if not low <= (low if usual is None else usual) <= high:
            self._fault("low, usual and high in rising order", repr(numbers), name)
            return None
        return _Part(low, high, usual, single, source, self.sources[source].memory)

    def _check(self, spans: Mapping[str, Span | None]) -> None:
        """Refuse values that cannot hold together."""
        clutch, extremes = spans["clutch"], spans["clutch_range"]
        if clutch and extremes and not extremes.low <= clutch.low <= clutch.high <= extremes.high:
            self._fault(
                f"a range that holds the usual clutch, {clutch.low:g} to {clutch.high:g}",
                f"{extremes.low:g} to {extremes.high:g}",
                "clutch_range",
            )
        closed, nestling = spans["closed_from_day"], spans["nestling_days"]
        if closed and nestling and closed.low > nestling.low:
            self._fault(
                f"a day not after the shortest nestling period, {nestling.low:g}",
                f"{closed.low:g}",
                "closed_from_day",
            )
        entrance, depth = spans["entrance_height_mm"], spans["depth_mm"]
        if entrance and depth and (entrance.low >= depth.low or entrance.high >= depth.high):
            self._fault(
                f"an entrance within a box {depth.low:g} to {depth.high:g} mm deep",
                f"{entrance.low:g} to {entrance.high:g} mm",
                "entrance_height_mm",
            )


def _union(parts: list[_Part]) -> Span:
    low, high = min(part.low for part in parts), max(part.high for part in parts)
    return Span(
        low=low,
        high=high,
        usual=next((part.usual for part in parts if part.usual is not None), None),
        sources=tuple(dict.fromkeys(part.source for part in parts)),
        memory=all(part.memory for part in parts if part.low == low)
        or all(part.memory for part in parts if part.high == high),
    )


def _incubation_around(parts: list[_Part]) -> _Part:
    least, greatest = _ends(parts)
    low = least - max(INCUBATION_DAYS_AROUND, INCUBATION_SHARE_AROUND * least)
    high = greatest + max(INCUBATION_DAYS_AROUND, INCUBATION_SHARE_AROUND * greatest)
    return _computed(parts, low, high)


def _nestling_around(parts: list[_Part]) -> _Part:
    least, greatest = _ends(parts)
    return _computed(parts, SHORTEST_SHARE * least, LONGEST_SHARE * greatest)


def _ends(parts: list[_Part]) -> tuple[float, float]:
    """Least and greatest of single values, as printed: not yet widened to whole days."""
    values = [part.usual for part in parts if part.usual is not None]
    return min(values), max(values)


def _computed(parts: list[_Part], low: float, high: float) -> _Part:
    memory = all(part.memory for part in parts)
    return _Part(math.floor(low), math.ceil(high), None, False, COMPUTED, memory)


_WIDENED: Mapping[str, Callable[[list[_Part]], _Part]] = MappingProxyType(
    {"incubation_days": _incubation_around, "nestling_days": _nestling_around}
)


def _fill(spans: dict[str, Span | None], *, leaves_at_once: bool) -> None:
    clutch = spans["clutch"]
    if clutch and not spans["clutch_range"]:
        low, high = math.ceil(clutch.low / 2), math.floor(clutch.high * 1.5)
        spans["clutch_range"] = Span(low, high, None, (COMPUTED,), clutch.memory)
    nestling = spans["nestling_days"]
    if nestling and not spans["closed_from_day"] and not leaves_at_once:
        day = math.floor(CLOSED_SHARE * nestling.low)
        spans["closed_from_day"] = Span(day, day, None, (COMPUTED,), nestling.memory)
    closed = spans["closed_from_day"]
    if nestling and closed and not spans["banding_days"] and not leaves_at_once:
        first, last = math.ceil(BANDING_SHARE * nestling.low), math.floor(closed.low) - 1
        if first <= last:
            spans["banding_days"] = Span(first, last, None, (COMPUTED,), memory=True)
