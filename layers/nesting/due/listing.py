"""The due list: every box on a day, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from layers.nesting.dating import Dates, date_attempts, known_on
from layers.nesting.due.approach import LEAVE, WATCH, how_to_approach
from layers.nesting.due.inputs import BoxInputs, DueInputs
from layers.nesting.due.inside import expected_inside
from layers.nesting.due.reasons import (
    INTERVAL_PASSED,
    NOT_DUE,
    RULES,
    URGENCIES,
    Reason,
    interval_passed,
)
from layers.nesting.histories import Histories
from layers.nesting.timeline import Service
from layers.trail.coding import day_number
from layers.trail.settings import Settings


@dataclass(frozen=True)
class Due:
    """What one box needs on a day.

    Attributes
    ----------
    due
        Whether it needs a visit.
    urgency
        One of `URGENCIES`: that of its most urgent reason.
    reasons
        Most urgent first; empty where not due.
    until
        The earliest last day of the most urgent reasons; None = open.
    approach
        One of `APPROACHES`; holds whether due or not.
    approach_text
        Why so, or what to mind first, in a sentence; empty where nothing speaks against
        opening.
    expected
        What to expect inside, in a sentence.
    """

    box: str
    due: bool
    urgency: str
    reasons: tuple[Reason, ...]
    until: date | None
    approach: str
    approach_text: str
    expected: str


def due(
    histories: Histories,
    *,
    on: date,
    settings: Settings,
    dates: Dates | None = None,
    service: Service | None = None,
    guards: Mapping[str, str | None] | None = None,
) -> list[Due]:
    """Every box that stands on a day: whether it is due, why, until when, and how to approach it.

    Only visits up to `on` are used. Sorted by urgency, then by the day until which the
    visit serves (open ones last), then by box id.

    Parameters
    ----------
    dates
        Those of `histories`, if at hand; used where no visit is later than `on`.
    service
        From when to when each box stands; None = always.
    guards
        Box -> its guards as stored, None = not recorded. A box left out counts as not recorded.
    """
    histories, found = known_on(histories, on, dates)
    inputs = DueInputs(histories, found, on, settings, guards or {})
    boxes = histories.visits.boxes
    in_place = service or Service.always(len(boxes))
    listed = [
        _of_box(BoxInputs(inputs, box))
        for code, box in enumerate(boxes)
        if in_place.since[code] <= inputs.day < in_place.until[code]
    ]
    return sorted(listed, key=most_urgent_first)


def due_of_box(
    histories: Histories,
    box: str,
    *,
    on: date,
    settings: Settings,
    dates: Dates | None = None,
    guards: Mapping[str, str | None] | None = None,
) -> Due:
    """What one box needs on a day, whether it stands or not; see `due`.

    Raises
    ------
    NotKnown
        There is no box of that id.
    """
    own = histories.visits_of(box)
    found = dates
    if found is None or (histories.visits.day[own.start : own.stop] > day_number(on)).any():
        # Only this box is read anew, not the whole trail.
        histories = histories.of_box(box, until=on)
        found = date_attempts(histories)
    return _of_box(BoxInputs(DueInputs(histories, found, on, settings, guards or {}), box))


def most_urgent_first(one: Due) -> tuple[int, date, str]:
    """Sorts boxes: the most urgent first, then those that can wait least, then by id."""
    return URGENCIES.index(one.urgency), one.until or date.max, one.box


def due_by_interval(
    listed: Iterable[Due],
    histories: Histories,
    *,
    on: date,
    settings: Settings,
    dates: Dates | None = None,
) -> list[Due]:
    """A list as `due` gives it, where only `settings.visit_every_days` became another.

    One rule looks at it; all of them take ten times as long.
    """
    histories, found = known_on(histories, on, dates)
    inputs = DueInputs(histories, found, on, settings, {})
    return sorted((_by_interval(one, inputs) for one in listed), key=most_urgent_first)


def _by_interval(one: Due, inputs: DueInputs) -> Due:
    if one.approach == LEAVE:
        return one
    others = (reason for reason in one.reasons if reason.kind != INTERVAL_PASSED)
    found = [*interval_passed(BoxInputs(inputs, one.box)), *others]
    return _due(one.box, found, one.approach, one.approach_text, one.expected)


def _of_box(one: BoxInputs) -> Due:
    approach, approach_text = how_to_approach(one)
    expected = expected_inside(one)
    found = [reason for rule in RULES for reason in rule(one)]
    if approach == LEAVE:
        found = []
    elif approach == WATCH:
        found = [reason for reason in found if not reason.needs_open]
    return _due(one.box, found, approach, approach_text, expected)


def _due(box: str, found: list[Reason], approach: str, approach_text: str, expected: str) -> Due:
    if not found:
        return Due(box, False, NOT_DUE, (), None, approach, approach_text, expected)
    found.sort(key=lambda reason: (URGENCIES.index(reason.urgency), reason.until or date.max))
    first = found[0]
    return Due(
        box, True, first.urgency, tuple(found), first.until, approach, approach_text, expected
    )
