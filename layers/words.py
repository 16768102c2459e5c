"""Days, counts, ages and chances in words: every page, answer and command formats with these."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_DAY_ZERO = date(1970, 1, 1).toordinal()


def format_day(day: date | int) -> str:
    """A day of the season: `3 June`; whole numbers are days since 1970-01-01."""
    if not isinstance(day, date):
        day = date.fromordinal(_DAY_ZERO + int(day))
    return f"{day.day} {day:%B}"


def format_long_day(day: date | str) -> str:
    """A day of any year, given as a date or as ISO text: `Wed 3 June 2026`."""
    day = date.fromisoformat(day) if isinstance(day, str) else day
    return f"{day:%a} {day.day} {day:%B} {day.year}"


def format_days(first: date, last: date) -> str:
    """A range of days, both included: `3 June`, `3 to 5 June`, `30 May to 2 June`."""
    if first == last:
        return format_day(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {format_day(last)}"
    return f"{format_day(first)} to {format_day(last)}"


def format_count(count: int, one: str, many: str) -> str:
    """A count, in words up to ten: `six young`, `one egg`, `12 eggs`."""
    number = _NUMBERS[count] if 0 <= count < len(_NUMBERS) else str(count)
    return f"{number} {one if count == 1 else many}"


def format_list(parts: Sequence[str]) -> str:
    """Several things in one phrase: `a`, `a and b`, `a, b and c`."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def format_length(metres: float) -> str:
    """A length on the ground, with a no-break space before its unit: `350 m`, `1.2 km`, `12 km`."""
    if metres < 1000:
        return f"{metres:.0f}\u00a0m"
    kilometres = metres / 1000
    return f"{kilometres:.0f}\u00a0km" if kilometres >= 10 else f"{kilometres:.3g}\u00a0km"


def format_age(days: int) -> str:
    """The age of young: `about six days old`, `newly hatched`."""
    return f"about {format_count(days, 'day', 'days')} old" if days > 0 else "newly hatched"


def format_chance(chance: float) -> str:
    """A chance between 0 and 1 as a percentage: `83%`."""
    return f"{chance:.0%}"


def with_article(name: str) -> str:
    """A name after its article: `a tree swallow`, `an eastern bluebird`, `a eurasian wren`."""
    vowel = name[:1].casefold() in "aeiou" and not name.casefold().startswith(("eu", "uni"))
    return f"{'an' if vowel else 'a'} {name}"


def capitalise(sentence: str) -> str:
    """The sentence with a capital first letter; the rest stays as it is."""
    return sentence[:1].upper() + sentence[1:]
