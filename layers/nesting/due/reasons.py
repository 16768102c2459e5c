"""The reasons for which a box is due, each a rule of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from layers.nesting import attempt_columns as c
from layers.nesting.dating import contradiction
from layers.nesting.due.inputs import BoxInputs
from layers.nesting.forecast import banding_days, memory_mark
from layers.nesting.reading.observations import EMPTYING_ACTIONS, word_bits
from layers.trail.words import NEST
from layers.words import capitalise, format_count, format_day, format_days

URGENT, DUE, CAN_WAIT, NOT_DUE = "urgent", "due", "can wait", "not due"
URGENCIES = (URGENT, DUE, CAN_WAIT, NOT_DUE)
"""From the most urgent. Urgent: what can be learnt is lost in a day or two, or a nest has
waited for two visit intervals. Due: to be done on the next round. Can wait: any round of
the season will do."""

INTERVAL_PASSED = "interval passed"

_URGENT_DAYS = 1  # what is lost after tomorrow presses
# Days after fledging within which signs still show how a nest ended (common practice, no source).
_SIGNS_DAYS = 7
# Age up to which the age of young is well judged (common practice, no source).
_AGED_DAYS = 8
# A visit that is wrong with this chance is to be checked (our own choice, no source).
_DOUBTED = 0.2
_SIGNS_OF_CLIMBERS = c.sign_bits("nest torn", "hair", "snake", "squirrel")


@dataclass(frozen=True)
class Reason:
    """One reason to visit a box.

    Attributes
    ----------
    kind
        In a few words, the same for every box: a heading.
    text
        A sentence with this box's own figures.
    until
        Last day on which the visit still serves; None = open.
    needs_open
        Whether it takes a look inside; such a reason does not count in closed days.
    """

    kind: str
    urgency: str
    text: str
    until: date | None = None
    needs_open: bool = False


def _urgency(one: BoxInputs, until: date) -> str:
    return URGENT if (until - one.inputs.on).days <= _URGENT_DAYS else DUE


def _never_checked(one: BoxInputs) -> Iterator[Reason]:
    if one.last_visit is None:
        yield Reason("never checked this season", DUE, "No visit this season.")


def interval_passed(one: BoxInputs) -> Iterator[Reason]:
    """The trail's `visit_every_days` are over; no other rule looks at them."""
    if one.last_visit is None:
        return
    every = one.inputs.settings.visit_every_days
    last = int(one.inputs.histories.visits.day[one.last_visit])
    days = one.inputs.day - last
    if days >= every:
        text = (
            f"Last visit {format_count(days, 'day', 'days')} ago, on "
            f"{format_day(last)}; the trail's interval is "
            f"{format_count(every, 'day', 'days')}."
        )
        urgent = days >= 2 * every and one.under_way is not None
        yield Reason(INTERVAL_PASSED, URGENT if urgent else DUE, text)


def _laying_ends(one: BoxInputs) -> Iterator[Reason]:
    """The clutch is probably complete, its size not known yet, and it has not hatched."""
    nest = one.under_way
    if nest is None or nest.row[c.PHASE] != c.EGGS or nest.row[c.STABLE] == 1:
        return
    found = nest.dates
    if found.complete is None or found.hatch is None:
        return
    until = found.hatch.days_80[0] - timedelta(days=1)
    if found.complete.days_80[1] <= one.inputs.on <= until:
        text = (
            f"The clutch should be complete since {format_days(*found.complete.days_80)} and can "
            f"be counted until hatching, {format_days(*found.hatch.days_80)}."
            f"{memory_mark(nest.species.incubation_days)}"
        )
        yield Reason("clutch can be counted", _urgency(one, until), text, until, needs_open=True)


def _hatching(one: BoxInputs) -> Iterator[Reason]:
    """Young have probably hatched, and their age was not judged yet."""
    nest = one.under_way
    if nest is None or nest.row[c.AGES] > 0 or nest.dates.hatch is None:
        return
    hatch = nest.dates.hatch
    until = hatch.days_80[1] + timedelta(days=_AGED_DAYS)
    if nest.closed is not None:
        until = min(until, nest.closed[0] - timedelta(days=1))
    if hatch.best <= one.inputs.on <= until:
        text = (
            f"Hatching was expected {format_days(*hatch.days_80)}; the age of the young can be "
            f"judged well until about {format_days(until, until)}."
            f"{memory_mark(nest.species.incubation_days)}"
        )
        yield Reason("young can be aged", _urgency(one, until), text, until, needs_open=True)


