"""Removes boxes, paths, places and zones that were added by mistake."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from layers.errors import BadValue, Conflict, NotKnown
from layers.trail.store import Trail

Removable = Literal["boxes", "paths", "places", "zones"]
REMOVABLE: tuple[Removable, ...] = ("boxes", "paths", "places", "zones")


@dataclass(frozen=True)
class Listed:
    """What may be removed: its row number, and its id or name."""

    fid: int
    name: str


def removable(trail: Trail, kind: Removable) -> list[Listed]:
    """What of a kind may be removed: boxes without any visit, all of the others."""
    rule = " WHERE box NOT IN (SELECT box FROM visits)" if kind == "boxes" else ""
    key = "box" if kind == "boxes" else "name"
    rows = trail.rows(f"SELECT fid, {key} FROM {kind}{rule} ORDER BY fid")
    return [Listed(fid, name or f"no name, number {fid}") for fid, name in rows]


def numbers_of(trail: Trail, kind: Removable, names: Sequence[str]) -> list[int]:
    """Row numbers of boxes by id, of others by name, or by `#` and the row number.

    Raises
    ------
    NotKnown
        There is none of a name.
    BadValue
        Several have it.
    """
    key = "box" if kind == "boxes" else "name"
    found = []
    for name in names:
        rows = trail.rows(f"SELECT fid FROM {kind} WHERE {key} = ? OR '#' || fid = ?", (name, name))
        if not rows:
            raise NotKnown(f"There is none of {kind} named {name!r}")
        if len(rows) > 1:
            numbers = ", ".join(f"'#{fid}'" for (fid,) in rows)
            raise BadValue(f"one of {numbers}, since several have that name", repr(name))
        found.append(rows[0][0])
    return found


def remove(trail: Trail, kind: Removable, numbers: Sequence[int]) -> int:
    """Remove rows of a table; how many there were. All of them, or none.

    Raises
    ------
    Conflict
        A box has visits, also withdrawn ones, or another box is paired with it.
    """
    marks = ", ".join("?" * len(numbers))
    with trail.write() as connection:
        if kind == "boxes":
            held = connection.execute(
                "SELECT box, count(*) FROM boxes JOIN visits USING (box)"
                f" WHERE boxes.fid IN ({marks}) GROUP BY box",
                numbers,
            ).fetchall()
            if held:
                boxes = ", ".join(f"{box} ({count})" for box, count in held)
                raise Conflict(
                    f"These boxes have visits, which are never deleted: {boxes}. Give the day on"
                    " which the box was taken down instead"
                )
            paired = connection.execute(
                f"SELECT box, pair FROM boxes WHERE pair IN (SELECT box FROM boxes WHERE fid IN"
                f" ({marks})) AND fid NOT IN ({marks})",
                (*numbers, *numbers),
            ).fetchall()
            if paired:
                pairs = ", ".join(f"{box} with {pair}" for box, pair in paired)
                raise Conflict(f"Other boxes are paired with these: {pairs}")
        return connection.execute(f"DELETE FROM {kind} WHERE fid IN ({marks})", numbers).rowcount
