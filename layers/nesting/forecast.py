"""What comes next in a nest under way, as days with their chance.

All holds for the case that the nest goes on, with how likely that is.
Figures come from the guide; one that rests on memory alone is marked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dated, Dates, posterior
from layers.nesting.dating.terms import COMPLETE, FLEDGE, HATCH
from layers.nesting.guide import Span, Species
from layers.nesting.histories import Histories
from layers.trail.coding import day_number, day_of
from layers.words import format_chance, format_days

CLUTCH_COMPLETE = "clutch complete"
HATCHING = "hatching"
BANDING = "banding"
CLOSED = "box stays closed"
FLEDGING = "fledging"
CHECK = "check and clean"
KINDS = (CLUTCH_COMPLETE, HATCHING, BANDING, CLOSED, FLEDGING, CHECK)
"""What may come, in the order in which it does."""

# Days on which fewer than one nest in twenty has young of an age to be banded are not worth
# a walk (our own choice, no source).
_LEAST_CHANCE = 0.05

MEMORY_NOTE = "The figure behind it is from memory: set your own in the trail's guide."
_BANDERS = (
    "For licensed banders only: marking wild birds needs a permit in most places; "
    "check yours and your local law."
)


@dataclass(frozen=True)
class Forecast:
    """One thing that comes next.

    Attributes
    ----------
    kind
        One of `KINDS`.
    first, last
        Whole days, both included; `last` is None where it holds from `first` on.
    best
        The likeliest day, where it is one event.
    chance
        If the nest goes on: of an event, that it falls within the days; of banding, that
        the young are of that age on the best of the days; of closed days, that the young
        neither come to that age before them nor leave after them; of the check, that
        the young have left by `first`.
    goes_on
        Chance that the nest comes to it at all.
    memory
        Whether a figure behind it rests on memory alone.
    sources
        Keys of `Guide.sources`.
    text
        A sentence or more, with its cautions.
    """

    kind: str
    first: date
    last: date | None
    best: date | None
    chance: float
    goes_on: float
    memory: bool
    sources: tuple[str, ...]
    text: str


def species_of(histories: Histories, attempt: int) -> Species:
    """The guide's species of an attempt; the wide one where it is not recorded."""
    return histories.guide_species[int(histories.rows[attempt, c.SPECIES])]


def banding_days(
    histories: Histories, dates: Dates, attempt: int, *, on: date
) -> tuple[date, date] | None:
    """First and last day on which an attempt's young can be banded, by licensed banders only.

    None where `on` is not among them, the guide has no age for it before the box must stay
    closed, nothing is dated to hatch, or a visit contradicts the days.

    Looked for only where they can be: of 4,800 nests under way 240 are weighed, with the
    same answers.
    """
    species, found = species_of(histories, attempt), dates.of(attempt)
    ages, hatch = _banding_ages(species), found.hatch
    if ages is None or hatch is None or found.doubtful is not None:
        return None
    # A day of the window holds more of the weight than is on either side of the 95 %
    # interval, so most other days are given without weighing the attempt anew.
    earliest, latest = hatch.days_95
    if not earliest + timedelta(days=ages[0]) <= on <= latest + timedelta(days=ages[1]):
        return None
    weights = posterior(histories, dates, attempt)
    if weights is None:
        return None
    held = _held(weights.chances[HATCH], weights.first_day)
    window = _window(species, found.closed, held)
    return window[:2] if window is not None and window[0] <= on <= window[1] else None


def forecast(histories: Histories, dates: Dates, attempt: int, *, on: date) -> list[Forecast]:
    """What comes next in an attempt, in the order of `KINDS`; empty where it is over by `on`.

    Days that lie wholly before `on` are left out. A nest without eggs has nothing to
    come that could be dated.
    """
    (fate,) = histories.fates(on, among=slice(attempt, attempt + 1))
    weights = posterior(histories, dates, attempt) if fate == c.ONGOING else None
    if weights is None:
        return []
    species, found = species_of(histories, attempt), dates.of(attempt)
    record: list[Forecast] = []
    held = {
        event: _held(weights.chances[event], weights.first_day)
        for event in (COMPLETE, HATCH, FLEDGE)
    }
    if found.complete is not None:
        record.append(_event(CLUTCH_COMPLETE, found.complete, held[COMPLETE], species.clutch, 1.0))
    if found.hatch is not None:
        record.append(
            _event(HATCHING, found.hatch, held[HATCH], species.incubation_days, weights.hatched)
        )
        window = None if found.doubtful is not None else _window(species, found.closed, held[HATCH])
        if window is not None:
            record.append(_banding(species, window, weights.hatched))
    closed = found.closed
    if closed is not None:
        record.append(_closed(species, closed, held, weights.fledged))
    if found.fledge is not None:
        span = species.nestling_days
        record.append(_event(FLEDGING, found.fledge, held[FLEDGE], span, weights.fledged))
        first = found.fledge.days_95[1]
        if closed is not None:
            first = max(first, closed[1] + timedelta(days=1))
        record.append(_check(species, first, held[FLEDGE], weights.fledged))
    return [one for one in record if one.last is None or one.last >= on]