def _banding(one: BoxInputs) -> Iterator[Reason]:
    nest = one.under_way
    if nest is None or (nest.dates.hatched or 0.0) < 0.5:
        return
    inputs = one.inputs
    window = banding_days(inputs.histories, inputs.dates, nest.attempt, on=inputs.on)
    if window is not None:
        text = (
            f"Young are of an age to be banded {format_days(*window)}: for licensed banders only; "
            f"check your permit.{memory_mark(nest.species.banding_days)}"
        )
        urgency = _urgency(one, window[1])
        yield Reason("banding window", urgency, text, window[1], needs_open=True)


def _fledging(one: BoxInputs) -> Iterator[Reason]:
    """The young have probably left, and the empty nest was not seen yet."""
    nest = one.nest
    if nest is None or not nest.ongoing or nest.dates.fledge is None:
        return
    fledge = nest.dates.fledge
    until = fledge.days_80[1] + timedelta(days=_SIGNS_DAYS)
    if fledge.best <= one.inputs.on <= until:
        text = (
            f"Fledging was expected {format_days(*fledge.days_80)}; signs of how it ended can be "
            f"read until about {format_days(until, until)}."
            f"{memory_mark(nest.species.nestling_days)}"
        )
        yield Reason("fate can be read", _urgency(one, until), text, until, needs_open=True)


def _clean_out(one: BoxInputs) -> Iterator[Reason]:
    """A nest was found over this season, and the box was not cleaned since."""
    if one.nest is None or one.nest.row[c.OVER] < 0:
        return
    histories, row = one.inputs.histories, one.nest.row
    over = int(row[c.OVER])
    since = [i for i in histories.visits_of(one.box) if i >= over]
    actions = 0
    for i in since:
        actions |= int(histories.visits.actions[i])
    emptied = actions & word_bits(histories.visits.actions_words, EMPTYING_ACTIONS)
    nests = [int(n) for n in histories.visits.nest[since] if n >= 0]
    if emptied or (nests and nests[-1] == NEST.index("none")):
        return
    text = (
        f"The nest was found over on {format_day(row[c.OVER_DAY])} and is still in the box. Clean "
        "it only when it is seen to be empty, and check your local law first."
    )
    yield Reason("clean-out", CAN_WAIT, text, needs_open=True)


def _guard_missing(one: BoxInputs) -> Iterator[Reason]:
    """A climber has robbed the box, and nothing keeps the next one away."""
    guards = one.inputs.guards.get(one.box)
    if guards is None or guards.strip():
        return
    histories = one.inputs.histories
    for attempt in histories.attempts_of(one.box):
        row = histories.rows[attempt]
        over = int(row[c.OVER])
        if row[c.CAUSE] == c.PREDATOR and over >= 0:
            signs = int(histories.visits.signs[over]) & _SIGNS_OF_CLIMBERS
            if signs:
                when = format_day(row[c.OVER_DAY])
                text = f"A nest was lost to a climber by {when}, and the box has no guard."
                yield Reason("guard missing", CAN_WAIT, text)
                return


def _contradiction(one: BoxInputs) -> Iterator[Reason]:
    nest, inputs = one.under_way, one.inputs
    odd = None if nest is None else contradiction(inputs.histories, inputs.dates, nest.attempt)
    if odd is not None:
        yield Reason("contradiction", DUE, f"{capitalise(odd)}, and correct the record.")
    doubted = one.unconfirmed
    if doubted is not None and doubted.dates.goes_on > _DOUBTED:
        text = (
            f"The visit of {format_day(doubted.row[c.OVER_DAY])} does not go with the one before, "
            "which saw this nest alive. Please check it, and correct the record."
        )
        yield Reason("contradiction", DUE, text)


RULES: tuple[Callable[[BoxInputs], Iterator[Reason]], ...] = (
    _never_checked,
    interval_passed,
    _laying_ends,
    _hatching,
    _banding,
    _fledging,
    _clean_out,
    _guard_missing,
    _contradiction,
)
