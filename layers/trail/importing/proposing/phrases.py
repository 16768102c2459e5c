"""What a cell in free words says of a visit: all of it is read, or nothing is.

"5 eggs warm", "2E 3Y", "4 babies ~6 d", "empty". A phrase of which a part is not
understood goes to the note whole: "saw 4 young outside" counts nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

from layers.trail.importing.proposing.vocabulary import fold, phrase_words, words

_TOKEN = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_]+(?:['’][^\W\d_]+)?|[^\s\w]|_")
_SEPARATORS = frozenset(",;/.()&+:")
_LONGEST = 3
"""Words that belong together at most."""
_COUNTED = frozenset({"eggs", "young", "dead_young", "days"})


@dataclass(frozen=True)
class Phrase:
    """What was read.

    Attributes
    ----------
    values
        Our column -> clean value; a number without a unit under an empty name.
    about
        Whether a count came with "about", `~`, `+`, `?` or the like.
    """

    values: Mapping[str, int | str]
    about: bool = False


def read_phrase(
    text: str, *, unit: str | None = None, species: Callable[[str], str | None] | None = None
) -> Phrase | None:
    """The phrase of a cell, or None where not all of it is understood.

    Parameters
    ----------
    unit
        What a bare number counts (`eggs`, `young`, ...); None = not known.
    species
        Gives the species that words surely mean.
    """
    reader = _Reader(_TOKEN.findall(text), unit, species)
    return reader.read()


class _Reader:
    def __init__(
        self, tokens: list[str], unit: str | None, species: Callable[[str], str | None] | None
    ) -> None:
        self._tokens = tokens
        self._at = 0
        self._unit = unit
        self._species = species
        self._values: dict[str, int | str] = {}
        self._about = False

    def read(self) -> Phrase | None:
        while self._at < len(self._tokens):
            token = self._tokens[self._at]
            if token in _SEPARATORS or (self._values and self._is("and", 1)):
                self._at += 1
            elif not (self._number() if token[0].isdigit() or token in "~<>" else self._words()):
                return None
        if not self._values:
            return None
        if self._values.get("eggs_warm") == "no" and not self._values.get("eggs"):
            return None  # "cold" without eggs speaks of something else
        return Phrase(self._values, self._about)

    def _is(self, meaning: str, length: int) -> bool:
        part = fold(" ".join(self._tokens[self._at : self._at + length]))
        return meaning in _meanings().get(part, ())

    def _meant(self, wanted: frozenset[str]) -> tuple[str, int] | None:
        """The longest words from here on that mean one of `wanted`, and how many they are."""
        for length in range(_LONGEST, 0, -1):
            if self._at + length > len(self._tokens):
                continue
            part = fold(" ".join(self._tokens[self._at : self._at + length]))
            found = wanted & _meanings().get(part, frozenset())
            if len(found) == 1 and part:
                return next(iter(found)), length
        return None

    def _put(self, name: str, value: int | str) -> bool:
        """Take a value; refused where the phrase gave one before."""
        if name in self._values:
            return False
        self._values[name] = value
        return True

    def _number(self) -> bool:
        about = False
        if self._tokens[self._at] == "~":
            about = True
            self._at += 1
        if self._at >= len(self._tokens) or not self._tokens[self._at].isdecimal():
            return False
        count = int(self._tokens[self._at])
        self._at += 1
        while self._at < len(self._tokens) and self._tokens[self._at] in "+?":
            more = self._tokens[self._at + 1 : self._at + 2]
            if more and more[0][0].isdigit():
                return False  # 5+2 is two counts, of unknown things
            about = True
            self._at += 1
        # A species between the number and its unit: "5 tree swallow eggs".
        self._take_species()
        unit = self._meant(_COUNTED)
        if unit is None:
            if self._unit is None and self._at < len(self._tokens):
                return False
            self._about |= about
            return self._put(self._unit or "", count)
        self._at += unit[1]
        if unit[0] == "days":
            return self._put("young_days", count)  # an age is judged anyway
        self._about |= about
        return self._put(unit[0], count)

    def _words(self) -> bool:
        if self._is("about", 1):
            self._at += 1
            if self._at >= len(self._tokens) or not self._tokens[self._at][0].isdigit():
                return False
            self._tokens.insert(self._at, "~")
            return self._number()
        if found := self._meant(frozenset({"warm", "not_warm", "empty"})):
            self._at += found[1]
            if found[0] == "empty":
                return len(self._tokens) == found[1] and (
                    self._put("eggs", 0) and self._put("young", 0)
                )
            return self._put("eggs_warm", "yes" if found[0] == "warm" else "no")
        for column in ("nest", "adult"):
            for length in range(_LONGEST, 0, -1):
                part = fold(" ".join(self._tokens[self._at : self._at + length]))
                meant = words(column).get(part)
                if self._at + length <= len(self._tokens) and meant and _speaks(column, part):
                    self._at += length
                    return self._put(column, meant)
        return self._take_species()

    def _take_species(self) -> bool:
        if self._species is None:
            return False
        for length in range(_LONGEST, 0, -1):
            part = self._tokens[self._at : self._at + length]
            text = " ".join(part)
            if len(part) < length or not text.replace(" ", "").replace("'", "").isalpha():
                continue
            name = self._species(text) if len(text) >= 4 else None
            if name is not None:
                self._at += length
                return self._put("species", name)
        return False


@cache
def _meanings() -> Mapping[str, frozenset[str]]:
    """Folded words -> what they may mean; "y" is young after a number, "and" in Spanish."""
    found: dict[str, set[str]] = {}
    for name in (
        "eggs",
        "young",
        "dead_young",
        "days",
        "warm",
        "not_warm",
        "empty",
        "about",
        "and",
    ):
        for word in phrase_words(name):
            found.setdefault(fold(word) or word, set()).add(name)
    return {word: frozenset(names) for word, names in found.items()}


def _speaks(column: str, part: str) -> bool:
    """Whether words mean the nest or the adult also where no heading says so."""
    if column == "nest":
        return any(word in part.split() for word in ("nest", "nid", "nido", "material", "cup"))
    return part not in ("none", "no", "nein", "kein", "geen", "near", "outside")
