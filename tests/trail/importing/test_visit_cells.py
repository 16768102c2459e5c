"""One visit: from raw cells, text or typed, to a clean row or every fault."""

from __future__ import annotations

import dataclasses
import datetime as dt
import uuid
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.trail.importing import read_visit
from layers.trail.schema import VISITS
from layers.trail.visit_id import content_id
from layers.trail.words import ADULT, NEST
from tests.trail.importing.imports import KNOWN, RULES


def test_a_full_visit_is_read_as_it_is_stored() -> None:
    raw = {
        "box": " A1 ",
        "date": "14 May 2026",
        "time": "8:30 am",
        "observer": "Ann  and Jo",
        "species": "Eastern Bluebird",
        "nest": "Lined",
        "eggs": "5",
        "eggs_warm": "y",
        "young": 0,
        "young_days": "",
        "dead_young": "-",
        "adult": "sitting",
        "signs": ["ants", "wet"],
        "actions": "cleaned",
        "opened": True,
        "note": "quiet\nmorning",
    }
    read = read_visit(raw, rules=RULES)
    assert read.faults == ()
    assert read.values is not None
    stored = dict(read.values)
    assert stored.keys() == set(VISITS.columns)
    assert uuid.UUID(stored.pop("visit_id")).version == 5
    assert stored == {
        "box": "A1",
        "seen_on": "2026-05-14",
        "seen_at": "2026-05-14T12:30:00.000Z",
        "observer": "Ann and Jo",
        "species": "eastern bluebird",
        "nest": "lined cup",
        "eggs": 5,
        "eggs_warm": "yes",
        "young": 0,
        "young_days": None,
        "dead_young": None,
        "adult": "sitting",
        "signs": "wet;ants",
        "actions": "cleaned",
        "opened": "yes",
        "note": "quiet\nmorning",
        "own_columns": None,
        "confirmed": None,
        "import_id": None,
        "parasite_eggs": None,
        "parasite_young": None,
        "entered_at": None,
        "replaces": None,
        "withdraws": None,
    }


def test_all_faults_of_a_visit_are_told_with_file_row_and_column() -> None:
    raw = {
        "box": "A9",
        "date": "03/04/2026",
        "time": "25:00",
        "species": "bluebirt",
        "eggs": "-1",
        "young": "31",
        "nest": "ful",
        "egg_colour": "blue",
    }
    read = read_visit(raw, rules=RULES, row=7, file="v.csv")
    assert read.values is None
    assert [fault.column for fault in read.faults] == [
        "egg_colour",
        "box",
        "date",
        "time",
        "species",
        "nest",
        "eggs",
        "young",
    ]
    assert {(fault.file, fault.row) for fault in read.faults} == {("v.csv", 7)}
    assert "nearest: eastern bluebird, tree swallow" in str(read.faults[4])
    assert "one of none, loose material, shaped cup, lined cup" in str(read.faults[5])


def test_a_box_of_another_spelling_is_refused_naming_the_one_it_may_be() -> None:
    read = read_visit({"box": "a-01", "date": "2026-05-14"}, rules=RULES)
    assert [str(fault) for fault in read.faults] == [
        "Expected the id of a box of this trail (nearest: A1), got 'a-01', column box"
    ]


@pytest.mark.parametrize(
    ("raw", "column", "expected"),
    [
        ({"date": "2026-06-02"}, "date", "a date not after 2026-06-01, today"),
        ({"date": "2026-06-02", "time": "25:00"}, "date", "a date not after 2026-06-01, today"),
        ({"date": ""}, "date", "a date like 2026-05-14"),
        ({"date": "2026-03-08", "time": "02:30"}, "time", "a time that was on the clocks"),
        ({"date": "2026-05-14T08:00", "time": "09:00"}, "time", "the time that the date holds"),
        ({"date": "2026-05-14", "time": "2026-05-16T01:00Z"}, "time", "a time on 2026-05-14"),
        ({"date": "2026-05-14", "box": None}, "box", "the id of a box"),
        ({"date": "2026-05-14", "visit_id": "first"}, "visit_id", "a uuid"),
        (
            {
                "date": "2026-05-14",
                "visit_id": str(uuid.UUID(int=1)),
                "replaces": uuid.UUID(int=1).hex,
            },
            "replaces",
            "the id of another visit",
        ),
    ],
)
def test_a_visit_that_cannot_be_is_refused(
    raw: dict[str, object], column: str, expected: str
) -> None:
    read = read_visit({"box": "A1"} | raw, rules=RULES)
    assert read.values is None
    assert any(f.column == column and expected in f.expected for f in read.faults)


