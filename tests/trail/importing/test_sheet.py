"""Spreadsheets: typed cells, sheets, error values, damaged files."""

from __future__ import annotations

import datetime as dt
import random
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from layers.errors import Fault, Refused
from layers.trail.importing import sheet
from layers.trail.importing.sheet import open_sheet
from layers.trail.importing.source import Row
from layers.trail.store import Trail
from tests.trail.importing.imports import content, imported


def book(path: Path, *rows: list[Any], **sheets: list[list[Any]]) -> Path:
    made = openpyxl.Workbook()
    for row in rows:
        made.active.append(row)
    for title, content_of in sheets.items():
        page = made.create_sheet(title)
        for row in content_of:
            page.append(row)
    made.save(path)
    return path


def hide(path: Path, *titles: str) -> None:
    made = openpyxl.load_workbook(path)
    for title in titles:
        made[title].sheet_state = "hidden"
    made.active = len(made.sheetnames) - 1
    made.save(path)


def rows(path: Path, kind: str = "visits") -> list[Row | Fault]:
    with open_sheet(path, kind=kind, progress=lambda done, total: None) as table:
        return list(table.rows)


def test_dates_times_and_numbers_keep_their_types(tmp_path: Path, trail: Trail) -> None:
    source = book(
        tmp_path / "v.xlsx",
        ["Box", "Date", "Time", "Eggs", "Eggs warm", "Note"],
        ["A1", dt.date(2026, 5, 14), dt.time(8, 30), 5, True, 12],
        ["A2", dt.datetime(2026, 5, 15, 9, 15), None, 4.0, False, None],
    )
    assert imported("visits", source, trail).added == 2
    one, two = trail.visit_rows("A1")[0], trail.visit_rows("A2")[0]
    assert (one["seen_at"], one["eggs"], one["eggs_warm"], one["note"]) == (
        "2026-05-14T12:30:00.000Z",
        5,
        "yes",
        "12",
    )
    assert (two["seen_at"], two["eggs"], two["eggs_warm"]) == ("2026-05-15T13:15:00.000Z", 4, "no")


def test_error_values_and_day_numbers_are_faults_where_they_stand(
    tmp_path: Path, trail: Trail
) -> None:
    source = book(
        tmp_path / "v.xlsx",
        ["box", "date", "eggs"],
        ["A1", 46156, "#N/A"],
        ["A2", "#REF!", 3],
    )
    before = content(trail)
    with pytest.raises(Refused) as caught:
        imported("visits", source, trail)
    assert [(fault.row, fault.column, fault.came) for fault in caught.value.faults] == [
        (2, "date", "the number 46156"),
        (2, "eggs", "the spreadsheet error #N/A"),
        (3, "date", "the spreadsheet error #REF!"),
    ]
    assert content(trail) == before


def with_cells(path: Path, cells: str) -> Path:
    """A spreadsheet whose first sheet has these cells below its header `box`, `date`, `eggs`."""
    made = book(path, ["box", "date", "eggs"], ["A1", "2026-05-14", 5])
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    parts[name] = parts[name].replace(b"</sheetData>", cells.encode() + b"</sheetData>")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content_of in parts.items():
            archive.writestr(part, content_of)
    return made


@pytest.mark.parametrize(
    ("cell", "came"),
    [
        ("<f>1+4</f>", "a formula that was never calculated"),
        ("<f>1+4</f><v></v>", "a formula that was never calculated"),
        ("<f>1+4</f><v>500</v>", "500"),
        ("<f>1/0</f><v>#DIV/0!</v>", "the spreadsheet error #DIV/0!"),
    ],
)
def test_a_formula_without_a_value_or_with_an_error_is_no_blank(
    tmp_path: Path, trail: Trail, cell: str, came: str
) -> None:
    kind = ' t="e"' if "#" in cell else ""
    cells = f"""<row r="3"><c r="A3" t="inlineStr"><is><t>A2</t></is></c>
        <c r="B3" t="inlineStr"><is><t>2026-05-14</t></is></c><c r="C3"{kind}>{cell}</c></row>"""
    with pytest.raises(Refused) as caught:
        imported("visits", with_cells(tmp_path / "v.xlsx", cells), trail)
    assert [(f.row, f.column, f.came) for f in caught.value.faults] == [(3, "eggs", came)]


def test_a_formula_that_gave_an_empty_text_is_blank(tmp_path: Path, trail: Trail) -> None:
    cells = """<row><c t="inlineStr"><is><t>A2</t></is></c><c><f>TODAY()</f><v>46156</v></c>
        <c t="str"><f>""</f><v></v></c></row>"""
    with pytest.raises(Refused) as caught:
        imported("visits", with_cells(tmp_path / "v.xlsx", cells), trail)
    assert [(f.row, f.column) for f in caught.value.faults] == [(3, "date")]


def test_a_row_of_uncalculated_formulas_below_all_others_is_a_row(tmp_path: Path) -> None:
    path = with_cells(tmp_path / "v.xlsx", '<row r="9"><c r="B9"><f>A1</f></c></row>')
    assert [row.number for row in rows(path) if isinstance(row, Row)] == [2, 9]


