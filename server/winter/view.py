"""The winter list of a trail, in the order of the walk; for command, call and page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from layers.errors import CallerError
from layers.nesting.winter import Neighbour, Winter, winter_list
from layers.nesting.winter.jobs import DatedNote
from layers.trail.coding import day_number
from layers.trail.reading import CURRENT
from layers.trail.store import Trail
from server.live.contents import Contents
from server.live.ground import Ground
from server.rounds.planning import planned
from server.rounds.request import RoundRequest

NEAREST = 5
"""Neighbours of a box that are looked at: the nearest with a nest is what matters."""


@dataclass(frozen=True)
class WinterList:
    """Boxes with something to do, in the order of a walk, and what was left alone.

    Attributes
    ----------
    to_do
        Boxes with jobs, each at its place in the walk.
    unused
        Boxes unused for years, by id; some are in `to_do` as well.
    waiting
        Boxes in which a nest may still be going on.
    routine
        Boxes with nothing to do but what every box needs.
    order_text
        How `to_do` is ordered, in a sentence.
    """

    on: date
    boxes: int
    to_do: tuple[Winter, ...]
    unused: tuple[Winter, ...]
    waiting: tuple[str, ...]
    routine: tuple[str, ...]
    order_text: str

    def json(self) -> dict[str, Any]:
        """As values for JSON."""
        return {
            "on": self.on.isoformat(),
            "boxes": self.boxes,
            "to_do": [
                {
                    "box": one.box,
                    "section": one.section,
                    "jobs": [{"job": job.kind, "why": job.text} for job in one.jobs],
                    "last_note": one.last_note,
                }
                for one in self.to_do
            ],
            "unused": [
                {
                    "box": one.box,
                    "seasons": list(one.unused.seasons),
                    "likely": [
                        {"about": why.about, "why": why.text, "sources": list(why.sources)}
                        for why in one.unused.likely
                    ],
                }
                for one in self.unused
                if one.unused is not None
            ],
            "waiting": list(self.waiting),
            "routine": list(self.routine),
            "order": self.order_text,
        }


def winter_of(
    contents: Contents, *, on: date, notes: Mapping[str, Sequence[DatedNote]]
) -> WinterList:
    """The winter list on a day; `notes` are those of each box, oldest first."""
    listed = winter_list(
        contents.histories,
        boxes=contents.ground.records,
        on=on,
        settings=contents.settings,
        service=contents.service,
        neighbours=_neighbours(contents.ground),
        notes=notes,
    )
    to_do = {one.box: one for one in listed if one.jobs}
    order, order_text = _order(contents, tuple(to_do), on=on)
    return WinterList(
        on=on,
        boxes=len(listed),
        to_do=tuple(to_do[box] for box in order),
        unused=tuple(one for one in listed if one.unused is not None),
        waiting=tuple(one.box for one in listed if one.waits),
        routine=tuple(one.box for one in listed if one.routine),
        order_text=order_text,
    )


def notes_of(trail: Trail, *, on: date) -> dict[str, list[DatedNote]]:
    """Box -> the notes of its visits up to a day, oldest first."""
    rows = trail.rows(
        f"SELECT box, seen_on, note FROM visits WHERE note NOT NULL AND seen_on <= ? AND {CURRENT}"
        " ORDER BY seen_on, seen_at, fid",
        (on.isoformat(),),
    )
    found: dict[str, list[DatedNote]] = {}
    for box, day, note in rows:
        found.setdefault(box, []).append((day_number(day), note))
    return found


def _neighbours(ground: Ground) -> dict[str, list[Neighbour]]:
    points = ground.boxes.geometry.dropna()
    near: dict[str, list[Neighbour]] = {}
    for box, point in zip(ground.placed, points, strict=True):
        found = ground.nearest.query(point.x, point.y, k=NEAREST + 1)
        near[box] = [
            Neighbour(ground.placed[at], distance_m)
            for at, distance_m in zip(
                found.position.tolist(), found.distance_m.tolist(), strict=True
            )
            if ground.placed[at] != box
        ]
    return near


def _order(contents: Contents, boxes: tuple[str, ...], *, on: date) -> tuple[list[str], str]:
    """Boxes as a round passes them, those that it cannot reach last; by id without one."""
    if not boxes:
        return [], ""
    try:
        found = planned(contents, RoundRequest(on, which="boxes", names=boxes))
    except CallerError as error:
        return sorted(boxes), f"By box, since no walk could be planned: {error}"
    walked = [box for stop in found.round.walks[0].stops for box in stop.boxes]
    left = [box for box in boxes if box not in set(walked)]
    end = f"; {len(left)} that no path reaches come last" if left else ""
    return walked + left, f"In the order of a walk from {found.start.name}{end}."
