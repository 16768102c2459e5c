"""What could be taken wrong in silence: each is read right, asked, or refused in a sentence."""

from __future__ import annotations

import datetime as dt
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from layers.errors import Refused
from layers.trail.importing.proposing import Known, Proposal, propose, read_grids
from layers.trail.importing.proposing.answers import LEAVE_OUT
from layers.trail.importing.proposing.days import written_day
from layers.trail.importing.proposing.matching import SpeciesNames
from layers.trail.importing.proposing.phrases import read_phrase
from layers.trail.importing.proposing.recipe import merged, remember, remembered
from layers.trail.store import Trail
from tests.trail.importing.imports import imported, written

TODAY = dt.date(2026, 7, 1)
BIRDS = ("eastern bluebird", "western bluebird", "tree swallow", "house wren", "stock dove")
KNOWN = Known(boxes=frozenset({"1", "2", "3", "N4"}), species=dict.fromkeys(BIRDS, ()), today=TODAY)


def proposed(path: Path, **more: Any) -> Proposal:
    return propose(read_grids(path), known=KNOWN, answers=more.get("answers", {}), file=path.name)


def book(path: Path, *rows: list[Any]) -> Path:
    made = openpyxl.Workbook()
    sheet = made.worksheets[0]
    for row in rows:
        sheet.append(row)
    made.save(path)
    return path


HEAD = ["Box", "Date", "Observer", "Species", "Eggs", "Young"]
DAY = dt.date(2026, 5, 14)


@pytest.mark.parametrize(
    ("row", "asked"),
    [
        ([dt.date(2026, 3, 1), DAY], ["boxes: 2026-03-01"]),
        ([True, DAY], ["boxes: True"]),
        (["1", DAY, "NA"], ["cells: NA in Observer"]),
        (["NA", DAY], ["boxes: NA"]),
        (["1", DAY, "Ann", "dove"], ["species: dove"]),
        (["1", DAY, "Ann", "bluebird"], ["species: bluebird"]),
        (["1", DAY, "Ann", None, dt.date(2026, 5, 4)], ["cells: 04 May 2026 in Eggs"]),
        (["1", DAY, "Ann", None, True], ["cells: True in Eggs"]),
        (["1", DAY, "Ann", None, "~5"], ["cells: about"]),
        (["1", DAY, "Ann", None, "5+"], ["cells: about"]),
        (["1", DAY, "Ann", None, "4-5"], ["cells: ranges"]),
        (["X9", DAY], ["boxes: X9"]),
        (["1", "5/4/2026"], ["dates: order in Date"]),
        (["1", "4 May"], ["dates: year in Sheet"]),
    ],
)
def test_a_cell_with_two_readings_is_asked_about(
    tmp_path: Path, row: list[Any], asked: list[str]
) -> None:
    proposal = proposed(book(tmp_path / "v.xlsx", HEAD, row, ["2", DAY, "Ann", None, 5]))
    assert [one.key for one in proposal.questions] == asked
    first = proposal.records[0]
    assert first.open and first.faults("v.xlsx", proposal.questions)
    assert not proposal.records[1].open


def test_numbers_of_a_table_without_headings_are_boxes_only_if_she_says_so(tmp_path: Path) -> None:
    rows = "RIFLE,1,138,2008-07-11\nSCOPE,2,99,2008-08-01\nSLING,1,12,2009-02-03\n"
    path = written(tmp_path / "v.csv", rows)
    proposal = proposed(path)
    assert [one.key for one in proposal.questions] == ["columns: column B"]
    assert all(one.open or one.unread for one in proposal.records)
    boxes = proposed(path, answers={"columns": {"column B": "box"}})
    assert [one.values["box"] for one in boxes.records] == ["1", "2", "1"]
    none = proposed(path, answers={"columns": {"column B": LEAVE_OUT}})
    assert all(one.open or one.unread for one in none.records)