def test_columns_left_of_the_table_are_counted(tmp_path: Path) -> None:
    path = book(tmp_path / "v.xlsx", [], [None, "box"], [None, "A1"])
    with open_sheet(path, kind="visits", progress=lambda done, total: None) as table:
        assert (table.header, next(table.rows)) == (("", "box"), Row(3, "v.xlsx", [None, "A1"]))


@pytest.mark.parametrize(
    "cells",
    [
        '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>',
        '<row r="6"><c r="A6"><v>1</v></c><c r="B9999999999999999999999"><v>1</v></c></row>',
    ],
)
def test_a_cell_in_the_far_corner_is_refused_at_once(tmp_path: Path, cells: str) -> None:
    with pytest.raises(Refused, match=r"filled down to row [19][\d,]+ and across to column \d+"):
        rows(with_cells(tmp_path / "v.xlsx", cells))


def test_a_file_that_unpacks_to_too_much_is_refused_unread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheet, "MAX_UNPACKED_BYTES", 1_000_000)
    text = "x" * 1_000_000
    cells = f'<row r="3"><c r="A3" t="inlineStr"><is><t>{text}</t></is></c></row>'
    with pytest.raises(Refused, match="of at most 1 MB unpacked, got 1 MB"):
        rows(with_cells(tmp_path / "v.xlsx", cells))


def test_the_sheet_named_like_the_kind_is_read_and_the_others_told(tmp_path: Path) -> None:
    path = book(tmp_path / "v.xlsx", ["notes"], Visits=[["box"], ["A1"]], old=[["box"], ["B1"]])
    with open_sheet(path, kind="visits", progress=lambda done, total: None) as table:
        assert [row.cells for row in table.rows if isinstance(row, Row)] == [["A1"]]
        assert table.notes == ["sheet Visits read, not Sheet, old"]


def test_a_hidden_first_sheet_is_not_read_but_told(tmp_path: Path) -> None:
    path = book(tmp_path / "v.xlsx", ["Old"], [1], old=[["Box"], ["X"]], Mine=[["Box"], ["B1"]])
    hide(path, "Sheet", "old")
    with open_sheet(path, kind="visits", progress=lambda done, total: None) as table:
        assert table.header == ("Box",)
        assert table.notes == ["sheet Mine read, not Sheet, old"]


def test_a_file_whose_sheets_are_all_hidden_is_refused(tmp_path: Path) -> None:
    path = book(tmp_path / "v.xlsx", ["Box"], ["A1"])
    with zipfile.ZipFile(path) as made:
        parts = {name: made.read(name) for name in made.namelist()}
    hiding = parts["xl/workbook.xml"].replace(b'state="visible"', b'state="hidden"')
    assert hiding != parts["xl/workbook.xml"]
    with zipfile.ZipFile(path, "w") as written:
        for name, part in {**parts, "xl/workbook.xml": hiding}.items():
            written.writestr(name, part)
    with pytest.raises(Refused) as refusal:
        rows(path)
    assert refusal.value.faults[0].came == "none but the hidden sheet Sheet"


def test_blank_rows_are_passed_over_but_counted(tmp_path: Path) -> None:
    found = rows(book(tmp_path / "v.xlsx", [], ["box"], [], ["A1"], [None], ["A2"]))
    assert [row.number for row in found if isinstance(row, Row)] == [4, 6]


def test_a_cell_beside_the_header_is_a_fault(tmp_path: Path) -> None:
    (fault,) = rows(book(tmp_path / "v.xlsx", ["box"], ["A1", None, "stray"]))
    assert str(fault) == "Expected no more than the 1 cells of the header, got 3 in v.xlsx row 2"


def test_an_empty_spreadsheet_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="an empty sheet"):
        rows(book(tmp_path / "v.xlsx"))


@pytest.mark.parametrize("size", [1, 100, 3000])
def test_what_is_no_spreadsheet_is_refused(tmp_path: Path, size: int) -> None:
    path = tmp_path / "v.xlsx"
    path.write_bytes(random.Random(size).randbytes(size))
    with pytest.raises(Refused, match="a damaged or foreign file"):
        rows(path)


@pytest.mark.parametrize("seed", range(25))
def test_a_damaged_spreadsheet_is_read_or_refused_but_never_crashes(
    tmp_path: Path, seed: int
) -> None:
    path = book(tmp_path / "v.xlsx", ["box", "date"], *[["A1", dt.date(2026, 5, 14)]] * 50)
    damaged = bytearray(path.read_bytes())
    rng = random.Random(seed)
    for _ in range(rng.randint(1, 40)):
        damaged[rng.randrange(len(damaged))] = rng.randrange(256)
    path.write_bytes(bytes(damaged[: rng.choice([len(damaged), len(damaged) - 200])]))
    try:
        found = rows(path)
    except Refused as error:
        assert "a spreadsheet" in str(error) or "a header and rows" in str(error)
    else:
        assert all(isinstance(row, Row | Fault) for row in found)
