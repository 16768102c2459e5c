"""The rules of what a box needs before the next season."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.reading.observations import EMPTYING_ACTIONS, word_bits
from layers.nesting.season.doubts import format_cases
from layers.nesting.winter.record import BoxRecord, TrailRecord
from layers.nesting.winter.unused import Unused
from layers.trail.coding import day_number, day_of
from layers.trail.words import NEST
from layers.words import format_count, format_day, format_list

DatedNote = tuple[int, str]
"""A day since 1970-01-01, and what was noted at a visit on it."""

LOOK, CLEAN, REPAIR, GUARD, RIVAL, MOVE, CLOSE = JOBS = (
    "look",
    "clean",
    "repair",
    "guard",
    "rival",
    "move",
    "close",
)
"""Kinds of jobs, in the order in which a box's list gives them."""

SEASONS_BACK = 3
"""Losses longer ago say little of today's box (common practice, no source)."""

# One nest lost among several happens at any box; two, or half of its nests, call for a guard
# (common practice, no source).
LEAST_ROBBED = 2
ROBBED_SHARE = 0.5

HOUSE_SPARROW = "house sparrow"

_MENTIONS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "the door": ("door", "hinge", "hinges", "latch"),
        "the roof": ("roof", "lid", "leak", "leaks", "leaking"),
        "the hole": ("hole worn", "worn hole", "hole enlarged", "hole gnawed", "pecked larger"),
        "the walls": ("crack", "cracked", "split", "rotten", "rot"),
        "what it hangs on": ("loose", "leaning", "tilted", "fallen", "fell"),
    }
)
"""Part of a box -> words of a note that may be about it; a person reads the note."""

# What a guard below the box needs (common practice, no source).
_ROUND_MOUNTS = ("pole", "post", "pipe", "stake", "rod")

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
    """A box, the record it is part of, since when it has been unused, if it has, and the notes of
    the last year, oldest first.
    """

    record: TrailRecord
    one: BoxRecord
    unused: Unused | None
    notes: Sequence[DatedNote] = ()

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
    for part, words in _MENTIONS.items():
        pattern = rf"\b({'|'.join(map(re.escape, words))})\b"
        about = [one for one in inputs.notes if re.search(pattern, one[1], re.IGNORECASE)]
        if about and not inputs.actions_since(about[-1][0], ("repaired",)):
            day, text = about[-1]
            yield Job(REPAIR, f"Look at {part}: the note of {_on_day(day)} says “{text}”.")


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
    if len(robbed) < LEAST_ROBBED and len(robbed) < ROBBED_SHARE * len(laid):
        return
    last = int(rows[robbed[-1], c.OVER_DAY])
    if inputs.actions_since(last, ("guard fitted",)):
        return
    since = inputs.record.season - SEASONS_BACK + 1
    text = f"Predators took {len(robbed)} of {format_cases(len(laid), 'nests')} since {since}"
    unguarded, elsewhere = inputs.one.unguarded, _robbed_elsewhere(inputs, since)
    if unguarded is None:
        text += "; no guard is recorded: look, and fit one if there is none."
    elif unguarded:
        text += ", and it has no guard."
    else:
        guards = str(inputs.one.facts["guards"]).replace(";", " and ")
        text += f" in spite of its guard ({guards}): find the way they came."
    yield Job(GUARD, f"{text}{elsewhere}{'' if unguarded is False else _fitting(inputs.one)}")


def _robbed_elsewhere(inputs: JobInputs, since: int) -> str:
    """How often predators took nests in the trail's other boxes, to compare with."""
    rows, fate = inputs.record.histories.rows, inputs.record.fate
    own = np.arange(len(rows))
    others = (own < inputs.one.attempts.start) | (own >= inputs.one.attempts.stop)
    laid = others & (rows[:, c.LAID] == 1) & (rows[:, c.SEASON] >= since)
    robbed = laid & (fate == c.FATE_FAILED) & (rows[:, c.CAUSE] == c.PREDATOR)
    return f" Elsewhere on the trail: {robbed.sum()} of {laid.sum()}." if laid.any() else ""


def _fitting(one: BoxRecord) -> str:
    """Which guard fits what the box hangs on."""
    mount = str(one.facts.get("mount") or "").casefold()
    if not mount:
        return ""
    if any(word in mount for word in _ROUND_MOUNTS):
        return f" On its {mount} a cone or a stovepipe below the box fits."
    return (
        f" On its mount ({mount}) a cone or a stovepipe holds little off: a plate or a mesh at the "
        "hole, or better a smooth pole of its own."
    )


def _rivals(inputs: JobInputs) -> Iterator[Job]:
    """House sparrows where people brought them, and nests that other birds took over."""
    rows, record = inputs.record.histories.rows, inputs.record
    taken = [at for at in inputs.lately_laid() if rows[at, c.CAUSE] == c.TAKEN_OVER]
    first = record.season - SEASONS_BACK + 1
    seasons = [
        str(season)
        for season, names in sorted(inputs.one.laid.items())
        if season >= first and HOUSE_SPARROW in names
    ]
    if seasons and not _in_europe(record):
        yield Job(
            RIVAL,
            f"House sparrows laid in it in {format_list(seasons)}: they take boxes and nests of "
            "other birds. Move it away from buildings, or give it a hole that only smaller birds "
            "pass (from memory).",
        )
    elif taken:
        last = int(rows[taken[-1], c.SEASON])
        yield Job(
            RIVAL,
            f"{format_count(len(taken), 'nest', 'nests').capitalize()} in it taken over by another "
            f"bird since {first}, last in {last}: a second box close by may serve both.",
        )


def _in_europe(record: TrailRecord) -> bool:
    """Whether the trail's other species are those of Europe, where house sparrows are at home."""
    guide = record.histories.guide
    return any(
        guide.find(name).regions == ("Europe",)
        for name in record.species()
        if name != HOUSE_SPARROW
    )


def _move(inputs: JobInputs) -> Iterator[Job]:
    lost = _lost_in_a_row(inputs)
    if lost and inputs.one.unguarded is not False:
        yield Job(MOVE, f"Its last {lost} nests were all lost: guard it, or move it.")
    elif inputs.unused is not None:
        about = {why.about for why in inputs.unused.likely}
        if "habitat" in about or ("spacing" in about and not inputs.unused.may_serve):
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
    _rivals,
    _move,
    _close,
)
