"""What one cell means: numbers, counts, yes and no, words, text.

A cell is text (a table of text, a form) or typed (a spreadsheet, JSON). Each
function gives the clean value or raises `BadValue`; a blank cell is for the
caller, see `is_blank`.
"""

from __future__ import annotations

import math
import re
import unicodedata
import uuid
from collections.abc import Sequence
from datetime import date, datetime, time

from layers.errors import BadValue
from layers.trail.words import YES_NO, many_words, one_word

NOTHING = frozenset({"", "-", "–", "—", "?", "n/a", "na", "unknown"})
"""Cells by which people say "not recorded", in lower case."""

SPREADSHEET_ERRORS = frozenset(
    {"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!", "#SPILL!", "#CALC!"}
)
"""Error values of Office Open XML (ECMA-376, 18.17.2.7), and two that came later."""

MOST_LETTERS = 10_000
"""Longest text a cell may hold; a longer one is a file with a quote gone astray."""

MOST_ID_LETTERS = 64
"""Longest id of a box; it has to fit on the box."""

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?")
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_FRACTION = re.compile(r"(?:(\d{1,3})[ -])?(\d{1,2})/(\d{1,2})")
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")

_YES_NO_WORDS = {
    **dict.fromkeys(("yes", "y", "true", "1"), "yes"),
    **dict.fromkeys(("no", "n", "false", "0"), "no"),
}


def is_blank(value: object) -> bool:
    """Whether a cell says nothing; zero says something."""
    if isinstance(value, str):
        return value.strip().casefold() in NOTHING
    return value is None or (isinstance(value, float) and math.isnan(value))


def said(value: object) -> str:
    """A value as a message quotes it: short, and safe to print."""
    text = repr(str(value) if isinstance(value, date | time) else value)
    return text if len(text) <= 80 else f"{text[:70]}… ({len(text)} letters)"


def text(value: object, *, most: int = MOST_LETTERS) -> str:
    """Text with blanks trimmed, composed letters (Unicode NFC) and no control characters."""
    if isinstance(value, datetime | date | time):
        value = value.isoformat()
    elif isinstance(value, float) and value.is_integer():
        value = str(int(value))
    elif isinstance(value, int | float):
        value = str(value)
    if not isinstance(value, str):
        raise BadValue("text", said(value))
    if _UNPRINTABLE.search(value):
        raise BadValue("text that can be printed", said(value))
    cleaned = unicodedata.normalize("NFC", value).strip()
    if len(cleaned) > most:
        raise BadValue(f"text of at most {most} letters", f"{len(cleaned)} letters")
    return cleaned


def line(value: object, *, most: int = MOST_LETTERS) -> str:
    """Text on one line, its words parted by single blanks."""
    return " ".join(text(value, most=most).split())


def box_id(value: object) -> str:
    """The id of a box."""
    return line(value, most=MOST_ID_LETTERS)


def decimal(value: object, *, expected: str = "a number like 12.5") -> float:
    """A finite number; the decimal sign may be a comma."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value)
    elif isinstance(value, str) and _NUMBER.fullmatch(value.strip().replace("−", "-")):
        number = float(value.strip().replace("−", "-").replace(",", "."))
    else:
        raise BadValue(expected, said(value))
    if not math.isfinite(number):
        raise BadValue(expected, said(value))
    return number


def projected(value: object) -> float:
    """An easting or northing in the units of its system."""
    if isinstance(value, str) and _MAYBE_THOUSANDS.fullmatch(value.strip()):
        raise BadValue("a coordinate without thousands sign", said(value))
    return decimal(value, expected="a coordinate like 435210.5")


def measure(value: object, *, unit: str, low: float, high: float, factor: float = 1.0) -> float:
    """A length times `factor`, between `low` and `high` of the unit that it is stored in.

    `unit` is the one it is written in. Text like `1,250` is refused: it is a thousand in
    one country and one in another. Inches and feet may be fractions (`1 1/2`).
    """
    expected = f"{low / factor:.4g} to {high / factor:.4g} {unit}"
    typed = value.strip() if isinstance(value, str) else ""
    fraction = _FRACTION.fullmatch(typed) if unit in ("in", "ft") else None
    if fraction and int(fraction[3]):
        number = int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
    elif _MAYBE_THOUSANDS.fullmatch(typed):
        raise BadValue(f"{expected}, with a decimal point or without thousands sign", said(value))
    else:
        number = decimal(value, expected=expected)
    stored = round(number * factor, 6)
    if not low <= stored <= high:
        raise BadValue(expected, said(value))
    return stored


def count(value: object, *, most: int, least: int = 0) -> int:
    """A whole number from `least` to `most`."""
    expected = f"a whole number from {least} to {most}"
    number = decimal(value, expected=expected)
    if not number.is_integer() or not least <= number <= most:
        raise BadValue(expected, said(value))
    return int(number)


def yes_no(value: object) -> str:
    """`yes` or `no`."""
    word = _YES_NO_WORDS.get(str(value).strip().casefold())
    if word is None:
        raise BadValue(" or ".join(YES_NO), said(value))
    return word


def uuid_text(value: object) -> str:
    """A uuid in its plain form."""
    try:
        return str(uuid.UUID(text(value)))
    except ValueError as error:
        raise BadValue("a uuid", said(value)) from error


def word(value: object, column: str, known: Sequence[str]) -> str:
    """One word of a list."""
    return one_word(text(value), column, known)


def words(value: object, column: str, known: Sequence[str]) -> str | None:
    """Words of a list joined by `;`, as they are stored; None if there are none.

    A cell may part them by `;` or `,`; a typed cell may be a list.
    """
    parts = list(value) if isinstance(value, list | tuple) else [value]
    joined = ";".join(text(part).replace(",", ";") for part in parts)
    return ";".join(many_words(joined, column, known)) or None
