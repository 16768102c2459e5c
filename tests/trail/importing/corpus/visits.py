"""Files of visits: seventeen layouts in five languages."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from tests.trail.importing.corpus.files import Made, Rows
from tests.trail.importing.corpus.keepers import LANGUAGES, Language
from tests.trail.importing.corpus.stories import Visit, phrase, truth, visits


def _bird(visit: Visit, language: Language) -> str:
    return language.species[visit.species] if visit.species else ""


def _list_row(visit: Visit, language: Language, *, box: str, day: Any) -> list[Any]:
    warm = {"warm": "y", None: ""}[visit.warm]
    age = "" if visit.age is None else visit.age
    return [
        box,
        day,
        _bird(visit, language),
        visit.eggs,
        warm,
        visit.young,
        age,
        visit.own,
        visit.note or "",
    ]


_LIST = ("box", "date", "species", "eggs", "warm", "young", "age", "own", "note")
_LIST_SHOWS = ("species", "counts", "warm", "age", "own", "note")


def _header(language: Language) -> list[Any]:
    return [language.heads[name] for name in _LIST]


def _table(found: list[Visit], language: Language, *, day: Callable[[dt.date], Any]) -> Rows:
    return [_list_row(v, language, box=language.of_box(v.box), day=day(v.day)) for v in found]


Layout = Callable[[Language, int], Made]


def _made(
    layout: str, language: Language, rows: Rows, found: list[dict[str, Any]], **more: Any
) -> Made:
    return Made(
        f"{layout}-{language.name}",
        layout,
        {"Sheet1": rows},
        found,
        delimiter=language.delimiter,
        encoding=language.encoding,
        **more,
    )


def plain(language: Language, seed: int) -> Made:
    """A header of the keeper's own, one row a visit."""
    found = visits(seed)
    rows = [_header(language), *_table(found, language, day=language.written)]
    return _made("plain", language, rows, [truth(v, language, *_LIST_SHOWS) for v in found])


def titled(language: Language, seed: int) -> Made:
    """Title lines above the header, a total and a footnote below."""
    found = visits(seed)
    rows = [
        ["Mill Creek 2026"],
        ["Ann"],
        [],
        _header(language),
        *_table(found, language, day=language.written),
        [language.total, "", "", sum(v.eggs for v in found), "", sum(v.young for v in found)],
        [],
        ["* two ladders are in the barn"],
    ]
    return _made("titled", language, rows, [truth(v, language, *_LIST_SHOWS) for v in found])


def sheet_a_box(language: Language, seed: int) -> Made:
    """A sheet for each box, its name the box."""
    found = visits(seed)
    sheets: dict[str, Rows] = {}
    for visit in found:
        rows = sheets.setdefault(language.of_box(visit.box), [_header(language)[1:]])
        rows.append(_list_row(visit, language, box="", day=visit.day)[1:])
    ordered = sorted(found, key=lambda v: list(sheets).index(language.of_box(v.box)))
    true = [truth(v, language, *_LIST_SHOWS) for v in ordered]
    return Made(f"sheets-{language.name}", "sheet a box", sheets, true, book=True)


def days_across(language: Language, seed: int) -> Made:
    """Boxes down, days across, a phrase a cell; the year in the title alone."""
    found = visits(seed)
    days = sorted({v.day for v in found})
    boxes = sorted({v.box for v in found}, key=int)
    by = {(v.box, v.day): v for v in found}
    rows: Rows = [["Mill Creek 2026"], []]
    rows.append([language.heads["box"], *(language.written_short(day) for day in days)])
    rows += [[box, *(phrase(by[box, day], language) for day in days)] for box in boxes]
    true = [truth(by[box, day], language, "phrase") for box in boxes for day in days]
    return _made("days across", language, rows, true)


def two_header_rows(language: Language, seed: int) -> Made:
    """Days across, eggs and young below each of them."""
    found = visits(seed)
    days = sorted({v.day for v in found})
    boxes = sorted({v.box for v in found}, key=int)
    by = {(v.box, v.day): v for v in found}
    head: list[Any] = [""]
    lower: list[Any] = [language.heads["box"]]
    for day in days:
        head += [language.written(day), ""]
        lower += [language.heads["eggs"], language.heads["young"]]
    rows: Rows = [head, lower]
    for box in boxes:
        cells = [[by[box, day].eggs, by[box, day].young] for day in days]
        rows.append([language.of_box(box), *(cell for pair in cells for cell in pair)])
    true = [truth(by[box, day], language, "counts") for box in boxes for day in days]
    return _made("two header rows", language, rows, true)


