"""What the cells of a row mean: numbers, counts, yes and no, words, text, and their faults.

A cell is text (a table of text, a form) or typed (a spreadsheet, JSON). Each parser
gives the clean value or raises `BadValue`; a blank cell is for the caller, see `is_blank`.
"""

from __future__ import annotations

import math
import re
import unicodedata
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from types import MappingProxyType
from typing import Any, TypeVar

from layers.errors import BadValue, Fault
from layers.trail.words import YES_NO, many_words, one_word

T = TypeVar("T")

BLANK = frozenset({"", "-", "–", "—", "?", "n/a", "na", "unknown"})
"""Cells by which people write "not recorded", in lower case."""

SPREADSHEET_ERRORS = frozenset(
    {"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!", "#SPILL!", "#CALC!"}
)
"""Error values of Office Open XML (ECMA-376, 18.17.2.7), and two that came later."""

MAX_TEXT_LENGTH = 10_000
"""Longest text a cell may hold; a longer one is a file with a quote gone astray."""

MAX_ID_LENGTH = 64
"""Longest id of a box; it has to fit on the box."""

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?")
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_NO_COUNT = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}|.*[eE].*")
"""1,000 and 1.000 are a thousand in one country and one in another; 1E1 may be an egg and one."""
_FRACTION = re.compile(r"(?:(\d{1,3})[ -])?(\d{1,2})/(\d{1,2})")
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_INVISIBLE = re.compile("[\u200b\u2060\ufeff\u00ad]")
"""Zero-width spaces and soft hyphens: two ids that differ in them look the same."""

_COMPASS = (
    *("n", "nne", "ne", "ene", "e", "ese", "se", "sse"),
    *("s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw"),
)
_YES_NO_WORDS = {
    **dict.fromkeys(("yes", "y", "true", "1"), "yes"),
    **dict.fromkeys(("no", "n", "false", "0"), "no"),
}


class NeverCalculated:
    """Fills a spreadsheet cell that holds a formula, but no value of it."""


@dataclass(frozen=True)
class RowRead:
    """What became of one row.

    Attributes
    ----------
    values
        The clean row, ready for `Trail.add_rows`; None where there are faults.
    faults
        Every fault of the row, in the order of the columns.
    notes
        What was decided on the way and a person may want to know.
    """

    values: Mapping[str, Any] | None
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()


class Cells:
    """Raw cells of one row by our column names, and the faults found in them so far."""

    def __init__(self, raw: Mapping[str, object], *, row: int | None, file: str | None) -> None:
        self._raw = raw
        self._row = row
        self._file = file
        self.faults: list[Fault] = []

    def fault(self, expected: str, came: str, column: str | None = None) -> None:
        """Note a fault of this row."""
        self.faults.append(Fault(expected, came, file=self._file, row=self._row, column=column))

    def is_filled(self, column: str) -> bool:
        """Whether the cell holds something."""
        return not is_blank(self._raw.get(column))

    def optional(self, column: str, parse: Callable[[object], T]) -> T | None:
        """The value of a cell; None where it is blank, or where a fault was noted."""
        return self.take(column, read_cell(self._raw.get(column), parse))

    def take(self, column: str, found: T | Fault | None) -> T | None:
        """What `read_cell` gave for a cell; None where that is a fault, which is noted."""
        if not isinstance(found, Fault):
            return found
        self.faults.append(replace(found, file=self._file, row=self._row, column=column))
        return None

    def require(self, column: str, parse: Callable[[object], T], *, expected: str) -> T | None:
        """The value of a cell that may not be blank; None where a fault was noted."""
        if not self.is_filled(column):
            came = self._raw.get(column)
            self.fault(expected, "nothing" if came is None else quoted(came), column)
            return None
        return self.optional(column, parse)


def read_cell(value: object, parse: Callable[[object], T]) -> T | Fault | None:
    """The value of a cell, None where it is blank, or what is wrong with it."""
    if is_blank(value):
        return None
    if isinstance(value, NeverCalculated):
        return Fault(
            "a value (open the file in a spreadsheet program and save it again)",
            "a formula that was never calculated",
        )
    if isinstance(value, str) and "#" in value and value.strip() in SPREADSHEET_ERRORS:
        return Fault("a value", f"the spreadsheet error {value.strip()}")
    try:
        return parse(value)
    except BadValue as error:
        return error.fault


def is_blank(value: object) -> bool:
    """Whether a cell holds nothing; zero is something."""
    if isinstance(value, str):
        return value.strip().casefold() in BLANK
    return value is None or (isinstance(value, float) and math.isnan(value))


def quoted(value: object) -> str:
    """A value as a message quotes it: short, and safe to print."""
    quote = repr(str(value) if isinstance(value, date | time) else value)
    return quote if len(quote) <= 80 else f"{quote[:70]}… ({len(quote)} letters)"