def test_a_moment_in_utc_falls_on_the_local_day_that_the_date_says() -> None:
    raw = {"box": "A1", "date": "2026-05-14", "time": "2026-05-15T02:30:00.000Z"}
    read = read_visit(raw, rules=RULES)
    assert read.values is not None
    assert read.values["seen_on"] == "2026-05-14"
    assert read.values["seen_at"] == "2026-05-15T02:30:00.000Z"
    assert read.notes == ()


def test_a_time_that_was_twice_is_noted() -> None:
    rules = dataclasses.replace(RULES, today=dt.date(2026, 12, 1))
    read = read_visit({"box": "A1", "date": "2026-11-01", "time": "1:30"}, rules=rules)
    assert read.values is not None
    assert read.notes == (
        "01:30 on 2026-11-01 was twice, as clocks were put back; the first was taken",
    )


def test_the_same_visit_has_the_same_id_and_another_has_another() -> None:
    raw = {"box": "A1", "date": "2026-05-14", "eggs": "5"}
    same = read_visit({"box": "A1", "date": "14 May 2026", "eggs": 5.0, "note": "?"}, rules=RULES)
    one = read_visit(raw, rules=RULES)
    other = read_visit(raw | {"eggs": 4}, rules=RULES)
    assert one.values is not None
    assert same.values is not None
    assert other.values is not None
    assert one.values["visit_id"] == same.values["visit_id"] == content_id(one.values)
    assert one.values["visit_id"] != other.values["visit_id"]


COUNTS = st.none() | st.integers(0, 30)
CLEAN = st.fixed_dictionaries(
    {
        "box": st.sampled_from(sorted(RULES.boxes)),
        "date": st.dates(dt.date(1950, 1, 1), dt.date(2026, 6, 1)),
        "time": st.none() | st.times().map(lambda t: t.replace(second=0, microsecond=0)),
        "observer": st.none() | st.sampled_from(["Ann", "Ида", 'A"nn; Jo, "x"']),
        "species": st.none() | st.sampled_from(KNOWN),
        "nest": st.none() | st.sampled_from(NEST),
        "eggs": COUNTS,
        "young": COUNTS,
        "young_days": COUNTS,
        "dead_young": COUNTS,
        "adult": st.none() | st.sampled_from(ADULT),
        "eggs_warm": st.none() | st.sampled_from(["yes", "no"]),
        "signs": st.lists(st.sampled_from(RULES.words["signs"]), unique=True),
        "opened": st.none() | st.booleans(),
        "note": st.none() | st.text(st.characters(blacklist_categories=["C"])),
    }
)


@given(CLEAN)
def test_any_clean_visit_is_read_as_it_was_meant_typed_or_as_text(raw: dict[str, Any]) -> None:
    typed = read_visit(raw, rules=RULES)
    texts = {
        name: "; ".join(value) if isinstance(value, list) else "" if value is None else str(value)
        for name, value in raw.items()
    }
    assert read_visit(texts, rules=RULES) == typed
    if typed.values is None:
        # Only a time that never was, when clocks were put forward, has no reading.
        assert [fault.column for fault in typed.faults] == ["time"]
        return
    for name in ("eggs", "young", "young_days", "dead_young", "species", "nest", "adult"):
        assert typed.values[name] == raw[name]
    assert typed.values["seen_on"] == raw["date"].isoformat()
    again = {
        {"seen_on": "date", "seen_at": "time"}.get(name, name): value
        for name, value in typed.values.items()
    }
    assert read_visit(again, rules=RULES).values == typed.values


@given(
    st.dictionaries(
        st.sampled_from(["box", "date", "time", "eggs", "signs", "replaces"]),
        st.none()
        | st.text()
        | st.integers()
        | st.floats()
        | st.booleans()
        | st.lists(st.text())
        | st.datetimes()
        | st.dates()
        | st.times()
        | st.timedeltas(),
    )
)
def test_any_cells_are_a_visit_or_faults(raw: dict[str, object]) -> None:
    read = read_visit(raw, rules=RULES)
    assert (read.values is None) == bool(read.faults)
