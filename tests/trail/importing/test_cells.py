"""One cell: what it means, and what is refused."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.errors import BadValue
from layers.trail.importing import cells
from tests.trail.importing.imports import having


@pytest.mark.parametrize(
    "cell", [None, "", "  ", "-", "–", "?", "n/a", "N/A", "NA", "Unknown", float("nan")]
)
def test_a_cell_that_says_nothing_is_blank(cell: object) -> None:
    assert cells.is_blank(cell)


@pytest.mark.parametrize("cell", [0, 0.0, "0", "none", "no", False])
def test_zero_and_none_say_something(cell: object) -> None:
    assert not cells.is_blank(cell)


@pytest.mark.parametrize(
    ("cell", "number"),
    [("5", 5), (" 5 ", 5), ("5.0", 5), ("5,0", 5), (5, 5), (5.0, 5), ("0", 0), (0, 0), ("+3", 3)],
)
def test_a_count_is_read_from_text_and_typed_cells(cell: object, number: int) -> None:
    assert cells.count(cell, most=40) == number


@pytest.mark.parametrize(
    "cell",
    ["-1", -1, "41", 1e9, "4.5", "5+", "~5", "five", True, dt.date(2026, 5, 1), "1e999", "½"],
)
def test_a_count_that_is_negative_absurd_or_no_whole_number_is_refused(cell: object) -> None:
    with pytest.raises(BadValue, match="a whole number from 0 to 40") as caught:
        cells.count(cell, most=40)
    assert cells.quoted(cell) in str(caught.value)


@given(st.integers(0, 40), st.sampled_from(["{}", "{}.0", "{},0", " {} ", "+{}"]))
def test_any_count_comes_back_however_it_is_written(number: int, form: str) -> None:
    assert cells.count(form.format(number), most=40) == number


@given(st.floats(allow_nan=False, allow_infinity=False), st.booleans())
def test_any_number_comes_back_with_point_or_comma(number: float, comma: bool) -> None:
    written = repr(number).replace(".", "," if comma else ".")
    assert cells.decimal(written) == number


@given(st.text())
def test_any_text_is_a_number_or_refused(text: str) -> None:
    try:
        assert isinstance(cells.decimal(text), float)
    except BadValue as error:
        assert "a number" in str(error)


@given(st.text(max_size=200))
def test_clean_text_is_clean_already(text: str) -> None:
    try:
        cleaned = cells.text(text)
    except BadValue as error:
        assert "can be printed" in str(error)
    else:
        assert cells.text(cleaned) == cleaned


@pytest.mark.parametrize(
    ("cell", "unit", "factor", "stored"),
    [
        ("38", "mm", 1, 38),
        ("3,8", "cm", 10, 38),
        ("1 1/2", "in", 25.4, 38.1),
        ("1-1/2", "in", 25.4, 38.1),
        ("3/4", "in", 25.4, 19.05),
        (1.5, "in", 25.4, 38.1),
    ],
)
def test_a_measure_is_turned_into_the_stored_unit(
    cell: object, unit: str, factor: float, stored: float
) -> None:
    assert cells.measure(cell, unit=unit, low=10, high=400, factor=factor) == stored


def test_a_measure_in_another_unit_than_its_column_is_refused() -> None:
    with pytest.raises(BadValue, match=having("10 to 400 mm, got '1.5'")):
        cells.measure("1.5", unit="mm", low=10, high=400)


def test_a_comma_that_may_part_thousands_is_refused() -> None:
    with pytest.raises(BadValue, match="without thousands sign, got '1,250'"):
        cells.measure("1,250", unit="mm", low=10, high=4000)
    with pytest.raises(BadValue, match="without thousands sign, got '435,210'"):
        cells.projected("435,210")
    assert cells.projected("435210,5") == 435210.5


@pytest.mark.parametrize(
    ("cell", "word"),
    [
        ("yes", "yes"),
        ("Y", "yes"),
        (True, "yes"),
        (1, "yes"),
        ("No", "no"),
        (False, "no"),
        ("0", "no"),
    ],
)
def test_yes_and_no_are_read_in_the_usual_forms(cell: object, word: str) -> None:
    assert cells.yes_no(cell) == word


def test_a_word_that_is_neither_yes_nor_no_is_refused() -> None:
    with pytest.raises(BadValue, match="Expected no or yes, got 'maybe'"):
        cells.yes_no("maybe")


@pytest.mark.parametrize("cell", ["wet; ants", "Ants,WET", ["ants", "wet"], "wet;wet;ants;"])
def test_words_are_stored_once_and_in_the_order_of_the_list(cell: object) -> None:
    assert cells.words(cell, "signs", ("wet", "ants")) == "wet;ants"


def test_an_unknown_word_is_refused_with_the_nearest() -> None:
    with pytest.raises(BadValue, match=having("(nearest: flattened), got 'flatened'")):
        cells.word("flatened", "signs", ("wet", "flattened"))


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (12, "12"),
        (12.0, "12"),
        (12.5, "12.5"),
        (" Cafe\u0301 ", "Café"),
        (dt.date(2026, 5, 1), "2026-05-01"),
    ],
)
def test_text_is_trimmed_and_composed_and_typed_cells_become_text(cell: object, text: str) -> None:
    assert cells.text(cell) == text


@pytest.mark.parametrize("cell", ["a\0b", "a\x1bb", "\ud800", {"a": 1}])
def test_text_that_cannot_be_kept_is_refused(cell: object) -> None:
    with pytest.raises(BadValue, match="Expected text"):
        cells.text(cell)


def test_an_id_too_long_for_a_box_is_refused() -> None:
    with pytest.raises(BadValue, match="at most 64 letters, got 65 letters"):
        cells.box_id("A" * 65)


def test_a_long_value_is_quoted_short() -> None:
    assert cells.quoted("x" * 500).endswith("… (502 letters)")