def text(value: object, *, most: int = MAX_TEXT_LENGTH) -> str:
    """Text with blanks trimmed, composed letters (Unicode NFC) and no control characters."""
    if isinstance(value, datetime | date | time):
        value = value.isoformat()
    elif isinstance(value, float) and value.is_integer():
        value = str(int(value))
    elif isinstance(value, int | float):
        value = str(value)
    if not isinstance(value, str):
        raise BadValue("text", quoted(value))
    if _UNPRINTABLE.search(value):
        raise BadValue("text that can be printed", quoted(value))
    if not value.isascii():
        value = unicodedata.normalize("NFC", _INVISIBLE.sub("", value))
    cleaned = value.strip()
    if len(cleaned) > most:
        raise BadValue(f"text of at most {most} letters", f"{len(cleaned)} letters")
    return cleaned


def line(value: object, *, most: int = MAX_TEXT_LENGTH) -> str:
    """Text on one line, its words parted by single blanks."""
    return " ".join(text(value, most=most).split())


def box_id(value: object) -> str:
    """The id of a box."""
    return line(value, most=MAX_ID_LENGTH)


def decimal(value: object, *, expected: str = "a number like 12.5") -> float:
    """A finite number; the decimal sign may be a comma."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value)
    elif isinstance(value, str) and _NUMBER.fullmatch(value.strip().replace("−", "-")):
        number = float(value.strip().replace("−", "-").replace(",", "."))
    else:
        raise BadValue(expected, quoted(value))
    if not math.isfinite(number):
        raise BadValue(expected, quoted(value))
    return number


def projected(value: object) -> float:
    """An easting or northing in the units of its system."""
    if isinstance(value, str) and _MAYBE_THOUSANDS.fullmatch(value.strip()):
        raise BadValue("a coordinate without thousands sign", quoted(value))
    return decimal(value, expected="a coordinate like 435210.5")


def measure(
    value: object, *, unit: str, low: float = -math.inf, high: float = math.inf, factor: float = 1.0
) -> float:
    """A number times `factor`, between `low` and `high` of the unit that it is stored in.

    `unit` is the one it is written in. Text like `1,250` is refused: it is a thousand in
    one country and one in another. Inches and feet may be fractions (`1 1/2`).
    """
    bounded = math.isfinite(low) and math.isfinite(high)
    span = f"{low / factor:.4g} to {high / factor:.4g}" if bounded else "a number"
    expected = f"{span} {unit}".strip()
    typed = value.strip() if isinstance(value, str) else ""
    fraction = _FRACTION.fullmatch(typed) if unit in ("in", "ft") else None
    if fraction and int(fraction[3]):
        number = int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
    elif _MAYBE_THOUSANDS.fullmatch(typed):
        raise BadValue(f"{expected}, with a decimal point or without thousands sign", quoted(value))
    else:
        number = decimal(value, expected=expected)
    stored = round(number * factor, 6)
    if not low <= stored <= high:
        raise BadValue(expected, quoted(value))
    return stored


def count(value: object, *, most: float = math.inf, least: float = 0) -> int:
    """A whole number from `least` to `most`."""
    bounded = math.isfinite(least) and math.isfinite(most)
    expected = f"a whole number from {least} to {most}" if bounded else "a whole number"
    if isinstance(value, str) and _NO_COUNT.fullmatch(value.strip()):
        raise BadValue(f"{expected}, in digits alone", quoted(value))
    number = decimal(value, expected=expected)
    if not number.is_integer() or not least <= number <= most:
        raise BadValue(expected, quoted(value))
    return int(number)


def facing(value: object) -> float:
    """Degrees clockwise from north, 0 to below 360, from a number or a compass word."""
    expected = "0 to 360 degrees, or a compass word like north-east"
    if isinstance(value, str):
        word = "".join(letter for letter in value.casefold() if letter.isalpha())
        for point in ("north", "south", "east", "west"):
            word = word.replace(point, point[0])
        if word in _COMPASS and not any(letter.isdigit() for letter in value):
            return _COMPASS.index(word) * 360 / len(_COMPASS)
        value = value.strip().removesuffix("°")
    degrees = decimal(value, expected=expected)
    if not 0 <= degrees <= 360:
        raise BadValue(expected, quoted(value))
    return degrees % 360


def yes_no(value: object) -> str:
    """`yes` or `no`."""
    word = _YES_NO_WORDS.get(str(value).strip().casefold())
    if word is None:
        raise BadValue(" or ".join(YES_NO), quoted(value))
    return word


def uuid_text(value: object) -> str:
    """A uuid in its plain form."""
    try:
        return str(uuid.UUID(text(value)))
    except ValueError as error:
        raise BadValue("a uuid", quoted(value)) from error


def word(
    value: object,
    column: str,
    known: Sequence[str],
    former: Mapping[str, str] = MappingProxyType({}),
) -> str:
    """One word of a list; `former` gives the word of today for one of older files."""
    written = text(value)
    return former.get(written.casefold()) or one_word(written, column, known)


def words(value: object, column: str, known: Sequence[str]) -> str | None:
    """Words of a list joined by `;`, as they are stored; None if there are none.

    A cell may part them by `;` or `,`; a typed cell may be a list.
    """
    parts = list(value) if isinstance(value, list | tuple) else [value]
    joined = ";".join(text(part).replace(",", ";") for part in parts)
    return ";".join(many_words(joined, column, known)) or None
