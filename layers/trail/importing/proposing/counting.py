"""What the cells of a visit say: numbers, words and phrases, each sure or a question."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import TYPE_CHECKING

from layers.errors import BadValue
from layers.trail.importing.cells import SPREADSHEET_ERRORS, NeverCalculated, is_blank, text
from layers.trail.importing.dates import read_clock
from layers.trail.importing.proposing.answers import AS_NOTE, Place, Question, Settled
from layers.trail.importing.proposing.columns import OWN
from layers.trail.importing.proposing.matching import SpeciesNames
from layers.trail.importing.proposing.phrases import Phrase, read_phrase
from layers.trail.importing.proposing.tables import CONTENTS, Column
from layers.trail.importing.proposing.vocabulary import fold, words
from layers.trail.schema import VISITS

if TYPE_CHECKING:
    from layers.trail.importing.proposing.rows import Record

_COUNTS = ("eggs", "young", "dead_young", "young_days")
_WORDS: Mapping[str, str] = {"nest": "nest", "adult": "adult"}
_YES_NO = ("eggs_warm", "opened")
_ABOUT = re.compile(
    r"[~<>≈]\s*(\d+)|(\d+)\s*[+?]+|(?:ca?\.?|about|etwa|unos|environ)\s*(\d+)", re.I
)
_RANGE = re.compile(r"(\d+)\s*(?:-|–|to|bis|à|a|of|/|or)\s*(\d+)", re.I)
_EXPONENT = re.compile(r"\d+e\d+", re.I)
NUMBER, LEAST = "number", "smaller number"
_NO_SPECIES = frozenset({"none", "empty", "no bird", "keine", "leer", "vacia", "vide", "leeg"})


class CellReader:
    """Puts what the cells of a row say into a record."""

    def __init__(self, settled: Settled, *, species: SpeciesNames, met: frozenset[str]) -> None:
        self._settled = settled
        self._species = species
        self._met = met

    def read(self, record: Record, column: Column, cell: object, place: Place) -> None:
        """One cell."""
        try:
            self._read(record, column, cell, place)
        except BadValue as error:
            record.needed = error.fault.expected
            record.unread = f"{error.fault.came} in column {column.heading}"

    def _read(self, record: Record, column: Column, cell: object, place: Place) -> None:
        role = column.role
        if isinstance(cell, NeverCalculated):
            self._unsaved(record, column)
            return
        if isinstance(cell, str) and cell.strip() in SPREADSHEET_ERRORS and role != OWN:
            record.needed = f"a value in column {column.heading}"
            record.unread = f"the spreadsheet error {cell.strip()}"
            return
        if cell is None or (is_blank(cell) and role not in ("observer", OWN)):
            return
        if isinstance(cell, str) and not cell.strip():
            return
        record.places.setdefault(role or "", place)
        if role == OWN:
            record.own[column.heading] = _plain(cell)
        elif role == "note":
            self._note(record, _plain(cell))
        elif role == CONTENTS:
            self._contents(record, column, cell, place)
        elif role == "species":
            self._species_cell(record, cell, place)
        elif role in _COUNTS:
            self._count(record, column, cell, place)
        elif role in _WORDS:
            self._word(record, column, cell)
        elif role in _YES_NO:
            self._yes_no(record, column, cell)
        elif role == "time":
            self._time(record, cell)
        elif role == "observer":
            self._observer(record, column, cell, place)
        elif role in VISITS.columns:
            record.values[role] = cell

    def finish(self, record: Record) -> None:
        """Put her own columns where a visit keeps them."""
        if record.own:
            record.values["own_columns"] = dict(record.own)

    def _unsaved(self, record: Record, column: Column) -> None:
        record.unread = "a formula that was never calculated"
        record.needed = (
            f"a value in column {column.heading} (open the file in a spreadsheet program and save"
            " it again)"
        )

    def _note(self, record: Record, more: str) -> None:
        before = record.values.get("note")
        record.values["note"] = f"{before}; {more}" if before else more

    def _put(self, record: Record, values: Mapping[str, object]) -> bool:
        """Take values where they contradict none; whether they did not."""
        if any(record.values.get(name, value) != value for name, value in values.items()):
            return False
        record.values.update(values)
        return True

    def _contents(self, record: Record, column: Column, cell: object, place: Place) -> None:
        written = _plain(cell)
        if isinstance(cell, date | datetime | time | bool):
            self._eaten(record, column, cell, place)
            return
        phrase = read_phrase(written, species=self._sure_species)
        if phrase is not None and "" in phrase.values:
            count = phrase.values[""]
            unit = "eggs" if count == 0 else self._unit(column, place)
            if unit is None:
                record.open.append(f"cells: {_bare(column)}")
                return
            rest = {name: value for name, value in phrase.values.items() if name}
            phrase = Phrase({**rest, unit: count}, phrase.about) if unit != AS_NOTE else None
        if phrase is None or not self._taken(record, phrase, written, place):
            self._note(record, written)

    def _unit(self, column: Column, place: Place) -> str | None:
        return self._settled.ask(
            Question(
                "cells",
                _bare(column),
                f"What do numbers without a word count in {_where(column)}?",
                {"eggs": "eggs", "young": "young", AS_NOTE: "keep them in the note only"},
            ),
            place,
        )

    def _taken(self, record: Record, phrase: Phrase, written: str, place: Place) -> bool:
        """Whether a phrase's values were taken, or wait for an answer; False = to the note."""
        values = dict(phrase.values)
        if phrase.about:
            answer = self._about(place, written)
            if answer is None:
                record.open.append("cells: about")
                return True
            if answer == AS_NOTE:
                return False
            self._note(record, written)
        return self._put(record, values)

    def _about(self, place: Place, written: str) -> str | None:
        return self._settled.ask(
            Question(
                "cells",
                "about",
                f"Counts such as {written!r} are not exact. Take the number?",
                {
                    NUMBER: "take the number, and keep what was written in the note",
                    AS_NOTE: "keep what was written in the note, and no number",
                },
                proposal=NUMBER,
            ),
            place,
        )

    def _count(self, record: Record, column: Column, cell: object, place: Place) -> None:
        assert column.role is not None
        if isinstance(cell, date | datetime | time | bool):
            self._eaten(record, column, cell, place)
            return
        written = _plain(cell)
        if isinstance(cell, int | float) or written.isdecimal():
            number = float(written)
            self._put_count(record, column, int(number) if number.is_integer() else cell)
            return
        if found := _ABOUT.fullmatch(written):
            number_text = next(filter(None, found.groups()))
            if column.role == "young_days":
                self._put_count(record, column, int(number_text))  # an age is judged anyway
                return
            answer = self._about(place, written)
            if answer is None:
                record.open.append("cells: about")
                return
            if answer == NUMBER:
                self._put_count(record, column, int(number_text))
            self._note(record, f"{column.heading}: {written}")
            return
        if found := _RANGE.fullmatch(written):
            self._range(record, column, written, int(found[1]), place)
            return
        if _EXPONENT.fullmatch(written):
            self._note(record, f"{column.heading}: {written}")
            return
        unit = {"young_days": "days"}.get(column.role, column.role)
        phrase = read_phrase(written, unit="young_days" if unit == "days" else column.role)
        if phrase is not None and column.role in phrase.values:
            if not self._taken(record, phrase, written, place):
                self._note(record, f"{column.heading}: {written}")
            return
        if fold(written) in words("nest") and words("nest")[fold(written)] == "none":
            self._put_count(record, column, 0)
            return
        self._note(record, f"{column.heading}: {written}")

    def _put_count(self, record: Record, column: Column, number: object) -> None:
        assert column.role is not None
        if not self._put(record, {column.role: number}):
            self._note(record, f"{column.heading}: {number}")

    def _range(
        self, record: Record, column: Column, written: str, least: int, place: Place
    ) -> None:
        answer = self._settled.ask(
            Question(
                "cells",
                "ranges",
                f"Counts such as {written!r} have two numbers. Which one is the count?",
                {
                    AS_NOTE: "neither: keep them in the note only",
                    LEAST: "the smaller one, and keep both in the note",
                },
                proposal=AS_NOTE,
            ),
            place,
        )
        if answer is None:
            record.open.append("cells: ranges")
            return
        if answer == LEAST:
            self._put_count(record, column, least)
        self._note(record, f"{column.heading}: {written}")

    def _eaten(self, record: Record, column: Column, cell: object, place: Place) -> None:
        """A day or TRUE where a count should be: the spreadsheet made it of something else."""
        shown = f"{cell:%d %b %Y}" if isinstance(cell, date) else str(cell)
        item = f"{shown} in {column.heading}"
        answer = self._settled.ask(
            Question(
                "cells",
                item,
                f"The spreadsheet shows {shown!r} in column {column.heading!r}, most likely made of"
                " another text such as 4-5. What was counted?",
                {AS_NOTE: "not known: leave the count empty"},
                free=True,
            ),
            place,
        )
        if answer is None:
            record.open.append(f"cells: {item}")
        elif answer.isdecimal() and column.role in _COUNTS:
            self._put_count(record, column, int(answer))
        else:
            self._note(record, f"{column.heading}: {shown}")

    def _species_cell(self, record: Record, cell: object, place: Place) -> None:
        written = _plain(cell)
        if fold(written) in _NO_SPECIES:
            return
        found = self._species.match(written)
        if found.value is not None:
            value = found.value
            if fold(value) != fold(written):
                value = self._settled.decide("species", written, value, found.grounds, place)
        else:
            alike = self._species.nearest(written)
            met = [name for name in alike if name in self._met]
            nearest = [*met, *(name for name in alike if name not in met)]
            answer = self._settled.ask(
                Question(
                    "species",
                    written,
                    f"Which species is {written!r}?",
                    {
                        **{name: name for name in nearest},
                        AS_NOTE: "not known: keep the word in the note",
                    },
                    proposal=nearest[0] if nearest else None,
                    grounds="seen on this trail before" if met else "",
                    free=True,
                ),
                place,
            )
            if answer is None:
                record.open.append(f"species: {written}")
                return
            value = answer
        if value == AS_NOTE or not self._put(record, {"species": value}):
            self._note(record, f"species: {written}")

    def _sure_species(self, written: str) -> str | None:
        return self._species.match(written).value

    def _word(self, record: Record, column: Column, cell: object) -> None:
        assert column.role is not None
        written = _plain(cell)
        known = {fold(word): word for word in VISITS[column.role].words}
        folded = fold(written)
        value = known.get(folded) or words(column.role).get(folded)
        phrase = read_phrase(written) if value is None else None
        if phrase and column.role in phrase.values and "" not in phrase.values:
            if not self._put(record, phrase.values):
                self._note(record, f"{column.heading}: {written}")
            return
        if value is None or not self._put(record, {column.role: value}):
            self._note(record, f"{column.heading}: {written}")

    def _yes_no(self, record: Record, column: Column, cell: object) -> None:
        assert column.role is not None
        value = words("yes_no").get(fold(_plain(cell)) or _plain(cell))
        if value is None or not self._put(record, {column.role: value}):
            self._note(record, f"{column.heading}: {_plain(cell)}")

    def _time(self, record: Record, cell: object) -> None:
        try:
            read_clock(cell.time() if isinstance(cell, datetime) else cell)
            record.values["time"] = cell.time() if isinstance(cell, datetime) else cell
        except BadValue:
            self._note(record, f"time: {_plain(cell)}")

    def _observer(self, record: Record, column: Column, cell: object, place: Place) -> None:
        written = _plain(cell)
        if fold(written) in ("na", "n a"):
            answer = self._settled.ask(
                Question(
                    "cells",
                    f"{written} in {column.heading}",
                    f"Is {written!r} in {column.heading!r} a person, or was no name recorded?",
                    {"none": "no name was recorded", written: "these are initials"},
                    proposal="none",
                ),
                place,
            )
            if answer is None:
                record.open.append(f"cells: {written} in {column.heading}")
            elif answer != "none":
                record.values["observer"] = written
            return
        if not is_blank(cell):
            record.values["observer"] = written


def _plain(cell: object) -> str:
    """A cell as text of one line."""
    if isinstance(cell, date | datetime | time):
        return cell.isoformat()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return " ".join(text(str(cell)).split())


def _where(column: Column) -> str:
    across = column.day is not None or column.box is not None
    return "the cells" if across else repr(column.heading)


def _bare(column: Column) -> str:
    return f"bare numbers in {_where(column)}"
