"""How sentences print the days of a nest, and what those days must be by `dating`."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

from layers.nesting.dating import Dated
from layers.nesting.forecast import BANDING, CHECK, CLOSED
from layers.trail.coding import day_number
from layers.words import format_age, format_day, format_days
from tests.every_nest import Nest

MONTHS = [dt.date(2000, month, 1).strftime("%B") for month in range(1, 13)]
MONTH = f"(?:{'|'.join(MONTHS)})"
DAY = rf"\d{{1,2}} {MONTH}"
DAYS = rf"(?:\d{{1,2}}(?: {MONTH})? to )?{DAY}"
AGE = r"newly hatched|about \w+ days? old"
HAS_A_DAY = re.compile(rf"{DAY}|{AGE}")

# As in `layers.nesting.due`: days after fledging on which signs can be read, and the age up to
# which young can be aged.
SIGNS_DAYS, AGED_DAYS = 7, 8

Expected = Callable[[Nest, re.Match[str], dt.date], str]


def _best(event: str) -> Expected:
    def expected(nest: Nest, found: re.Match[str], on: dt.date) -> str:
        dated = nest.events[event]
        return "no day" if dated is None else format_day(dated.best)

    return expected


def _days_80(event: str) -> Expected:
    def expected(nest: Nest, found: re.Match[str], on: dt.date) -> str:
        dated = nest.events[event]
        return "no day" if dated is None else format_days(*dated.days_80)

    return expected


def _comes(kind: str) -> Expected:
    def expected(nest: Nest, found: re.Match[str], on: dt.date) -> str:
        one = nest.comes.get(kind)
        return "no days" if one is None else format_days(one.first, one.last or one.first)

    return expected


def _closed(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    """The closed days of a nest under way; of one that one visit found over, those of the case
    that the visit is wrong.
    """
    closed = nest.dates.closed
    if nest.ongoing or closed is None:
        return _comes(CLOSED)(nest, found, on)
    return format_days(*closed)


def _explained(event: str) -> Expected:
    return lambda nest, found, on: _with_interval(nest.events[event])


def _with_interval(dated: Dated | None) -> str:
    if dated is None:
        return "no day"
    first, last = dated.days_95
    if first == last:
        return f"on {format_day(dated.best)}"
    return f"about {format_day(dated.best)} (95 %: {format_day(first)} to {format_day(last)})"


def _age_then(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    """The age of young on the day of a visit that the sentence names."""
    hatch = nest.best("hatching")
    seen = next((day for day in nest.visits if _format(day, nest) == found[2]), None)
    if hatch is None or seen is None:
        return "no age"
    return format_age(day_number(seen) - hatch)


def _format(day: dt.date, nest: Nest) -> str:
    return format_day(day) if day.year == nest.season else str(day)


def _age_now(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    hatch = nest.best("hatching")
    return "no age" if hatch is None else format_age(day_number(on) - hatch)


def _aged_until(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    hatch, closed = nest.events["hatching"], nest.comes.get(CLOSED)
    if hatch is None:
        return "no day"
    until = hatch.days_80[1] + dt.timedelta(days=AGED_DAYS)
    return format_day(until if closed is None else min(until, closed.first - dt.timedelta(days=1)))


def _signs_until(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    fledge = nest.events["fledging"]
    if fledge is None:
        return "no day"
    return format_day(fledge.days_80[1] + dt.timedelta(days=SIGNS_DAYS))


_IF = r"(?:, if (?:it came to it|so it ended),)?"
_DATED = rf"((?:on|about) {DAY}(?: \(95 %: {DAY} to {DAY}\))?)"
_LATER = r"(?:, if it comes to it \(\d+%\))?"

_PHRASES: tuple[tuple[str, Expected], ...] = (
    # Why it is read so (`layers.nesting.reasons`).
    (rf"the first was laid about ({DAY})", _best("first egg")),
    (rf"hatched about ({DAY})", _best("hatching")),
    (rf"({AGE}) on ({DAY})", _age_then),
    (
        rf"(?:[Ff]rom|without another look by) ({DAY})(?= on, without| its fate)",
        lambda nest, found, on: format_day(nest.lapses),
    ),
    (rf"before the young were to leave, ({DAYS})", _days_80("fledging")),
    # Why it is dated so (`layers.nesting.dating.explained`).
    (rf"whose first egg came {_DATED}", lambda nest, found, on: _with_interval(nest.next_egg)),
    *(
        (rf"(?i:{event}){_IF} {_DATED}", _explained(event))
        for event in ("first egg", "clutch complete", "hatching", "fledging", "loss")
    ),
    # What comes next (`layers.nesting.forecast`).
    *(
        (rf"{event}: ({DAYS}) \(", _days_80(event.lower()))
        for event in ("Clutch complete", "Hatching", "Fledging")
    ),
    (rf"Leave the box closed ({DAYS})", _comes(CLOSED)),
    (rf"Do not open ({DAYS})", _closed),
    (rf"From ({DAY}) on the young should have left", _comes(CHECK)),
    (rf"days old: ({DAYS}) \(", _comes(BANDING)),
    # What is due (`layers.nesting.due`).
    (rf"complete since ({DAYS})", _days_80("clutch complete")),
    (rf"until hatching, ({DAYS})", _days_80("hatching")),
    (rf"Hatching was expected ({DAYS})", _days_80("hatching")),
    (rf"judged well until about ({DAY})", _aged_until),
    (rf"to be banded ({DAYS})", _comes(BANDING)),
    (rf"Fledging was expected ({DAYS})", _days_80("fledging")),
    (rf"be read until about ({DAY})", _signs_until),
    (rf"hatching expected ({DAYS})", _days_80("hatching")),
    (rf"fledging expected ({DAYS})", _days_80("fledging")),
    (rf"young ({AGE})\.", _age_now),
)
PHRASES = tuple((re.compile(pattern), expected) for pattern, expected in _PHRASES)
"""How each sentence prints a day of an event, and what that must be by `dating`."""
