"""Sentences made from named values, so that a number in one is a number in the data."""

from __future__ import annotations

import string
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, get_args

from layers.nesting.season.doubts import format_cases
from layers.nesting.season.result import Measure, Unit, format_value
from layers.words import capitalise, format_day

Value = str | int | float | date


@dataclass(frozen=True)
class Sentence:
    """A sentence, and the values that it was made from."""

    text: str
    values: Mapping[str, Value]


class _Wording(string.Formatter):
    """Writes `{n:nests}` as `1 nest`, `{s:share}` as `62 %`, `{y:whole}` as `268`, a
    day as `3 June`.
    """

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, str):
            return value
        if isinstance(value, date):
            return format_day(value)
        if format_spec == "whole":
            return f"{value:.0f}"
        if format_spec in get_args(Unit):
            return format_value(value, format_spec)  # type: ignore[arg-type]
        return format_cases(value, format_spec) if format_spec else str(value)


def sentence(wording: str, **values: Value) -> Sentence:
    """The sentence that some wording makes of named values, with a capital first.

    Words and names that came from a person are values too, so that nothing in them is
    taken for wording.

    Examples
    --------
    >>> sentence("{lost} of {n:nests} were lost ({part:share}).", lost=1, n=4, part=0.25).text
    '1 of 4 nests were lost (25 %).'
    """
    text = _Wording().vformat(wording, (), values)
    return Sentence(capitalise(text), values)


def list_sentence(
    before: str, each: str, items: Mapping[str, int], *, after: str = ".", **values: Value
) -> Sentence:
    """A sentence that lists names with their numbers.

    `each` words one of them, with `{name}` and `{n}`: they become values of their own.
    """
    wordings = []
    for at, (name, n) in enumerate(items.items()):
        wordings.append(each.replace("{name", f"{{name_{at}").replace("{n:", f"{{n_{at}:"))
        wordings[-1] = wordings[-1].replace("{n}", f"{{n_{at}}}")
        values |= {f"name_{at}": name, f"n_{at}": n}
    return sentence(before + ", ".join(wordings) + after, **values)


def on_success(chance: Measure, *, least: int) -> Iterator[Sentence]:
    """The chance that young of a nest fledge; nothing if fewer than `least` nests were watched."""
    if chance.estimate is not None and chance.interval is not None and chance.n >= least:
        yield sentence(
            "From its first egg a nest had a chance of about {chance:share} to see young fledge "
            "(likely between {low:share} and {high:share}; {n:nests} watched).",
            chance=chance.estimate,
            low=chance.interval.low,
            high=chance.interval.high,
            n=chance.n,
        )
