"""Imports visits: what is new, what is there already, what contradicts it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

from layers.errors import Conflict, Fault
from layers.trail.importing.cells import is_blank
from layers.trail.importing.source import Findings, Progress, Row
from layers.trail.importing.spool import Spool, differences
from layers.trail.importing.visits import VisitRules, read_visit
from layers.trail.schema import VISITS
from layers.trail.store import Trail
from layers.trail.visit_id import content_id

_STORED = ", ".join(VISITS.columns)
_SAME_ID = "what the trail holds under this id; a correction is a new row that replaces it"

_SAVED_MEANWHILE = """
SELECT other.box, other.seen_on FROM visits AS other JOIN visits AS new
  ON new.box = other.box AND new.seen_on = other.seen_on
    AND new.seen_at = other.seen_at AND new.observer IS other.observer
  WHERE other.fid > ? AND other.import_id IS NOT ? AND new.import_id = ?
    AND new.replaces ISNULL AND other.replaces ISNULL
"""

MAX_QUESTIONS = 1000
"""A file of a million odd visits would fill the memory with sentences that no one reads."""

Ask = Callable[[str, Sequence[Mapping[str, Any]]], Iterable[tuple[Mapping[str, Any], str]]]
"""Gives what to ask about the visits of a box: each visit with a sentence."""


class VisitIntake:
    """Compares each visit with those before it in the file and with those of the trail.

    Stored visits are looked up box by box as boxes come up, and remembered in the spool.
    """

    def __init__(
        self, trail: Trail, *, rules: VisitRules, spool: Spool, findings: Findings
    ) -> None:
        self._trail = trail
        self._rules = rules
        self._spool = spool
        self._findings = findings
        self._boxes_met: dict[str, bool] = {}
        self._corrected: dict[str, Row] = {}
        self._withdrawn: dict[str, str] = {}
        self.already_there = 0
        self._last = trail.rows("SELECT coalesce(max(fid), 0) FROM visits")[0][0]

    def add_row(self, raw: Mapping[str, object], row: Row) -> list[Mapping[str, Any]]:
        """Read one row and keep it if it is new; the clean rows it stands for."""
        read = read_visit(raw, rules=self._rules, row=row.number, file=row.file)
        self._findings.add_faults(read.faults)
        for note in read.notes:
            self._findings.add_note(f"{row.file} row {row.number}: {note}")
        visit = read.values
        if visit is None:
            return []
        named = not is_blank(raw.get("visit_id"))
        there = self._is_there(visit, named=named) or (
            named and bool(self._stored(visit["visit_id"]))
        )
        if not (
            self._repeats(visit, row)
            or (named and self._contradicts_its_id(visit, row))
            or (not there and self._contradicts_its_moment(visit, row))
        ):
            if there:
                self.already_there += 1
            else:
                if not named and visit["visit_id"] in self._withdrawn:
                    visit = self._again(visit)
                self._spool.add(visit)
            if visit["replaces"] is not None:
                self._corrected.setdefault(visit["replaces"], row)
        return [visit]

    def finish(self) -> None:
        """Check what only the whole file can show."""
        for visit_id, row in self._corrected.items():
            if self._spool.recall(f"new {visit_id}") is None and not self._stored(visit_id):
                self._fault(row, "the id of a visit of this trail or file", visit_id, "replaces")

    def check_again(self, import_id: str) -> None:
        """Compare the visits, once they are in, with what others saved meanwhile.

        Raises
        ------
        Conflict
            A box was removed, or another visit of the same moment was saved.
        """
        gone = sorted(self._boxes_met.keys() - set(self._trail.box_ids()))
        saved = self._trail.rows(_SAVED_MEANWHILE, (self._last, import_id, import_id))
        changes = [f"box {box} was removed" for box in gone]
        changes += [f"another visit of box {box} on {day} was saved" for box, day in saved]
        if changes:
            raise Conflict(
                f"While the file was read, {changes[0]}; nothing was added. Import it again"
            )

    def _fault(self, row: Row, expected: str, came: str, column: str | None = None) -> None:
        self._findings.add_faults(
            [Fault(expected, came, file=row.file, row=row.number, column=column)]
        )

    def _repeats(self, visit: Mapping[str, Any], row: Row) -> bool:
        """Whether the file holds the visit twice, or two at one moment; a fault is noted."""
        where = str(row.number)
        before = self._spool.remember(f"new {visit['visit_id']}", where)
        if before is not None:
            self._fault(row, "each visit once", f"a duplicate of row {before}")
        elif visit["seen_at"] is not None and visit["replaces"] is None:
            before = self._spool.remember(f"new {_moment_key(visit)}", where)
            if before is not None:
                self._fault(
                    row,
                    "one visit of a box at a time by an observer",
                    f"another content than row {before} of the same box, day, time and observer",
                )
        return before is not None

    def _contradicts_its_id(self, visit: Mapping[str, Any], row: Row) -> bool:
        """Whether the trail holds something else under the visit's id; a fault is noted."""
        for stored in self._stored(visit["visit_id"]):
            if content_id(stored) != content_id(visit):
                self._fault(row, _SAME_ID, differences(visit, stored), "visit_id")
                return True
        return False

    def _contradicts_its_moment(self, visit: Mapping[str, Any], row: Row) -> bool:
        """Whether the trail holds another visit in its stead; a fault is noted."""
        if visit["replaces"] is not None or not self._meet(visit["box"]):
            return False
        rival = self._spool.recall(f"there {_moment_key(visit)}")
        if rival is None:
            return False
        expected = (
            "what the trail holds for this box, day, time and observer; to correct it, a row"
            f" with replaces = {rival}"
        )
        self._fault(row, expected, differences(visit, self._stored(rival)[0]))
        return True

    def _is_there(self, visit: Mapping[str, Any], *, named: bool) -> bool:
        """Whether the trail holds a visit of the same content.

        `named` says whether the row came with an id of its own; else its content gave it one.
        """
        if not self._meet(visit["box"]):
            return False
        corrects = visit["replaces"] is not None
        identity = content_id(visit, as_correction=corrects) if named else visit["visit_id"]
        known = self._spool.recall(f"there {'correction' if corrects else 'visit'} {identity}")
        return known is not None

    def _meet(self, box: str) -> bool:
        """Whether the trail holds visits of a box, which are remembered from now on."""
        if box not in self._boxes_met:
            stored = self._trail.visit_rows(box, current=False)
            current = {visit["visit_id"] for visit in self._trail.visit_rows(box)}
            for visit in stored:
                if visit["withdraws"] == "yes":
                    self._withdraw(visit, {one["visit_id"]: one for one in stored})
            for visit in stored:
                if visit["visit_id"] in self._withdrawn or visit["withdraws"] == "yes":
                    continue
                visit_id = visit["visit_id"]
                remember = self._spool.remember
                remember(f"there visit {content_id(visit, as_correction=False)}", visit_id)
                if visit["replaces"] is not None:
                    remember(f"there correction {content_id(visit)}", visit_id)
                if visit_id in current:
                    remember(f"there {_moment_key(visit)}", visit_id)
            self._boxes_met[box] = bool(stored)
        return self._boxes_met[box]

    def _withdraw(self, withdrawal: Mapping[str, Any], by_id: Mapping[str, Any]) -> None:
        """Remember that a visit was withdrawn, and with it what it had corrected."""
        visit_id = withdrawal["replaces"]
        while visit_id is not None and visit_id not in self._withdrawn:
            self._withdrawn[visit_id] = withdrawal["visit_id"]
            visit_id = by_id[visit_id]["replaces"] if visit_id in by_id else None

    def _again(self, visit: Mapping[str, Any]) -> Mapping[str, Any]:
        """A visit that was withdrawn and comes once more: a new one, its id made from both."""
        visit_id: str = visit["visit_id"]
        while visit_id in self._withdrawn:
            visit_id = str(uuid.uuid5(uuid.UUID(self._withdrawn[visit_id]), "recorded again"))
        return {**visit, "visit_id": visit_id}

    def _stored(self, visit_id: str) -> list[dict[str, Any]]:
        rows = self._trail.rows(f"SELECT {_STORED} FROM visits WHERE visit_id = ?", (visit_id,))
        return [dict(zip(VISITS.columns, row, strict=True)) for row in rows]


def questions_about_new(
    trail: Trail, spool: Spool, ask: Ask | None, report: Progress
) -> tuple[tuple[str, ...], int]:
    """What to ask about the new visits, up to `MAX_QUESTIONS`, and how many more there are."""
    if ask is None:
        return (), 0
    found = _questions(trail, spool, ask, report)
    return tuple(islice(found, MAX_QUESTIONS)), sum(1 for _ in found)


def _questions(trail: Trail, spool: Spool, ask: Ask, report: Progress) -> Iterator[str]:
    """Every question, with its box and day."""
    done = 0
    for box, new in spool.rows_by_box():
        done += len(new)
        report(done, len(spool))
        corrected = {row["replaces"] for row in new}
        rows = [row for row in (*trail.visit_rows(box), *new) if row["visit_id"] not in corrected]
        visits = [row for row in rows if row["withdraws"] != "yes"]
        ids = {row["visit_id"] for row in new}
        for row, question in ask(box, visits):
            if row["visit_id"] in ids:
                yield f"box {box}, {row['seen_on']}: {question}"


def _moment_key(visit: Mapping[str, Any]) -> str:
    when = [visit["box"], visit["seen_on"], visit["seen_at"], visit["observer"]]
    return f"moment {when!r}"
