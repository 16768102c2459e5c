"""Recording a visit: checked as a file's rows are, saved before it is acknowledged, once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from anyio import to_thread

from layers.errors import BadValue, Conflict, Fault, NotKnown, Refused, TrailBusy
from layers.nesting.questions import Question, questions
from layers.trail.importing import OBSERVED, RowRead, VisitRules, read_visit
from layers.trail.store import Trail
from layers.trail.visit_id import content_id
from server.live.clock import utc_now
from server.live.trail import LiveTrail
from server.web.authentication.author import Author
from server.web.authentication.roles import NotAllowed, Role

MOST_WAITING = 100
"""Visits that wait for their turn to be saved; more are refused for now."""

NOTHING_RECORDED = Fault(
    "what was seen or done (could you not look inside? Then choose Box opened: no)",
    "a visit with nothing recorded",
)


@dataclass(frozen=True)
class Recorded:
    """A visit as stored; `new` is False where it had been saved before."""

    visit: Mapping[str, Any]
    new: bool


async def record_in_turn(live: LiveTrail, raw: Mapping[str, object], *, author: Author) -> Recorded:
    """Save a visit in one of the few threads for it; see `record_visit`.

    While another program holds the file, saves wait here and leave the threads that
    answer readers free.
    """
    if live.savers.statistics().tasks_waiting >= MOST_WAITING:
        raise TrailBusy(f"Too many visits wait to be saved in {live.path.name}; try again")
    record = partial(record_visit, live, raw, author=author)
    return await to_thread.run_sync(record, limiter=live.savers)


def record_visit(live: LiveTrail, raw: Mapping[str, object], *, author: Author) -> Recorded:
    """Save a visit, and give it back as it is stored.

    Sent again with the same id and the same content it changes nothing, so a phone may
    send until it has an answer.

    Parameters
    ----------
    raw
        Cells by the names of a visit's columns, as text or typed; see `read_visit`.

    Raises
    ------
    Refused
        With every fault found.
    Conflict
        A visit of that id says something else.
    TrailBusy
        Another program holds the file; nothing was saved.
    NotAllowed
        It corrects or withdraws a visit that is not the author's to change.
    """
    with live.borrowed() as trail:
        read = _read(live, trail, raw)
        if read.values is None:
            raise Refused("This visit was not saved", read.faults)
        visit = dict(read.values)
        withdraws = visit["withdraws"] == "yes"
        if not withdraws and all(visit[name] is None for name in OBSERVED):
            raise Refused("This visit was not saved", (NOTHING_RECORDED,))
        before = _stored(trail, visit["visit_id"])
        if before is not None:
            return _again(before, visit)
        _expect_replaced(trail, visit)
        if visit["replaces"] is not None:
            author.expect_own(visit["replaces"])
        now = utc_now()
        if withdraws:
            _expect_withdrawable(trail, visit, author=author, now=now)

        def settle() -> None:
            # Another person may have corrected the same visit since we looked.
            _expect_newest(trail, visit)
            # Who entered it is on disk before the visit is: no visit goes without.
            author.enter(visit["visit_id"], now=now)

        try:
            trail.add_rows("visits", [visit | {"entered_at": now}], before_commit=settle)
        except Conflict:
            # The same visit came twice at the same moment.
            before = _stored(trail, visit["visit_id"])
            if before is None:
                raise
            return _again(before, visit)
        return Recorded(trail.visit(visit["visit_id"]), new=True)


def questions_about(live: LiveTrail, raw: Mapping[str, object]) -> list[Question]:
    """What to ask about a visit before it is saved; empty where it has faults, which saving shows.

    What `confirmed` names is not questioned again.
    """
    contents = live.contents()
    with live.borrowed() as trail:
        visit = _read(live, trail, raw).values
        if visit is None or visit["withdraws"] == "yes":
            return []
        same = {visit["visit_id"], visit["replaces"]}
        today = live.today().isoformat()
        others = [
            row
            for row in trail.visit_rows(visit["box"])
            if row["visit_id"] not in same and row["seen_on"] <= today
        ]
    found = questions(contents.ground.box(visit["box"]), visit, others, contents.guide)
    # Saving refuses a visit with nothing recorded; no other question is due.
    return [] if any(one.kind == "blank" for one in found) else found


def _read(live: LiveTrail, trail: Trail, raw: Mapping[str, object]) -> RowRead:
    guide = live.contents().guide
    rules = VisitRules.of(trail, species=lambda name: guide.find(name).common, today=live.today())
    return read_visit(raw, rules=rules)


def _stored(trail: Trail, visit_id: str) -> Mapping[str, Any] | None:
    try:
        return trail.visit(visit_id)
    except NotKnown:
        return None


def _again(before: Mapping[str, Any], visit: Mapping[str, Any]) -> Recorded:
    if content_id(before) != content_id(visit):
        raise Conflict(
            f"Expected a new id, got {visit['visit_id']}, under which another visit is saved"
        )
    return Recorded(before, new=False)


def _expect_replaced(trail: Trail, visit: Mapping[str, Any]) -> None:
    replaces = visit["replaces"]
    if replaces is None:
        return
    if _stored(trail, replaces) is None:
        fault = BadValue("the id of a visit to correct", repr(replaces), column="replaces").fault
        raise Refused("This visit was not saved", (fault,))
    _expect_newest(trail, visit)


def _expect_withdrawable(
    trail: Trail, visit: Mapping[str, Any], *, author: Author, now: datetime
) -> None:
    """See that a visit may be taken back: of this box, and by a walker the same day."""
    withdrawn = trail.visit(visit["replaces"])
    if withdrawn["box"] != visit["box"]:
        fault = BadValue(withdrawn["box"], visit["box"], column="box").fault
        raise Refused("This visit was not withdrawn", (fault,))
    zone = trail.settings().zone
    entered_on = datetime.fromisoformat(withdrawn["entered_at"]).astimezone(zone).date()
    if author.person.role is not Role.KEEPER and entered_on != now.astimezone(zone).date():
        raise NotAllowed(
            f"A walker withdraws a visit on the day it was entered, and this one was entered on"
            f" {entered_on}: ask a keeper"
        )


def _expect_newest(trail: Trail, visit: Mapping[str, Any]) -> None:
    """See that no other visit corrects what this one corrects."""
    replaces = visit["replaces"]
    later = trail.rows(
        "SELECT visit_id FROM visits WHERE replaces = ? AND visit_id != ?",
        (replaces, visit["visit_id"]),
    )
    if later:
        raise Conflict(
            f"Expected the newest record of a visit, got {replaces}, which {later[0][0]} corrects"
        )
