"""Words to species of the guide, and ids to boxes of the trail.

An abbreviation is read by its letters: as many parts as the name has words, each part
beginning as its word does, its letters in the order of the word. It is taken where
exactly one species fits. No list of codes is used.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

from layers.trail.importing.proposing.vocabulary import fold, words
from layers.trail.words import nearest_words, plain_id

_SHORTEST_CODE = 4
"""Two or three letters fit birds that the guide does not have."""
_SHORTEST_SLIP = 5
_MOST_EDITS = 2


@dataclass(frozen=True)
class Match:
    """What a word means: `value` where it is sure."""

    value: str | None
    grounds: str = ""


@dataclass(frozen=True)
class SpeciesNames:
    """Names of the guide: common name -> all its names."""

    names: Mapping[str, tuple[str, ...]]

    def __hash__(self) -> int:
        return id(self)

    @cached_property
    def _by_name(self) -> Mapping[str, str]:
        elsewhere = {
            _letters(name): common
            for name, common in words("species").items()
            if common in self.names
        }
        return elsewhere | {
            _letters(name): common
            for common, others in self.names.items()
            for name in (common, *others)
        }

    def match(self, text: str) -> Match:
        """The species that a word means."""
        if text not in self._met:
            self._met[text] = self._match(text)
        return self._met[text]

    @cached_property
    def _met(self) -> dict[str, Match]:
        return {}

    def _match(self, text: str) -> Match:
        if "?" in text or not any(letter.isalpha() for letter in text):
            return Match(None)  # whoever put a question mark was in doubt
        plain = fold(text)
        exact = self._by_name.get(_letters(text)) or self._by_name.get(_letters(_singular(plain)))
        if exact is not None:
            return Match(exact, "its name in the guide")
        parts = _singular(plain).split()
        if len(parts) == 1 and _SHORTEST_CODE <= len(parts[0]) <= 6 and parts[0].isalpha():
            fitting = [name for name in self.names if _abbreviates(parts[0], name)]
            if len(fitting) == 1:
                return Match(fitting[0], "its letters fit this name alone")
        if len(parts) > 1:
            fitting = [name for name in self.names if _shortened(parts, name)]
            if len(fitting) == 1:
                return Match(fitting[0], "its words shorten this name alone")
        if slip := self._slip(plain):
            return Match(slip, "spelled almost like this name, and no other")
        return Match(None)

    def nearest(self, text: str) -> tuple[str, ...]:
        """What a word may mean, the likeliest first."""
        if text not in self._near:
            self._near[text] = self._nearest(text)
        return self._near[text]

    @cached_property
    def _near(self) -> dict[str, tuple[str, ...]]:
        return {}

    def _nearest(self, text: str) -> tuple[str, ...]:
        if "?" in text:
            sure = self.match(text.replace("?", " ")).value
            return (sure,) if sure else self.nearest(text.replace("?", " "))
        plain = fold(text)
        parts = _singular(plain).split()
        part_of = [name for name in self.names if set(parts) & set(fold(name).split())]
        initials = [name for name in self.names if parts and _abbreviates(parts[0], name)]
        alike = nearest_words(plain, self.names)
        return tuple(dict.fromkeys([*part_of, *initials, *alike]))[:6]

    def _slip(self, plain: str) -> str | None:
        joined = plain.replace(" ", "")
        if len(joined) < _SHORTEST_SLIP:
            return None
        scored = sorted(
            (_edits(joined, name, _MOST_EDITS + 2), common)
            for name, common in self._by_name.items()
            if name[:1] == joined[:1] and abs(len(name) - len(joined)) <= _MOST_EDITS + 2
        )
        if not scored or scored[0][0] > min(_MOST_EDITS, len(joined) // 5):
            return None
        best = scored[0][1]
        others = [edits for edits, common in scored if common != best]
        return None if others and others[0] < scored[0][0] + 2 else best


def _letters(name: str) -> str:
    return "".join(letter for letter in fold(name) if letter.isalnum())


def _singular(plain: str) -> str:
    return (
        plain[:-1] if len(plain) > 4 and plain.endswith("s") and not plain.endswith("ss") else plain
    )


def _in_order(short: str, word: str) -> bool:
    """Whether letters stand in a word in their order, the first at its beginning."""
    if short[:1] != word[:1]:
        return False
    rest = iter(word)
    return all(letter in rest for letter in short)


def _shortened(parts: list[str], name: str) -> bool:
    of = re.split(r"[ -]", fold(name))
    return len(of) == len(parts) and all(
        _in_order(short, word) for short, word in zip(parts, of, strict=True)
    )


@lru_cache(maxsize=20_000)
def _abbreviates(code: str, name: str) -> bool:
    """Whether a code splits into beginnings, letters in order, of all words of a name."""
    of = [word for word in re.split(r"[^\w]+", fold(name)) if word]

    def fits(rest: str, at: int) -> bool:
        if at == len(of) - 1:
            return bool(rest) and _in_order(rest, of[at])
        return any(
            _in_order(rest[:cut], of[at]) and fits(rest[cut:], at + 1)
            for cut in range(1, len(rest) - (len(of) - at - 2))
        )

    return len(of) > 1 and len(code) >= len(of) and fits(code, 0)


@lru_cache(maxsize=50_000)
def _edits(one: str, other: str, most: int) -> int:
    """Letters to change, add, drop or swap with their neighbour; `most` + 1 for more."""
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, start=1):
        older, before, row = before, row, [i]
        for j, against in enumerate(other, start=1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != against))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == against:
                cost = min(cost, older[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
    return row[-1]


class BoxIds:
    """The ids of a trail's boxes."""

    def __init__(self, boxes: Iterable[str]) -> None:
        self._boxes = frozenset(boxes)
        self._alike: dict[str, set[str]] = {}
        self._near: dict[str, tuple[str, ...]] = {}
        for box in self._boxes:
            for key in {plain_id(box), _without_words(box)} - {""}:
                self._alike.setdefault(key, set()).add(box)

    def match(self, value: object) -> Match:
        """The box that a cell means; `3`, `003`, `Box 3` and `BOX3` read the same."""
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            return Match(None)
        text = _shown(value)
        if text in self._boxes:
            return Match(text, "the id of a box")
        if "?" in text:
            return Match(None)  # whoever wrote it was in doubt
        for key in (plain_id(text), _without_words(text)):
            found = self._alike.get(key, set())
            if len(found) == 1 and key:
                return Match(next(iter(found)), "reads the same as this id alone")
        return Match(None)

    def nearest(self, value: object) -> tuple[str, ...]:
        """The boxes that a cell may mean, the likeliest first."""
        text = _shown(value).replace("?", " ")
        if text not in self._near:
            sure = self.match(text).value
            many = {sure} if sure else self._alike.get(_without_words(text), set())
            self._near[text] = tuple(sorted(many) or nearest_words(text, self._boxes))
        return self._near[text]

    def is_named(self, value: object) -> bool:
        """Whether text surely names a box: it has letters, of its own or as in "Box 3"."""
        found = self.match(value)
        if found.value is None or not isinstance(value, str):
            return False
        return any(letter.isalpha() for letter in value)


def _shown(value: object) -> str:
    return " ".join((f"{value:g}" if isinstance(value, float) else str(value)).split())


def _without_words(box: str) -> str:
    """The plain id without words like "box" before the number."""
    text = fold(box).replace("#", " ")
    before = words("box")
    parts = re.findall(r"\d+|[^\W\d_]+", text)
    while len(parts) > 1 and (parts[0] in before or " ".join(parts[:2]) in before):
        parts = parts[2:] if " ".join(parts[:2]) in before and len(parts) > 2 else parts[1:]
    return plain_id(" ".join(parts))
