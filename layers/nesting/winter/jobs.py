"""The rules of what a box needs before the next season."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from layers.nesting import attempt_columns as c
from layers.nesting.reading.observations import EMPTYING_ACTIONS, word_bits
from layers.nesting.season.doubts import format_cases
from layers.nesting.winter.record import BoxRecord, TrailRecord
from layers.nesting.winter.unused import Unused
from layers.trail.coding import day_number, day_of
from layers.trail.words import NEST
from layers.words import format_count, format_day

LOOK, CLEAN, REPAIR, GUARD, MOVE, CLOSE = JOBS = (
    "look",
    "clean",
    "repair",
    "guard",
    "move",
    "close",
)
"""Kinds of jobs, in the order in which a box's list gives them."""

SEASONS_BACK = 3
"""Losses longer ago say little of today's box (common practice, no source)."""

# A box in which nest after nest is lost draws birds to their ruin (common practice, no source).
LOST_IN_A_ROW = 3

# Some seasons without a nest happen to good boxes (common practice, no source).
GIVE_UP_SEASONS = 5

DAYS_BACK = 365


@dataclass(frozen=True)
class Job:
    """One thing to do: `kind` is one of `JOBS`, `text` gives the reason in a sentence."""

    kind: str
    text: str


@dataclass(frozen=True)
class JobInputs:
    """A box, the record it is part of, and since when it has been unused, if it has."""

    record: TrailRecord
    one: BoxRecord
    unused: Unused | None

    def actions_since(self, day: int, words: tuple[str, ...]) -> bool:
        """Whether a visit on `day` or later did one of these."""
        visits = self.record.histories.visits
        bits = word_bits(visits.actions_words, words)
        return any(visits.day[i] >= day and visits.actions[i] & bits for i in self.one.visits)

    def lately_laid(self) -> list[int]:
        """Attempts with eggs or young of the last seasons, oldest first."""
        first = self.record.season - SEASONS_BACK + 1
        rows = self.record.histories.rows
        return [
            attempt
            for attempt in self.one.attempts
            if rows[attempt, c.LAID] == 1 and rows[attempt, c.SEASON] >= first
        ]

    def days_of(self, sign: str) -> list[int]:
        """Days of the last year on which a sign was met."""
        visits, bit = self.record.histories.visits, c.sign_bits(sign)
        since = self.record.day - DAYS_BACK
        return [
            int(visits.day[i])
            for i in self.one.visits
            if visits.day[i] > since and visits.signs[i] & bit
        ]


def jobs_of(inputs: JobInputs) -> tuple[Job, ...]:
    """What a box needs, by the order of `JOBS`; none while a nest may still be going on."""
    if going_on(inputs):
        return ()
    return tuple(job for rule in _RULES for job in rule(inputs))


def going_on(inputs: JobInputs) -> bool:
    """Whether a nest in the box may not be over."""
    own = inputs.one.attempts
    return bool(inputs.record.may_live[own.start : own.stop].any())


def _look(inputs: JobInputs) -> Iterator[Job]:
    if inputs.record.season not in inputs.one.looked_into:
        yield Job(LOOK, f"Not checked in the season {inputs.record.season}.")


def _clean(inputs: JobInputs) -> Iterator[Job]:
    record, one = inputs.record, inputs.one
    visits = record.histories.visits
    found = [i for i in one.visits if visits.nest[i] >= 0]
    if not found or visits.nest[found[-1]] == NEST.index("none"):
        return
    last = int(visits.day[found[-1]])
    cleaned = one.facts.get("cleaned_on")
    if cleaned is not None and day_number(cleaned) >= last:
        return
    if inputs.actions_since(last, EMPTYING_ACTIONS):
        return
    yield Job(CLEAN, f"A nest was in it on {_on_day(last)}; no visit since records a cleaning.")


def _on_day(day: int) -> str:
    return f"{format_day(day)} {day_of(day).year}"


def _repair(inputs: JobInputs) -> Iterator[Job]:
    wet = inputs.days_of("wet")
    if wet and not inputs.actions_since(wet[-1], ("repaired",)):
        yield Job(
            REPAIR,
            f"Found wet inside {format_count(len(wet), 'time', 'times')}, last on "
            f"{_on_day(wet[-1])}: look at the roof, the joints and the drain holes.",
        )


def _guard(inputs: JobInputs) -> Iterator[Job]:
    rows, fate = inputs.record.histories.rows, inputs.record.fate
    laid = inputs.lately_laid()
    robbed = [
        attempt
        for attempt in laid
        if fate[attempt] == c.FATE_FAILED and rows[attempt, c.CAUSE] == c.PREDATOR
    ]
    if not robbed:
        return
    last = int(rows[robbed[-1], c.OVER_DAY])
    if inputs.actions_since(last, ("guard fitted",)):
        return
    since = inputs.record.season - SEASONS_BACK + 1
    text = f"Predators took {len(robbed)} of {format_cases(len(laid), 'nests')} since {since}"
    unguarded = inputs.one.unguarded
    if unguarded is None:
        yield Job(GUARD, f"{text}; no guard is recorded: look, and fit one if there is none.")
    elif unguarded:
        yield Job(GUARD, f"{text}, and it has no guard.")
    else:
        guards = str(inputs.one.facts["guards"]).replace(";", " and ")
        yield Job(GUARD, f"{text} in spite of its guard ({guards}): find the way they came.")


def _move(inputs: JobInputs) -> Iterator[Job]:
    lost = _lost_in_a_row(inputs)
    if lost and inputs.one.unguarded is not False:
        yield Job(MOVE, f"Its last {lost} nests were all lost: guard it, or move it.")
    elif inputs.unused is not None:
        about = {why.about for why in inputs.unused.likely}
        if about & {"spacing", "habitat"}:
            yield Job(MOVE, f"{inputs.unused.text} See why below.")


def _close(inputs: JobInputs) -> Iterator[Job]:
    lost = _lost_in_a_row(inputs)
    if lost and inputs.one.unguarded is False:
        yield Job(
            CLOSE,
            f"Its last {lost} nests were all lost in spite of a guard: close it before spring, "
            "or move it.",
        )
    elif inputs.unused is not None and len(inputs.unused.seasons) >= GIVE_UP_SEASONS:
        yield Job(CLOSE, f"{inputs.unused.text} Take it down, or try it elsewhere.")


def _lost_in_a_row(inputs: JobInputs) -> int:
    """How many of its latest nests, at least `LOST_IN_A_ROW`, were all lost; else 0."""
    rows, fate = inputs.record.histories.rows, inputs.record.fate
    ended = [
        attempt
        for attempt in inputs.lately_laid()
        if fate[attempt] in (c.FATE_FLEDGED, c.FATE_FAILED)
        and rows[attempt, c.CAUSE] != c.NEST_REMOVED
    ]
    lost = 0
    for attempt in reversed(ended):
        if fate[attempt] != c.FATE_FAILED:
            break
        lost += 1
    return lost if lost >= LOST_IN_A_ROW else 0


_RULES: tuple[Callable[[JobInputs], Iterator[Job]], ...] = (
    _look,
    _clean,
    _repair,
    _guard,
    _move,
    _close,
)
