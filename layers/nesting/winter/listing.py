"""The winter list: every box in place, what it needs, and why it may be unused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from layers.nesting.histories import Histories
from layers.nesting.timeline import Service
from layers.nesting.winter.jobs import DAYS_BACK, DatedNote, Job, JobInputs, going_on, jobs_of
from layers.nesting.winter.record import Neighbour, trail_record
from layers.nesting.winter.unused import Unused, unused_boxes
from layers.trail.coding import day_number
from layers.trail.settings import Settings, season_of

ROUTINE = "Open it, clear it out, and look at roof, door, hole, drain holes and what it hangs on."
"""What every box needs before a season (common practice, no source)."""

CAUTIONS = (
    "Clean only a box that is seen to be empty, and check your local law first: late nests, "
    "roosting birds, bats and other animals use boxes too, and some are protected "
    "(common practice, no source).",
    # CDC, Hantavirus pulmonary syndrome: clean up (2008).
    "Rodent dust can carry disease: do not sweep it out dry; air the box, wear gloves, wet it "
    "with disinfectant, wait five minutes, and keep your face upwind (CDC 2008).",
    "Set the ladder on firm ground, with a second person to hold it; leave a box alone in wind or "
    "on ice (common practice, no source).",
)


@dataclass(frozen=True)
class Winter:
    """One box that stands.

    Attributes
    ----------
    jobs
        May be empty.
    unused
        None where it was used, or checked in too few seasons.
    waits
        A nest may still be going on: nothing to do before it is over.
    routine
        Nothing but what every box needs: it stands, no nest is going on, and no job is listed.
    last_note
        The newest note of its visits, for a person to read; None = there is none.
    """

    box: str
    section: str | None
    jobs: tuple[Job, ...]
    unused: Unused | None
    waits: bool
    last_note: str | None

    @property
    def routine(self) -> bool:
        return not self.jobs and not self.waits


def winter_list(
    histories: Histories,
    *,
    boxes: Sequence[Mapping[str, Any]],
    on: date,
    settings: Settings,
    service: Service | None = None,
    neighbours: Mapping[str, Sequence[Neighbour]] | None = None,
    notes: Mapping[str, Sequence[DatedNote]] | None = None,
) -> list[Winter]:
    """Every box that stands on a day: what it needs before the next season, by box id.

    Only visits up to `on` are used.

    Parameters
    ----------
    boxes
        Rows of the trail's boxes: `box`, `section`, `hole_mm`, `guards`, `mount`, `habitat`,
        `pair`, `cleaned_on`; None where not recorded.
    service
        From when to when each box of `histories` stands; None = always.
    neighbours
        Box -> the boxes nearest to it.
    notes
        Box -> the notes of its visits up to `on`, oldest first.
    """
    day = day_number(on)
    in_place = service or Service.always(len(histories.visits.boxes))
    standing = [
        facts
        for facts in boxes
        if in_place.since[code := histories.box_code(facts["box"])] <= day < in_place.until[code]
    ]
    record = trail_record(
        histories.up_to(on),
        boxes=standing,
        neighbours=neighbours or {},
        on=on,
        season=season_of(on, settings.season_starts),
    )
    unused = {found.box: found for found in unused_boxes(record, units=settings.units)}
    listed = []
    for box in sorted(record.boxes):
        own_notes = (notes or {}).get(box, ())
        lately = [note for note in own_notes if note[0] > day - DAYS_BACK]
        inputs = JobInputs(record, record.boxes[box], unused.get(box), lately)
        listed.append(
            Winter(
                box=box,
                section=record.boxes[box].facts.get("section"),
                jobs=jobs_of(inputs),
                unused=unused.get(box),
                waits=going_on(inputs),
                last_note=own_notes[-1][1] if own_notes else None,
            )
        )
    return listed
