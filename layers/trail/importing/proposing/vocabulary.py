"""The words of `words.toml`, ready to be looked up."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib.resources import files
from types import MappingProxyType

from layers.trail.schema import VISITS

_REMEMBERED = 50_000
"""Cells of a table repeat; what they fold to is looked up, not worked out again."""
_NUMBER_SIGN = re.compile(r"\b(no|nr|n|num|numero|nb)\b\.?|[#№º°]")


@cache
def words(section: str) -> Mapping[str, str]:
    """Folded word -> what it means, of one section."""
    held = _all()[section]
    return MappingProxyType({fold(word): name for name, listed in held.items() for word in listed})


@cache
def _all() -> Mapping[str, Mapping[str, list[str]]]:
    source = files("layers.trail.importing.proposing") / "words.toml"
    return tomllib.loads(source.read_text(encoding="utf-8"))


def phrase_words(name: str) -> list[str]:
    """The words of a phrase that mean one thing; a word may mean several."""
    return _all()["phrases"][name]


@lru_cache(maxsize=_REMEMBERED)
def fold(text: str) -> str:
    """Text without case, accents, punctuation and doubled blanks; ditto marks stay."""
    plain = unicodedata.normalize("NFKD", text.replace("\u200b", "")).casefold()
    plain = plain.replace("œ", "oe").replace("æ", "ae")
    letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return " ".join(re.sub(r"[^\w#\"'〃✓]+|_", " ", letters).split())


@lru_cache(maxsize=_REMEMBERED)
def role_of(heading: str) -> str | None:
    """What a column holds by its heading; None for a heading of none of ours."""
    known = _roles()
    folded = fold(heading).replace("'", " ")
    without_brackets = fold(re.sub(r"[(\[].*?[)\]]", " ", heading)).replace("'", " ")
    without_signs = " ".join(_NUMBER_SIGN.sub(" ", folded).split())
    for text in (folded, without_brackets, without_signs):
        if text in known:
            return known[text]
    return None


def is_count(heading: str) -> bool:
    """Whether a heading below a group says that the group is counted."""
    return fold(heading) in phrase_words("counted")


@cache
def _roles() -> Mapping[str, str]:
    ours = {
        fold(word): field.entry_name
        for field in VISITS.fields
        for word in (field.entry_name, field.name.replace("_", " "), *field.synonyms)
    }
    return MappingProxyType({**ours, **words("headings")})


def month_of(word: str) -> int | None:
    """The number of a month's name in any of the languages."""
    name = words("months").get(fold(word))
    return None if name is None else int(name)


@lru_cache(maxsize=_REMEMBERED)
def is_total(text: str) -> bool:
    """Whether the first cell of a row says that it sums up others."""
    folded, totals = fold(text), words("rows")
    known = {word for word, meaning in totals.items() if meaning == "total"}
    return folded in known or folded.split(" ")[0] in known


def is_ditto(value: object) -> bool:
    """Whether a cell says that it holds the same as the one above."""
    return isinstance(value, str) and _is_ditto(value)


@lru_cache(maxsize=_REMEMBERED)
def _is_ditto(value: str) -> bool:
    plain = value.strip().casefold().rstrip(".")
    return bool(plain) and words("rows").get(fold(plain) or plain) == "above"
