"""Tables of text: every encoding and delimiter, and what is no table at all."""

from __future__ import annotations

import random
import string
from pathlib import Path

import pytest

from layers.errors import Fault, Refused
from layers.trail.importing.source import Row
from layers.trail.importing.text import open_text
from tests.trail.importing.imports import having, written


def rows(path: Path) -> tuple[tuple[str, ...], list[Row | Fault], list[str]]:
    with open_text(path, progress=lambda done, total: None) as table:
        return table.header, list(table.rows), table.notes


def cells(path: Path) -> list[list[object]]:
    return [list(row.cells) for row in rows(path)[1] if isinstance(row, Row)]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_in_whichever_encoding_it_is(tmp_path: Path, encoding: str) -> None:
    path = written(tmp_path / "v.csv", "box,note\nA1,früh – naß\n", encoding)
    assert cells(path) == [["A1", "früh – naß"]]


def test_lines_that_end_as_on_an_old_mac_are_read_with_their_delimiter(tmp_path: Path) -> None:
    path = written(tmp_path / "v.csv", 'box;note\rA1;"a;\rb"\rB1;\r')
    assert cells(path) == [["A1", "a;\rb"], ["B1", ""]]


def test_a_file_in_utf16_with_the_other_mark_is_read(tmp_path: Path) -> None:
    path = tmp_path / "v.csv"
    path.write_bytes(b"\xfe\xff" + "box,note\nA1,früh\n".encode("utf-16-be"))
    assert cells(path) == [["A1", "früh"]]


def test_one_letter_of_windows_1252_late_in_a_long_file_is_read(tmp_path: Path) -> None:
    long = "box,note\n" + "A1,x\n" * 500_000 + "A1,naß\n"
    path = written(tmp_path / "v.csv", long, "cp1252")
    header, found, notes = rows(path)
    last = found[-1]
    assert isinstance(last, Row)
    assert (header, last.cells, last.number) == (("box", "note"), ["A1", "naß"], 500_002)
    assert notes == ["read as Windows-1252"]


def test_a_letter_that_lies_across_two_chunks_of_reading_is_whole(tmp_path: Path) -> None:
    head = "box,note\nA1,"
    path = written(tmp_path / "v.csv", head + "x" * ((1 << 20) - len(head) - 1) + "é\n")
    with open_text(path, progress=lambda done, total: None) as table:
        assert table.notes == []


@pytest.mark.parametrize(("mark", "named"), [(",", None), (";", ";"), ("\t", "tabs"), ("|", "|")])
def test_the_delimiter_is_known_by_the_header(tmp_path: Path, mark: str, named: str | None) -> None:
    text = f'box{mark}note{mark}"a, b; c"\nA1{mark}"x{mark}y"{mark}1.5\n'
    header, found, notes = rows(written(tmp_path / "v.csv", text))
    assert header == ("box", "note", "a, b; c")
    assert [row.cells for row in found if isinstance(row, Row)] == [["A1", f"x{mark}y", "1.5"]]
    assert notes == ([] if named is None else [f"columns separated by {named}"])


def test_a_delimiter_within_names_and_notes_does_not_mislead(tmp_path: Path) -> None:
    text = "box;note, or remark, or whim\nA1;calm, wet, cold, long\nA2;dry\n"
    assert cells(written(tmp_path / "v.csv", text)) == [
        ["A1", "calm, wet, cold, long"],
        ["A2", "dry"],
    ]


def test_a_single_column_needs_no_delimiter(tmp_path: Path) -> None:
    assert cells(written(tmp_path / "v.csv", "box\nA1\nA2\n")) == [["A1"], ["A2"]]


def test_rows_are_counted_as_a_spreadsheet_shows_them(tmp_path: Path) -> None:
    text = 'box,note\r\nA1,"two\r\nlines"\r\n\r\n,\r\nA2,x\r\n'
    found = rows(written(tmp_path / "v.csv", text))[1]
    assert [(row.number, row.cells[0]) for row in found if isinstance(row, Row)] == [
        (2, "A1"),
        (5, "A2"),
    ]


