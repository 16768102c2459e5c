"""Files of visits as keepers keep them, all invented, each with what a careful person reads.

`python -m tests.trail.importing.corpus FOLDER` writes them to look at. The layouts were
written by whoever wrote the reader: what it reaches here is an upper mark, no forecast.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import openpyxl

from layers.trail.importing.proposing.answers import Answers

BOXES = tuple(str(number) for number in range(1, 13))
TODAY = dt.date(2026, 9, 1)
Rows = list[list[Any]]


@dataclass(frozen=True)
class Language:
    """How a keeper of one language writes."""

    name: str
    heads: Mapping[str, str]
    species: Mapping[str, str]
    day: Callable[[dt.date], str]
    short_day: Callable[[dt.date], str]
    box: Callable[[str], str]
    eggs: str
    young: str
    warm: str
    empty: str
    days: str
    total: str
    months: tuple[str, ...]
    delimiter: str = ","
    encoding: str = "utf-8"


def _named(months: tuple[str, ...], form: str) -> Callable[[dt.date], str]:
    return lambda day: form.format(d=day.day, m=months[day.month - 1], y=day.year)


_EN = ("Apr", "May", "Jun", "Jul")
_DE = ("April", "Mai", "Juni", "Juli")
_ES = ("abril", "mayo", "junio", "julio")
_FR = ("avril", "mai", "juin", "juillet")
_NL = ("april", "mei", "juni", "juli")


def _pad(names: tuple[str, ...]) -> tuple[str, ...]:
    return ("", "", "", *names, "", "", "", "", "")


LANGUAGES = (
    Language(
        "en",
        {
            "box": "Box #",
            "date": "Date",
            "species": "Bird",
            "eggs": "# Eggs",
            "young": "Nestlings",
            "age": "Age (days)",
            "warm": "Eggs warm?",
            "contents": "Contents",
            "observer": "Monitor",
            "note": "Comments",
            "own": "Temp F",
            "year": "Year",
            "month": "Month",
            "day": "Day",
            "count": "count",
            "age_short": "age",
        },
        {"a": "EABL", "b": "tree swallows", "c": "House Wern"},
        lambda day: f"{day.month}/{day.day}/{day:%y}",
        _named(_pad(_EN), "{d}-{m}"),
        lambda box: f"BOX{box}",
        "eggs",
        "babies",
        "warm",
        "empty",
        "d",
        "Total",
        _pad(_EN),
    ),
    Language(
        "de",
        {
            "box": "Kasten Nr.",
            "date": "Datum",
            "species": "Art",
            "eggs": "Eier",
            "young": "Junge",
            "age": "Alter (Tage)",
            "warm": "Eier warm",
            "contents": "Inhalt",
            "observer": "Beobachter",
            "note": "Bemerkungen",
            "own": "Wetter",
            "year": "Jahr",
            "month": "Monat",
            "day": "Tag",
            "count": "Anzahl",
            "age_short": "Alter",
        },
        {"a": "Kohlmeise", "b": "Blaumeise", "c": "Trauerschnäpper"},
        lambda day: f"{day:%d.%m.%Y}",
        _named(_pad(_DE), "{d}. {m}"),
        lambda box: f"Kasten {box}",
        "Eier",
        "Junge",
        "warm",
        "leer",
        "Tage",
        "Summe",
        _pad(_DE),
        ";",
        "cp1252",
    ),
    Language(
        "es",
        {
            "box": "N.º de caja",
            "date": "Fecha",
            "species": "Especie",
            "eggs": "Huevos",
            "young": "Pollos",
            "age": "Edad (días)",
            "warm": "Huevos calientes",
            "contents": "Contenido",
            "observer": "Observador",
            "note": "Observaciones",
            "own": "Tiempo",
            "year": "Año",
            "month": "Mes",
            "day": "Día",
            "count": "pollos",
            "age_short": "edad",
        },
        {"a": "carbonero común", "b": "Herrerillo comun", "c": "Papamoscas cerrojillo"},
        lambda day: f"{day:%d/%m/%Y}",
        _named(_pad(_ES), "{d} de {m}"),
        lambda box: f"Caja {box}",
        "huevos",
        "pollos",
        "calientes",
        "vacía",
        "días",
        "Suma",
        _pad(_ES),
        ";",
    ),
    Language(
        "fr",
        {
            "box": "Nichoir n°",
            "date": "Date de visite",
            "species": "Espèce",
            "eggs": "Nb d'œufs",
            "young": "Poussins",
            "age": "Âge (jours)",
            "warm": "Œufs chauds",
            "contents": "Contenu",
            "observer": "Observateur",
            "note": "Remarques",
            "own": "Météo",
            "year": "Année",
            "month": "Mois",
            "day": "Jour",
            "count": "poussins",
            "age_short": "âge",
        },
        {"a": "Mésange charbonnière", "b": "mésange bleue", "c": "gobemouche noir"},
        lambda day: f"{day:%d/%m/%y}",
        _named(_pad(_FR), "{d} {m}"),
        lambda box: f"Nichoir {box}",
        "œufs",
        "poussins",
        "chauds",
        "vide",
        "jours",
        "Total",
        _pad(_FR),
        "\t",
        "utf-16",
    ),
    Language(
        "nl",
        {
            "box": "Nestkast",
            "date": "Datum",
            "species": "Soort",
            "eggs": "Aantal eieren",
            "young": "Jongen",
            "age": "Leeftijd (dagen)",
            "warm": "Eieren warm",
            "contents": "Inhoud",
            "observer": "Waarnemer",
            "note": "Opmerkingen",
            "own": "Weer",
            "year": "Jaar",
            "month": "Maand",
            "day": "dag",
            "count": "jongen",
            "age_short": "leeftijd",
        },
        {"a": "Koolmees", "b": "pimpelmees", "c": "Bonte vliegenvanger"},
        lambda day: f"{day.day}-{day.month}-{day.year}",
        _named(_pad(_NL), "{d} {m}"),
        lambda box: f"kast {box}",
        "eieren",
        "jongen",
        "warm",
        "leeg",
        "dagen",
        "Totaal",
        _pad(_NL),
        ";",
    ),
)
SPECIES = {
    "en": {"a": "eastern bluebird", "b": "tree swallow", "c": "house wren"},
    **{
        name: {"a": "great tit", "b": "blue tit", "c": "pied flycatcher"}
        for name in ("de", "es", "fr", "nl")
    },
}


@dataclass
class Visit:
    """A true visit."""

    box: str
    day: dt.date
    species: str | None
    eggs: int
    young: int
    warm: str | None
    age: int | None
    own: str
    note: str | None


@dataclass
class Made:
    """A file: sheets of rows, and the visits in it by the columns that it shows."""

    name: str
    layout: str
    sheets: dict[str, Rows]
    truth: list[dict[str, Any]]
    book: bool = False
    delimiter: str = ","
    encoding: str = "utf-8"
    answers: Answers = field(default_factory=dict)
    merged: tuple[str, ...] = ()
    hidden: str | None = None

    def write(self, folder: Path) -> Path:
        if self.book:
            path = folder / f"{self.name}.xlsx"
            book = openpyxl.Workbook()
            book.remove(book.worksheets[0])
            for title, rows in self.sheets.items():
                sheet = book.create_sheet(title)
                for row in rows:
                    sheet.append(row)
                for span in self.merged:
                    sheet.merge_cells(span)
            if self.hidden is not None:
                old = book.create_sheet(self.hidden, 0)
                old.append(["Box", "Date", "Eggs"])
                old.append(["1", "2025-05-01", 9])
                old.sheet_state = "hidden"
                book.active = 1
            book.save(path)
            return path
        path = folder / f"{self.name}.csv"
        text = io.StringIO(newline="")
        (rows,) = self.sheets.values()
        csv.writer(text, delimiter=self.delimiter).writerows(rows)
        path.write_bytes(text.getvalue().encode(self.encoding))
        return path


def visits(seed: int, *, boxes: int = 4, rounds: int = 4) -> list[Visit]:
    """Visits week by week, of boxes that are at different stages."""
    rng = random.Random(seed)
    found = []
    first = dt.date(2026, 4, 20) + dt.timedelta(days=rng.randrange(7))
    some = sorted(rng.sample(BOXES, boxes), key=int)
    for number in range(rounds):
        for place, box in enumerate(some):
            stage = number + place - 1
            eggs, young, age = [(0, 0, None), (rng.randrange(2, 7), 0, None), (0, 4, 5)][
                min(max(stage, 0), 2)
            ]
            species = None if stage <= 0 else "abc"[place % 3]
            note = rng.choice([None, None, "hole chewed", "ants on the pole"])
            warm = "warm" if eggs and rng.random() < 0.6 else None
            day = first + dt.timedelta(days=7 * number)
            own = str(rng.randrange(50, 80))
            found.append(Visit(box, day, species, eggs, young, warm, age, own, note))
    return found


def truth(visit: Visit, language: Language, *shown: str) -> dict[str, Any]:
    """What is to be read of a visit where a file shows these columns."""
    cells: dict[str, Any] = {"box": visit.box, "date": visit.day}
    if "species" in shown and visit.species:
        cells["species"] = SPECIES[language.name][visit.species]
    if "counts" in shown:
        cells |= {"eggs": visit.eggs, "young": visit.young}
    if "warm" in shown and visit.warm:
        cells["eggs_warm"] = "yes"
    if "age" in shown and visit.age is not None:
        cells["young_days"] = visit.age
    if "phrase" in shown:
        if visit.young:
            cells |= {"young": visit.young, "young_days": visit.age}
        elif visit.eggs:
            cells |= {"eggs": visit.eggs} | ({"eggs_warm": "yes"} if visit.warm else {})
        else:
            cells |= {"eggs": 0, "young": 0}
    if "note" in shown and visit.note:
        cells["note"] = visit.note
    if "own" in shown:
        cells["own_columns"] = {language.heads["own"]: visit.own}
    return cells


def phrase(visit: Visit, language: Language) -> str:
    """A visit as one cell in free words."""
    if visit.young:
        return f"{visit.young} {language.young} ~{visit.age} {language.days}"
    if visit.eggs:
        return f"{visit.eggs} {language.eggs}" + (f" {language.warm}" if visit.warm else "")
    return language.empty


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
    return [_list_row(v, language, box=language.box(v.box), day=day(v.day)) for v in found]


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
    rows = [_header(language), *_table(found, language, day=language.day)]
    return _made("plain", language, rows, [truth(v, language, *_LIST_SHOWS) for v in found])


def titled(language: Language, seed: int) -> Made:
    """Title lines above the header, a total and a footnote below."""
    found = visits(seed)
    rows = [
        ["Mill Creek 2026"],
        ["Ann"],
        [],
        _header(language),
        *_table(found, language, day=language.day),
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
        rows = sheets.setdefault(language.box(visit.box), [_header(language)[1:]])
        rows.append(_list_row(visit, language, box="", day=visit.day)[1:])
    ordered = sorted(found, key=lambda v: list(sheets).index(language.box(v.box)))
    told = [truth(v, language, *_LIST_SHOWS) for v in ordered]
    return Made(f"sheets-{language.name}", "sheet a box", sheets, told, book=True)


def days_across(language: Language, seed: int) -> Made:
    """Boxes down, days across, a phrase a cell; the year in the title alone."""
    found = visits(seed)
    days = sorted({v.day for v in found})
    boxes = sorted({v.box for v in found}, key=int)
    by = {(v.box, v.day): v for v in found}
    rows: Rows = [["Mill Creek 2026"], []]
    rows.append([language.heads["box"], *(language.short_day(day) for day in days)])
    rows += [[box, *(phrase(by[box, day], language) for day in days)] for box in boxes]
    told = [truth(by[box, day], language, "phrase") for box in boxes for day in days]
    return _made("days across", language, rows, told)


def two_header_rows(language: Language, seed: int) -> Made:
    """Days across, eggs and young below each of them."""
    found = visits(seed)
    days = sorted({v.day for v in found})
    boxes = sorted({v.box for v in found}, key=int)
    by = {(v.box, v.day): v for v in found}
    head: list[Any] = [""]
    lower: list[Any] = [language.heads["box"]]
    for day in days:
        head += [language.day(day), ""]
        lower += [language.heads["eggs"], language.heads["young"]]
    rows: Rows = [head, lower]
    for box in boxes:
        cells = [[by[box, day].eggs, by[box, day].young] for day in days]
        rows.append([language.box(box), *(cell for pair in cells for cell in pair)])
    told = [truth(by[box, day], language, "counts") for box in boxes for day in days]
    return _made("two header rows", language, rows, told)


def boxes_across(language: Language, seed: int) -> Made:
    """Days down, boxes across."""
    found = visits(seed)
    days = sorted({v.day for v in found})
    boxes = sorted({v.box for v in found}, key=int)
    by = {(v.box, v.day): v for v in found}
    rows: Rows = [[language.heads["date"], *(language.box(box) for box in boxes)]]
    rows += [
        [language.day(day), *(phrase(by[box, day], language) for box in boxes)] for day in days
    ]
    told = [truth(by[box, day], language, "phrase") for day in days for box in boxes]
    return _made("boxes across", language, rows, told)


def stacked(language: Language, seed: int) -> Made:
    """One table below the other, each with its box above it."""
    found = visits(seed)
    rows: Rows = []
    told = []
    for box in sorted({v.box for v in found}, key=int):
        rows += [[language.box(box)], _header(language)[1:]]
        mine = [v for v in found if v.box == box]
        rows += [_list_row(v, language, box="", day=language.day(v.day))[1:] for v in mine]
        rows.append([])
        told += [truth(v, language, *_LIST_SHOWS) for v in mine]
    return _made("stacked", language, rows, told)


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
        rows.append([v.box, language.day(v.day), _bird(v, language), v.eggs, v.young, age])
    told = [truth(v, language, "species", "counts", "age") for v in found]
    return _made("grouped heads", language, rows, told)


def contents(language: Language, seed: int) -> Made:
    """What was in the box as a phrase, in a column of its own."""
    found = visits(seed)
    heads = language.heads
    rows: Rows = [[heads["date"], heads["box"], heads["species"], heads["contents"], heads["note"]]]
    for v in found:
        rows.append(
            [
                language.day(v.day),
                f"{int(v.box):03d}",
                _bird(v, language),
                phrase(v, language),
                v.note or "",
            ]
        )
    told = [truth(v, language, "species", "phrase", "note") for v in found]
    return _made("contents", language, rows, told)


def side_by_side(language: Language, seed: int) -> Made:
    """Two tables beside each other."""
    found = visits(seed)
    half = len(found) // 2
    head = [language.heads[name] for name in ("box", "date", "species", "eggs", "young")]
    rows: Rows = [[*head, "", *head]]
    told = []
    for one, other in zip(found[:half], found[half:], strict=True):
        cells = [
            [language.box(v.box), language.day(v.day), _bird(v, language), v.eggs, v.young]
            for v in (one, other)
        ]
        rows.append([*cells[0], "", *cells[1]])
    told = [truth(v, language, "species", "counts") for v in found]
    return _made("side by side", language, rows, told)


def box_once(language: Language, seed: int) -> Made:
    """The box written in its first row alone: one question."""
    found = sorted(visits(seed), key=lambda v: (int(v.box), v.day))
    rows, before = [_header(language)], ""
    for row, v in zip(_table(found, language, day=language.day), found, strict=True):
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
        month = language.months[v.day.month - 1]
        rows.append([v.box, v.day.year, month, v.day.day, _bird(v, language), v.eggs, v.young])
    told = [truth(v, language, "species", "counts") for v in found]
    return _made("day parts", language, rows, told)


def no_header(language: Language, seed: int) -> Made:
    """No headings at all: phrases, so that nothing has to be guessed."""
    found = visits(seed)
    rows: Rows = [[language.day(v.day), language.box(v.box), _bird(v, language)] for v in found]
    return _made("no header", language, rows, [truth(v, language, "species") for v in found])


def ditto(language: Language, seed: int) -> Made:
    """Ditto marks for the day."""
    found = visits(seed)
    rows, before = [_header(language)], None
    for row, v in zip(_table(found, language, day=language.day), found, strict=True):
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
        rows.append([language.box(v.box), _bird(v, language), v.eggs, v.young, v.own])
    told = [truth(v, language, "species", "counts", "own") | {"observer": "Ann"} for v in found]
    return Made(f"rounds-{language.name}", "sheet a round", sheets, told, book=True)


def approximate(language: Language, seed: int) -> Made:
    """Counts that are not exact, and a question mark: one question."""
    found = visits(seed)
    rows, told = [_header(language)], []
    for number, v in enumerate(found):
        row = _list_row(v, language, box=language.box(v.box), day=language.day(v.day))
        cells = truth(v, language, *_LIST_SHOWS)
        if number % 5 == 0:
            row[3], cells["eggs"] = "~5", 5
            cells["note"] = "; ".join(filter(None, [f"{language.heads['eggs']}: ~5", v.note]))
        elif number % 5 == 1:
            row[3] = "?"
            del cells["eggs"]
        rows.append(row)
        told.append(cells)
    return _made("approximate", language, rows, told, answers={"cells": {"about": "number"}})


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


def corpus() -> Iterator[Made]:
    """Every layout in every language."""
    for number, layout in enumerate(LAYOUTS):
        for language in LANGUAGES:
            yield layout(language, 100 + number)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    for one in corpus():
        print(one.write(target))