def boxes_across(language: Language, seed: int) -> Made:
    """Days down, boxes across."""
    found = visits(seed)
    days = sorted({v.day for v in found})
    boxes = sorted({v.box for v in found}, key=int)
    by = {(v.box, v.day): v for v in found}
    rows: Rows = [[language.heads["date"], *(language.of_box(box) for box in boxes)]]
    rows += [
        [language.written(day), *(phrase(by[box, day], language) for box in boxes)] for day in days
    ]
    true = [truth(by[box, day], language, "phrase") for day in days for box in boxes]
    return _made("boxes across", language, rows, true)


def stacked(language: Language, seed: int) -> Made:
    """One table below the other, each with its box above it."""
    found = visits(seed)
    rows: Rows = []
    true = []
    for box in sorted({v.box for v in found}, key=int):
        rows += [[language.of_box(box)], _header(language)[1:]]
        mine = [v for v in found if v.box == box]
        rows += [_list_row(v, language, box="", day=language.written(v.day))[1:] for v in mine]
        rows.append([])
        true += [truth(v, language, *_LIST_SHOWS) for v in mine]
    return _made("stacked", language, rows, true)


def grouped_heads(language: Language, seed: int) -> Made:
    """A row of groups above the headings."""
    found = visits(seed)
    heads = language.heads
    rows: Rows = [
        ["", "", "", "", heads["young"], ""],
        [
            heads["box"],
            heads["date"],
            heads["species"],
            heads["eggs"],
            heads["count"],
            heads["age_short"],
        ],
    ]
    for v in found:
        age = "" if v.age is None else v.age
        rows.append([v.box, language.written(v.day), _bird(v, language), v.eggs, v.young, age])
    true = [truth(v, language, "species", "counts", "age") for v in found]
    return _made("grouped heads", language, rows, true)


def contents(language: Language, seed: int) -> Made:
    """What was in the box as a phrase, in a column of its own."""
    found = visits(seed)
    heads = language.heads
    rows: Rows = [[heads["date"], heads["box"], heads["species"], heads["contents"], heads["note"]]]
    for v in found:
        rows.append(
            [
                language.written(v.day),
                f"{int(v.box):03d}",
                _bird(v, language),
                phrase(v, language),
                v.note or "",
            ]
        )
    true = [truth(v, language, "species", "phrase", "note") for v in found]
    return _made("contents", language, rows, true)


def side_by_side(language: Language, seed: int) -> Made:
    """Two tables beside each other."""
    found = visits(seed)
    half = len(found) // 2
    head = [language.heads[name] for name in ("box", "date", "species", "eggs", "young")]
    rows: Rows = [[*head, "", *head]]
    true = []
    for one, other in zip(found[:half], found[half:], strict=True):
        cells = [
            [language.of_box(v.box), language.written(v.day), _bird(v, language), v.eggs, v.young]
            for v in (one, other)
        ]
        rows.append([*cells[0], "", *cells[1]])
    true = [truth(v, language, "species", "counts") for v in found]
    return _made("side by side", language, rows, true)


def box_once(language: Language, seed: int) -> Made:
    """The box written in its first row alone: one question."""
    found = sorted(visits(seed), key=lambda v: (int(v.box), v.day))
    rows, before = [_header(language)], ""
    for row, v in zip(_table(found, language, day=language.written), found, strict=True):
        rows.append([row[0] if v.box != before else "", *row[1:]])
        before = v.box
    return _made(
        "box once",
        language,
        rows,
        [truth(v, language, *_LIST_SHOWS) for v in found],
        answers={"rows": {"without a box": "as above"}},
    )


def merged_boxes(language: Language, seed: int) -> Made:
    """The same, its cells merged; a title merged across; a hidden sheet of last year first."""
    found = sorted(visits(seed), key=lambda v: (int(v.box), v.day))
    rows: Rows = [["Mill Creek", *[None] * 8], _header(language)]
    spans, before = ["A1:I1"], ""
    for row, v in zip(_table(found, language, day=lambda day: day), found, strict=True):
        rows.append([row[0] if v.box != before else None, *row[1:]])
        if v.box != before:
            spans.append(f"A{len(rows)}:A{len(rows) + 3}")
        before = v.box
    return Made(
        f"merged-{language.name}",
        "merged",
        {"2026": rows},
        [truth(v, language, *_LIST_SHOWS) for v in found],
        book=True,
        merged=tuple(spans),
        hidden="2025",
    )


