"""How numbers and doubts read."""

from __future__ import annotations

import dataclasses

import pytest

from layers.nesting.season import doubts
from layers.nesting.season.result import About, Interval, Measure, Quantity, format_value

ABOUT = About("count", (), (), "none")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.625, "share", "62 %"),
        (0.96014, "daily rate", "0.9601"),
        (4.739, "count", "4.7"),
        (-0.031, "per year", "-0.03"),
        (0.01234, "per day", "0.0123"),
    ],
)
def test_a_value_reads_in_its_unit(value: float, unit: str, text: str) -> None:
    assert format_value(value, unit) == text  # type: ignore[arg-type]


def test_a_sentence_has_the_number_its_n_and_its_interval() -> None:
    measure = Measure(
        "nest success", "share", 0.5, Interval(0.25, 0.75, "exact"), None, 12, "nests", ABOUT
    )
    assert measure.sentence() == ("Nest success: 50 % (12 nests; 95 % interval 25 % to 75 %).")


def test_no_answer_comes_with_its_reason() -> None:
    success = Quantity("nest success", "share", "nests", ABOUT, "nest with a known outcome")
    nothing = success.without_answer()
    assert nothing.sentence() == (
        "Nest success: no answer: there is no nest with a known outcome (0 nests)."
    )


def test_every_doubt_is_one_sentence_with_its_numbers() -> None:
    fill: dict[str, object] = {"int": 3, "str": "cone", "float": 0.25}
    kinds = [
        kind
        for kind in vars(doubts).values()
        if isinstance(kind, type) and issubclass(kind, doubts.Doubt) and kind is not doubts.Doubt
    ]
    assert len(kinds) > 10
    for kind in kinds:
        values = {field.name: fill[str(field.type)] for field in dataclasses.fields(kind)}
        sentence = str(kind(**values))
        assert sentence.endswith("."), kind
        assert (
            sentence[0] == "'"
            or sentence[0].isupper()
            or sentence[0].isdigit()
            or (sentence.startswith("cone"))
        )
        words = ["25 %" if value == 0.25 else str(value) for value in values.values()]
        assert all(word in sentence for word in words), kind
