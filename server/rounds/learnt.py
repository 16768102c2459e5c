"""The pace of a trail's own rounds, beside that of a plan. It is shown and offered, never used
unless a walker takes it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from layers.trail.coding import day_number
from layers.walking.distances import Walking
from layers.walking.learnt_pace import LEAST_LEGS, LearntPace, learnt_pace
from layers.walking.network.attach import Site, attach
from layers.walking.pace import NORMAL, Flat, Pace
from server.live.contents import Contents
from server.rounds.paths import paths_of

MOST_LEGS = 1_000
"""The latest legs show how one walks now."""

MOST_WITHOUT_TIME = 1 / 8
"""Of the visits of a walk: where more have no time, its legs lead by boxes that are not known."""


@dataclass(frozen=True)
class Offered:
    """A learnt pace in words, and as the walking speed and minutes of a request."""

    text: str
    pace: Flat
    stop_minutes: float


def offered(contents: Contents, *, on: date, pace: Pace, stop_minutes: float) -> Offered | None:
    """The pace learnt from the visits up to a day beside that of a plan; None if not known."""
    found = contents.once(("learnt pace", on), lambda: learnt_on(contents, on))
    if found is None:
        return None
    plan_min_km = float(pace.minutes(1000.0, 0.0))
    text = (
        f"Your rounds: {found.minutes_per_km:.0f} min/km and {found.minutes_at_box:.0f} min a box,"
        f" from {found.legs} legs of {found.walks} walks; the plan uses {plan_min_km:.0f} and"
        f" {stop_minutes:g}."
    )
    kmh = min(max(round(60.0 / found.minutes_per_km, 1), 0.5), 15.0)
    return Offered(text, Flat(kmh), float(round(found.minutes_at_box)))


def learnt_on(contents: Contents, on: date) -> LearntPace | None:
    """The pace of the walks up to a day, None if too few show it.

    A walk is the visits of one observer on one day, in the order of their times.
    """
    legs = list(_legs(contents, on))[:MOST_LEGS]
    ground, paths = contents.ground, paths_of(contents.ground, on)
    ids = sorted({box for _, one, other, _ in legs for box in (one, other)})
    if len(legs) < LEAST_LEGS:
        return None
    rows = [ground.box(box) for box in ids]
    sites = [Site(row["box"], row["lon"], row["lat"]) for row in rows]
    attached = attach(
        paths.network,
        sites,
        barriers=paths.barriers,
        open_ground=paths.open_ground(contents.settings),
    )
    at = {box: number for number, box in enumerate(ids)}
    length_m = Walking(attached, NORMAL).length_m
    return learnt_pace(
        [minutes for minutes, *_ in legs],
        [length_m[at[one], at[other]] for _, one, other, _ in legs],
        [walk for *_, walk in legs],
    )


def _legs(contents: Contents, on: date) -> Iterator[tuple[float, str, str, int]]:
    """Minutes, two boxes and number of the walk of each leg, the latest walk first."""
    visits, ground = contents.histories.visits, contents.ground
    placed = set(ground.placed)
    known = np.array([box in placed for box in visits.boxes], bool)
    keep = np.flatnonzero(
        (visits.observer >= 0) & (visits.day <= day_number(on)) & known[visits.box]
    )
    order = keep[np.lexsort((visits.minute[keep], visits.observer[keep], -visits.day[keep]))]
    walk = visits.day[order].astype(np.int64) * len(visits.observers) + visits.observer[order]
    for number in np.split(order, np.flatnonzero(np.diff(walk)) + 1):
        timed = number[visits.minute[number] >= 0]
        if len(number) - len(timed) > MOST_WITHOUT_TIME * len(number):
            continue
        for one, other in zip(timed[:-1].tolist(), timed[1:].tolist(), strict=True):
            if visits.box[one] != visits.box[other]:
                boxes = (visits.boxes[visits.box[row]] for row in (one, other))
                yield float(visits.minute[other] - visits.minute[one]), *boxes, int(number[0])