def day_parts(language: Language, seed: int) -> Made:
    """Year, month and day in columns of their own."""
    found = visits(seed)
    heads = language.heads
    rows: Rows = [[heads[n] for n in ("box", "year", "month", "day", "species", "eggs", "young")]]
    for v in found:
        month = language.month(v.day)
        rows.append([v.box, v.day.year, month, v.day.day, _bird(v, language), v.eggs, v.young])
    true = [truth(v, language, "species", "counts") for v in found]
    return _made("day parts", language, rows, true)


def no_header(language: Language, seed: int) -> Made:
    """No headings at all: phrases, so that nothing has to be guessed."""
    found = visits(seed)
    rows: Rows = [
        [language.written(v.day), language.of_box(v.box), _bird(v, language)] for v in found
    ]
    return _made("no header", language, rows, [truth(v, language, "species") for v in found])


def ditto(language: Language, seed: int) -> Made:
    """Ditto marks for the day."""
    found = visits(seed)
    rows, before = [_header(language)], None
    for row, v in zip(_table(found, language, day=language.written), found, strict=True):
        rows.append([row[0], '"' if v.day == before else row[1], *row[2:]])
        before = v.day
    return _made("ditto", language, rows, [truth(v, language, *_LIST_SHOWS) for v in found])


def sheet_a_round(language: Language, seed: int) -> Made:
    """A sheet for each round, its day and observer above the table."""
    found = visits(seed)
    heads = language.heads
    sheets: dict[str, Rows] = {}
    for v in found:
        rows = sheets.setdefault(
            f"Round {v.day:%d %b}",
            [
                [f"{heads['date']}:", v.day, f"{heads['observer']}:", "Ann"],
                [],
                [heads["box"], heads["species"], heads["eggs"], heads["young"], heads["own"]],
            ],
        )
        rows.append([language.of_box(v.box), _bird(v, language), v.eggs, v.young, v.own])
    true = [truth(v, language, "species", "counts", "own") | {"observer": "Ann"} for v in found]
    return Made(f"rounds-{language.name}", "sheet a round", sheets, true, book=True)


def approximate(language: Language, seed: int) -> Made:
    """Counts that are not exact, and a question mark: one question."""
    found = visits(seed)
    rows, true = [_header(language)], []
    for number, v in enumerate(found):
        row = _list_row(v, language, box=language.of_box(v.box), day=language.written(v.day))
        cells = truth(v, language, *_LIST_SHOWS)
        if number % 5 == 0:
            row[3], cells["eggs"] = "~5", 5
            cells["note"] = "; ".join(filter(None, [f"{language.heads['eggs']}: ~5", v.note]))
        elif number % 5 == 1:
            row[3] = "?"
            del cells["eggs"]
        rows.append(row)
        true.append(cells)
    return _made("approximate", language, rows, true, answers={"cells": {"about": "number"}})


LATER = 1000

LAYOUTS: tuple[Layout, ...] = (
    plain,
    titled,
    sheet_a_box,
    days_across,
    two_header_rows,
    boxes_across,
    stacked,
    grouped_heads,
    contents,
    side_by_side,
    box_once,
    merged_boxes,
    day_parts,
    no_header,
    ditto,
    sheet_a_round,
    approximate,
)


def pairs_of_files() -> Iterator[tuple[Made, Made]]:
    """Every file, and the next one of the same keeper: the same layout, other visits."""
    return zip(visit_files(), visit_files(later=LATER), strict=True)


def visit_files(*, later: int = 0) -> Iterator[Made]:
    """Every layout in every language; `later` chooses other visits."""
    for number, layout in enumerate(LAYOUTS):
        for language in LANGUAGES:
            yield layout(language, 100 + number + later)
    # Workbooks of older and other office programs.
    for language in LANGUAGES[:2]:
        for suffix in (".xls", ".ods"):
            yield replace(sheet_a_box(language, 120 + later), suffix=suffix)
            yield replace(sheet_a_round(language, 121 + later), suffix=suffix)