@pytest.mark.parametrize(
    ("cell", "note"),
    [
        ("1,000", "Eggs: 1,000"),
        ("x", "Eggs: x"),
        ("5 eggs (2 cowbird)", "Eggs: 5 eggs (2 cowbird)"),
        ("5+2", "Eggs: 5+2"),
    ],
)
def test_what_is_not_wholly_understood_counts_nothing_and_is_kept(
    tmp_path: Path, cell: str, note: str
) -> None:
    row = ["1", DAY, "Ann", None, cell]
    (record,) = proposed(book(tmp_path / "v.xlsx", HEAD, row)).records
    assert "eggs" not in record.values
    assert record.values["note"] == note


@pytest.mark.parametrize(
    ("cell", "why"),
    [("=2+3", "a formula that was never calculated"), ("#N/A", "the spreadsheet error #N/A")],
)
def test_a_cell_without_a_value_is_no_blank(tmp_path: Path, cell: str, why: str) -> None:
    row = ["1", DAY, "Ann", None, cell]
    (record,) = proposed(book(tmp_path / "v.xlsx", HEAD, row)).records
    assert record.unread is not None and why in record.unread


def test_days_that_a_program_may_have_exchanged_are_asked_about(tmp_path: Path) -> None:
    path = book(tmp_path / "v.xlsx", HEAD, ["1", "14/05/2026"], ["1", dt.date(2026, 3, 4)])
    (question,) = proposed(path).questions
    assert question.key == "dates: text beside days in Date"
    answers = {question.section: {question.item: "swapped"}}
    days = [one.values["date"] for one in proposed(path, answers=answers).records]
    assert days == [dt.date(2026, 5, 14), dt.date(2026, 4, 3)]


def test_a_line_that_names_the_separator_is_no_header(tmp_path: Path, trail: Trail) -> None:
    path = written(tmp_path / "v.csv", "sep=;\nbox;date;note\nA1;2026-05-14;a,b,c,d\n")
    assert [one.values["note"] for one in proposed(path).records] == ["a,b,c,d"]
    assert imported("visits", path, trail).preview[0]["note"] == "a,b,c,d"


def test_one_stray_byte_does_not_make_a_file_of_another_encoding(
    tmp_path: Path, trail: Trail
) -> None:
    path = tmp_path / "v.csv"
    good = "box,date,note\nA1,2026-05-14,Käuzchen über Öhr\n".encode()
    path.write_bytes(good + b"A2,2026-05-14,b\xe4d\n")
    with pytest.raises(Refused, match=r"text that can be printed.*row 3, column note"):
        imported("visits", path, trail)
    path.write_bytes("box,date,note\nA1,2026-05-14,łąka\n".encode("cp1250"))
    with pytest.raises(Refused, match="save it as CSV in UTF-8"):
        imported("visits", path, trail)


@pytest.mark.parametrize("day", [dt.date(1900, 1, 1), dt.date(1905, 7, 18), "1/1/1900"])
def test_a_day_that_programs_write_for_none_is_no_day(tmp_path: Path, day: object) -> None:
    (record,) = proposed(book(tmp_path / "v.xlsx", HEAD, ["1", day, "Ann", None, 5])).records
    assert record.needed == "a date like 2026-05-14" and record.unread


def test_what_a_system_puts_beside_files_in_a_zip_is_passed_over(
    tmp_path: Path, trail: Trail
) -> None:
    kml = (
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>C1</name>'
        "<Point><coordinates>-77.9,42.61</coordinates></Point></Placemark></Document></kml>"
    )
    path = tmp_path / "b.kmz"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("doc.kml", kml)
        archive.writestr("__MACOSX/._doc.kml", "x")
    assert imported("boxes", path, trail).added == 1


