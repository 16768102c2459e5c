"""Tables on a screen: as wide as they are, or folded where the screen is narrow."""

import sys

import pytest

from server.terminal import print_table

HEADS = ("box", "why", "inside")
LONG = "The clutch should be complete since 22 May and can be counted until hatching."
ROWS = [("N05", LONG, "Tree swallow: five eggs"), ("P09", None, "")]


def printed(capsys: pytest.CaptureFixture[str]) -> list[str]:
    print_table(HEADS, ROWS)
    return capsys.readouterr().out.splitlines()


def test_into_a_file_a_row_is_a_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    lines = printed(capsys)
    assert lines[1] == f"N05  {LONG}  Tree swallow: five eggs"
    assert len(lines) == 3


@pytest.mark.parametrize("columns", [40, 60, 80])
def test_on_a_narrow_screen_wide_columns_are_folded_and_nothing_is_lost(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    lines = printed(capsys)
    assert max(len(line) for line in lines) <= columns
    assert lines[0].split() == list(HEADS)
    starts = lines[0].index("why"), lines[0].index("inside")
    told = " ".join(line[starts[0] : starts[1]].strip() for line in lines[1:-1])
    assert told.strip() == LONG
    assert " ".join(line[starts[1] :].strip() for line in lines[1:-1]).strip() == ROWS[0][2]
    assert lines[-1] == "P09"


def test_on_a_wide_screen_nothing_is_folded(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    assert len(printed(capsys)) == 3
