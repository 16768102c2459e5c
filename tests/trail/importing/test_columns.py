"""Which column of a file is which of ours."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.errors import BadValue, Refused
from layers.trail.field import Field
from layers.trail.importing.columns import (
    COLUMNS,
    KINDS,
    Columns,
    Kind,
    choose_columns,
    reader_of,
    units_of,
)
from layers.trail.importing.shapes import AS_POINT, AS_SHAPE
from layers.trail.schema import TABLES, VISITS
from tests.trail.importing.imports import having


def chosen(header: list[str], **asked: str) -> Columns:
    return choose_columns(header, names=COLUMNS["visits"], mapping=asked, file="v.csv")


def test_our_names_are_found_in_any_case_with_blanks_or_underscores() -> None:
    found = chosen(["BOX", "Date", "Eggs warm", "young-days", "Dead_Young "])
    assert found.at == {"box": 0, "date": 1, "eggs_warm": 2, "young_days": 3, "dead_young": 4}
    assert found.others == ()


def test_plain_words_for_our_names_are_found() -> None:
    found = chosen(["Nest box", "Visit date", "Comments", "Chicks"])
    assert found.chosen == {
        "box": "Nest box",
        "date": "Visit date",
        "note": "Comments",
        "young": "Chicks",
    }


def test_columns_that_stand_for_none_of_ours_are_told() -> None:
    assert chosen(["box", "weather", "date", ""]).others == ((1, "weather"), (3, ""))


def test_of_two_names_for_a_column_the_likelier_is_taken_and_the_other_told() -> None:
    found = chosen(["comments", "note", "box"])
    assert found.chosen["note"] == "note"
    assert found.others == ((0, "comments"),)


def test_what_was_asked_goes_before_all_matching() -> None:
    found = chosen(["box", "date", "Kasten"], box="Kasten")
    assert found.chosen["box"] == "Kasten"
    assert found.others == ((0, "box"),)


def test_two_columns_of_one_name_are_refused() -> None:
    with pytest.raises(Refused, match=having("one column of that name, got 'Date', 'date'")):
        chosen(["box", "Date", "date"])


def test_all_that_is_wrong_with_what_was_asked_is_told_at_once() -> None:
    with pytest.raises(Refused) as caught:
        chosen(["box", "datum"], bocks="box", date="Dattum")
    assert [str(fault) for fault in caught.value.faults] == [
        "Expected a column of ours such as box, got 'bocks' in v.csv",
        "Expected a column of the file such as datum, got 'Dattum' in v.csv",
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_no_name_stands_for_two_of_our_columns(kind: Kind) -> None:
    names = [*COLUMNS[kind], *(other for others in COLUMNS[kind].values() for other in others)]
    folded = [name.replace("_", " ") for name in names]
    assert len(set(folded)) == len(folded)


@pytest.mark.parametrize("kind", KINDS)
def test_every_stored_column_can_be_brought_under_its_own_name(kind: Kind) -> None:
    header = list(TABLES[kind].columns)
    found = choose_columns(header, names=COLUMNS[kind], mapping={}, file="f.csv")
    assert found.others == ()


@given(st.lists(st.text(max_size=12), max_size=12))
def test_every_column_of_any_header_is_chosen_or_told(header: list[str]) -> None:
    names = {**COLUMNS["boxes"], **AS_POINT, **AS_SHAPE}
    try:
        found = choose_columns(header, names=names, mapping={}, file="f.csv")
    except Refused as error:
        assert "one column of that name" in str(error)
    else:
        assert sorted([*found.at.values(), *(i for i, _ in found.others)]) == [*range(len(header))]


def test_a_declared_column_is_read_by_its_kind_range_words_and_former_words() -> None:
    warmth = Field("number", "air", name="temperature_c", unit="°C", between=(-40, 60))
    assert reader_of(warmth)("21,5") == 21.5
    with pytest.raises(BadValue, match="-40 to 60 °C, got '99'"):
        reader_of(warmth)("99")
    assert reader_of(Field("number", "air", name="a"))("-1e3") == -1000
    assert reader_of(Field("whole", "wind", name="w"))("-3") == -3
    sky = Field("word", "sky", name="sky", words=("clear", "grey"), former={"dull": "grey"})
    assert [reader_of(sky)(word) for word in ("Clear", "DULL")] == ["clear", "grey"]
    assert reader_of(sky, words=("clear", "grey", "haze"))("haze") == "haze"
    assert [*units_of(Field("number", "cup", name="cup_mm", unit="mm"))] == [
        "cup_mm",
        "cup_cm",
        "cup_in",
    ]


@pytest.mark.parametrize(
    ("old", "new"), [("partial", "loose material"), ("Full", "shaped cup"), ("lined", "lined cup")]
)
def test_words_of_format_1_are_read_as_those_of_today(old: str, new: str) -> None:
    assert reader_of(VISITS["nest"])(old) == new