def test_what_the_library_says_of_itself_is_not_passed_on(tmp_path: Path, trail: Trail) -> None:
    source = written(tmp_path / "b.gpkg", "no file of this kind")
    with pytest.raises(Refused, match="a damaged file, or one of another format") as caught:
        imported("boxes", source, trail)
    assert "Collection" not in str(caught.value) and "flags" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("5 eggs warm", {"eggs": 5, "eggs_warm": "yes"}),
        ("2E 3Y", {"eggs": 2, "young": 3}),
        ("4 babies ~6 d", {"young": 4, "young_days": 6}),
        ("2 huevos y 3 pollos", {"eggs": 2, "young": 3}),
        ("3 œufs, 1 poussin", {"eggs": 3, "young": 1}),
        ("empty", {"eggs": 0, "young": 0}),
        ("2 dead chicks, 1 chick", {"dead_young": 2, "young": 1}),
        ("box 5 eggs", None),
        ("no. 5 young", None),
        ("saw 4 young outside", None),
        ("5 eggs / 4 last wk", None),
        ("5 eggs 4 eggs", None),
        ("cold", None),
        ("?", None),
    ],
)
def test_a_phrase_is_read_whole_or_not_at_all(text: str, values: dict[str, Any] | None) -> None:
    found = read_phrase(text)
    assert (None if found is None else dict(found.values)) == values


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("5/14/26", (2026, 5, 14)),
        ("14-May-26", (2026, 5, 14)),
        ("Thu 14 May 2026", (2026, 5, 14)),
        ("14. März 1998", (1998, 3, 14)),
        ("14 de mayo de 2026", (2026, 5, 14)),
        ("1er juil. 2025", (2025, 7, 1)),
        ("20260514", (2026, 5, 14)),
        ("May 14, '26", (2026, 5, 14)),
        ("31/02/2026", None),
        ("12.5", None),
        ("4-5", None),
        ("5 eggs", None),
        ("1826-05-14", None),
    ],
)
def test_days_as_people_write_them(text: str, day: tuple[int, int, int] | None) -> None:
    found = written_day(text, today=TODAY)
    read = None if found is None else found.day(order=None, year=None)
    assert read == (None if day is None else dt.date(*day))


@pytest.mark.parametrize(
    ("text", "species"),
    [
        ("EABL", "eastern bluebird"),
        ("e. bluebird", "eastern bluebird"),
        ("Eastern Blubird", "eastern bluebird"),
        ("tree swallows", "tree swallow"),
        ("HOWR", "house wren"),
        ("TS", None),
        ("sparrow", None),
        ("swallow", None),
    ],
)
def test_words_that_fit_one_species_alone(text: str, species: str | None) -> None:
    assert SpeciesNames(KNOWN.species).match(text).value == species


def test_answers_about_one_file_are_not_used_for_the_next(trail: Trail) -> None:
    remember(
        trail,
        {
            "columns": {"Temp F": "own column"},
            "dates": {"order in Date": "day-first", "year in 2026": "2026"},
            "cells": {"04 May 2026 in Eggs": "5", "about": "number"},
        },
    )
    remember(trail, {"columns": {"Wind": "note"}})
    assert remembered(trail) == {
        "columns": {"Temp F": "own column", "Wind": "note"},
        "dates": {"order in Date": "day-first"},
        "cells": {"about": "number"},
    }
    assert merged({"a": {"x": "1"}}, {"a": {"x": "2"}}) == {"a": {"x": "2"}}


def test_a_remembered_order_yields_to_what_a_file_shows(tmp_path: Path) -> None:
    path = written(tmp_path / "v.csv", "Box,Date,Eggs\n1,5/14/2026,5\n2,6/7/2026,4\n")
    proposal = proposed(path, answers={"dates": {"order in Date": "day-first"}})
    assert [one.key for one in proposal.questions] == ["dates: order in Date, this file"]
    assert proposal.records[1].open


def test_a_file_that_would_end_the_reading_process_is_refused(tmp_path: Path) -> None:
    path = book(tmp_path / "far.xlsx", ["Box", "Date"])
    far = openpyxl.load_workbook(path)
    far.worksheets[0].cell(row=1_048_576, column=16_384, value="x")
    far.save(path)
    with pytest.raises(Refused, match="a sheet of at most"):
        read_grids(path)
    path.write_bytes(b"PK\x03\x04 nonsense")
    with pytest.raises(Refused, match="a damaged or foreign file"):
        read_grids(path)


def test_a_name_that_may_be_an_empty_cell_is_no_observer(tmp_path: Path, trail: Trail) -> None:
    source = written(tmp_path / "v.csv", "box,date,observer,eggs\nA1,2026-05-14,NA,5\n")
    with pytest.raises(Refused, match="an empty cell if none was noted, got 'NA'"):
        imported("visits", source, trail)