def test_blank_rows_before_the_header_are_passed_over_but_counted(tmp_path: Path) -> None:
    header, found, _ = rows(written(tmp_path / "v.csv", "\n;;\nbox;note\nA1;x\n"))
    assert header == ("box", "note")
    assert [row.number for row in found if isinstance(row, Row)] == [4]


def test_a_header_cell_may_hold_a_line_break(tmp_path: Path) -> None:
    header, found, _ = rows(written(tmp_path / "v.csv", 'box,"eggs\nwarm"\nA1,yes\n'))
    assert header == ("box", "eggs\nwarm")
    assert len(found) == 1


def test_a_row_with_more_cells_than_the_header_is_a_fault_and_the_next_is_read(
    tmp_path: Path,
) -> None:
    wide = ",".join(["x"] * 10_000)
    found = rows(written(tmp_path / "v.csv", f"box,note\n{wide}\nA1,y,,\n"))[1]
    assert str(found[0]) == (
        "Expected no more than the 2 cells of the header, got 10000, from 'x' on in v.csv row 2"
    )
    assert isinstance(found[1], Row)


@pytest.mark.parametrize(
    ("text", "came"),
    [
        ('box,note\nA1,ok\nA2,"never closed\nA3,x\n', "unexpected end of data"),
        ('box,note\nA1,ok\nA2,"a"b"\nA3,x\n', "',' expected after '\"'"),
        ("box,note\nA1,ok\nA2," + "x" * 200_000 + "\n", "field larger than field limit"),
    ],
)
def test_a_quote_gone_astray_is_a_fault_where_it_stands(
    tmp_path: Path, text: str, came: str
) -> None:
    found = rows(written(tmp_path / "v.csv", text))[1]
    fault = found[-1]
    assert isinstance(fault, Fault)
    assert (len(found), fault.row) == (2, 3)
    assert came in fault.came


def test_a_utf16_file_that_is_cut_off_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "v.csv"
    path.write_bytes(("box,note\n" + "A1,x\n" * 20_000).encode("utf-16")[:-1])
    *_, fault = rows(path)[1]
    assert isinstance(fault, Fault)
    assert fault.came == "bytes of another encoding"
    assert "the rest of the file was not" in fault.expected


@pytest.mark.parametrize(
    ("content", "came"),
    [
        (b"\n\n \n", "an empty file"),
        (b"box,\0note\nA1,x\n", "other bytes"),
        ("box,note\nA1,x\n".encode("utf-16-le"), "other bytes"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "other bytes, which begin with b'\\\\x89PNG'"),
        (b"box,\x81\xff\n", "other bytes"),
        (b"\xff\xfe\0", "bytes that are not UTF-16"),
        (b'"' + b"x" * 200_000 + b'"\n', "field larger than field limit"),
    ],
)
def test_what_is_no_table_of_text_is_refused(tmp_path: Path, content: bytes, came: str) -> None:
    path = tmp_path / "v.csv"
    path.write_bytes(content)
    with pytest.raises(Refused, match=came):
        rows(path)


@pytest.mark.parametrize("seed", range(20))
def test_random_bytes_are_read_or_refused_but_never_crash(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    letters = [*string.printable.encode(), *b'",;\t|\r\n' * 8, 0, 255, 0x81, 0xE9]
    path = tmp_path / "v.csv"
    path.write_bytes(b"box,note\n" + bytes(rng.choices(letters[: len(letters) - seed % 5], k=3000)))
    try:
        found = rows(path)[1]
    except Refused as error:
        assert "was refused" in str(error)
    else:
        assert all(isinstance(row, Row | Fault) for row in found)


def test_progress_is_told_in_bytes_up_to_the_size_of_the_file(tmp_path: Path) -> None:
    path = written(tmp_path / "v.csv", "box,note\n" + "A1,something\n" * 50_000)
    told: list[tuple[int, int | None]] = []
    with open_text(path, progress=lambda done, total: told.append((done, total))) as table:
        for _ in table.rows:
            pass
    size = path.stat().st_size
    assert told[-1] == (size, size)
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert len({done for done, _ in told}) > 5


def test_a_refusal_names_the_file_and_says_that_nothing_was_added(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=having("v.csv was refused; nothing was added")):
        rows(written(tmp_path / "v.csv", "\n"))