class _Held:
    """How much of an event's weight is within days."""

    def __init__(self, first_day: int, shares: NDArray[np.float64]) -> None:
        self._first_day = first_day
        self._up_to = np.concatenate([[0.0], np.cumsum(shares)])

    @property
    def days(self) -> tuple[int, int]:
        """First and last day (since 1970-01-01) beyond which it does not lie."""
        return self._first_day, self._first_day + len(self._up_to) - 2

    def by(self, day: int) -> float:
        """The chance that it has happened by the end of a day (since 1970-01-01)."""
        at = min(max(day - self._first_day + 1, 0), len(self._up_to) - 1)
        return float(self._up_to[at])

    def by_each(self, days: NDArray[np.int64]) -> NDArray[np.float64]:
        at = np.clip(days - self._first_day + 1, 0, len(self._up_to) - 1)
        up_to: NDArray[np.float64] = self._up_to[at]
        return up_to

    def within(self, first: date, last: date) -> float:
        return self.by(day_number(last)) - self.by(day_number(first) - 1)


def _held(weights: NDArray[np.float64], first_day: int) -> _Held:
    total = weights.sum()
    return _Held(first_day, weights / total if total > 0 else weights)


def memory_mark(span: Span | None) -> str:
    """What follows a sentence whose figure rests on memory alone; else nothing."""
    return " (A figure behind it is from memory.)" if span is not None and span.memory else ""


def _with_memory(text: str, span: Span) -> str:
    return f"{text} {MEMORY_NOTE}" if span.memory else text


def _event(kind: str, dated: Dated, held: _Held, span: Span, goes_on: float) -> Forecast:
    first, last = dated.days_80
    chance = held.within(first, last)
    text = f"{kind.capitalize()}: {format_days(first, last)} ({format_chance(chance)} chance)"
    text += "." if first == last else f", most likely {format_days(dated.best, dated.best)}."
    return Forecast(
        kind, first, last, dated.best, chance, goes_on, span.memory, span.sources,
        _with_memory(text, span),
    )  # fmt: skip


def _banding(species: Species, window: tuple[date, date, float], goes_on: float) -> Forecast:
    span, ages = species.banding_days, _banding_ages(species)
    assert span is not None
    assert ages is not None
    first, last, chance = window
    low, high = ages
    age = f"{low}" if low == high else f"{low} to {high}"
    text = (
        f"Young about {age} days old: {format_days(first, last)} ({chance:.0%} chance). {_BANDERS}"
    )
    return Forecast(
        BANDING, first, last, None, chance, goes_on, span.memory, span.sources,
        _with_memory(text, span),
    )  # fmt: skip


def _banding_ages(species: Species) -> tuple[int, int] | None:
    """Youngest and oldest age at which young can be banded and the box need not stay closed;
    None where the guide has no such age.
    """
    if species.banding_days is None:
        return None
    low, high = math.floor(species.banding_days.low), math.ceil(species.banding_days.high)
    if species.closed_from_day is not None:
        high = min(high, math.floor(species.closed_from_day.low) - 1)
    return (low, high) if low <= high else None


def _window(
    species: Species, closed: tuple[date, date] | None, held: _Held
) -> tuple[date, date, float] | None:
    """Days on which the young are more likely than not of an age to be banded, and the best
    chance among them; where no day is more likely than not, the best days there are.

    All lie before the days on which the box stays closed. None where the guide has no age
    for it, or no day is likely enough.
    """
    ages = _banding_ages(species)
    if ages is None:
        return None
    low, high = ages
    first, last = held.days
    end = last + high + 1
    if closed is not None:
        end = min(end, day_number(closed[0]))
    days = np.arange(first + low, end)
    chances = held.by_each(days - low) - held.by_each(days - high - 1)
    most = float(chances.max(initial=0.0))
    if most < _LEAST_CHANCE:
        return None
    good = days[chances >= min(0.5, most)]
    return day_of(good[0]), day_of(good[-1]), most


def _closed(
    species: Species, days: tuple[date, date], held: dict[int, _Held], goes_on: float
) -> Forecast:
    span = species.closed_from_day
    assert span is not None
    first, last = days
    age = math.floor(span.low)
    early = held[HATCH].by(day_number(first) - age - 1)
    late = 1 - held[FLEDGE].by(day_number(last) + 1)
    text = (
        f"Leave the box closed {format_days(first, last)}: young of about {age} days and more may "
        "leave too early. Watch from a distance; do not open."
    )
    chance = max(1 - early - late, 0.0)
    return Forecast(
        CLOSED, first, last, None, chance, goes_on, span.memory, span.sources,
        _with_memory(text, span),
    )  # fmt: skip


def _check(species: Species, first: date, held: _Held, goes_on: float) -> Forecast:
    span = species.nestling_days
    text = (
        f"From {format_days(first, first)} on the young should have left: the box can be checked, "
        "and cleaned once it is seen to be empty. Check your local law first: a nest in use "
        "is protected in most places."
    )
    return Forecast(
        CHECK, first, None, None, held.by(day_number(first)), goes_on, span.memory, span.sources,
        _with_memory(text, span),
    )  # fmt: skip
