"""Doubts about a number, as types: they travel with the result to the page and the JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

_ONE = {
    "attempts": "attempt",
    "boxes": "box",
    "losses": "loss",
    "nest-days": "nest-day",
    "nests": "nest",
    "years": "year",
}


def format_cases(n: int, counted: str) -> str:
    """A number and what it counts: `12 nests watched`, `1 nest watched`."""
    first, _, rest = counted.partition(" ")
    one = _ONE.get(first, first) if n == 1 else first
    return f"{n} {one} {rest}".rstrip()


@dataclass(frozen=True)
class Doubt:
    """Why a reader should be careful with a number; `str` gives it as one sentence.

    `TEXT` is that sentence, with the values of the doubt in braces; `{cases}` is `n` with what
    it counts.
    """

    TEXT: ClassVar[str]

    def __str__(self) -> str:
        values = vars(self)
        if "counted" in values:
            values = values | {"cases": format_cases(values["n"], values["counted"])}
        return self.TEXT.format(**values).replace("%", " %")


@dataclass(frozen=True)
class NoData(Doubt):
    """There is nothing to work the number out from, so there is none."""

    TEXT = "No answer: there is no {wanted}."
    wanted: str


@dataclass(frozen=True)
class SmallSample(Doubt):
    """Fewer cases than the number needs to be relied on."""

    TEXT = "Only {cases}; with fewer than {wanted} the number is largely chance."
    n: int
    wanted: int
    counted: str


def few(n: int, wanted: int, counted: str) -> list[Doubt]:
    """The doubt about a number that rests on fewer cases than wanted; else none."""
    return [SmallSample(n, wanted, counted)] if n < wanted else []


@dataclass(frozen=True)
class NoLosses(Doubt):
    """Not one was lost, so the rate of loss is only known to be small."""

    TEXT = (
        "None of {cases} was lost: an estimate of full survival is an upper end, no certainty, "
        "and has no standard error."
    )
    n: int
    counted: str


@dataclass(frozen=True)
class AllLost(Doubt):
    """No interval was survived."""

    TEXT = (
        "All of {cases} were lost before a second visit found them alive: the estimate is a lower "
        "end, no certainty."
    )
    n: int
    counted: str


@dataclass(frozen=True)
class UncertainFates(Doubt):
    """Nests whose outcome is unknown."""

    TEXT = (
        "The outcome of {n} of {of} nests is unknown; if they fared worse or better than the "
        "others, the number is off."
    )
    n: int
    of: int


@dataclass(frozen=True)
class KeeperLosses(Doubt):
    """Nests that the keeper took out while they were alive."""

    TEXT = "{cases} taken out alive by the keeper; not counted as lost."
    n: int
    counted: str = "nests"


@dataclass(frozen=True)
class LongIntervals(Doubt):
    """Losses whose day is known only within a long time."""

    TEXT = (
        "{n} of {of} losses fell in intervals of more than {longer_than_days} days, where a loss "
        "is earlier than halfway on average: prefer the likelihood, or the rule that puts losses "
        "earlier."
    )
    n: int
    of: int
    longer_than_days: int


@dataclass(frozen=True)
class OnlyBounds(Doubt):
    """So many unknown outcomes that a share of the known ones would say little."""

    TEXT = (
        "The outcome of {n} of {of} nests is unknown, too many for a share of the others: between "
        "{low:.0%} (had all of these been lost) and {high:.0%} (had all fledged young) were "
        "successful."
    )
    n: int
    of: int
    low: float
    high: float


@dataclass(frozen=True)
class GroupLeftOut(Doubt):
    """A group that the comparison could not use."""

    TEXT = "{group} is left out of the comparison: {reason}."
    group: str
    reason: str


@dataclass(frozen=True)
class FewLosses(Doubt):
    """Too few losses for so many coefficients."""

    TEXT = (
        "{losses} losses for {coefficients} coefficients: with fewer than ten each, they may be "
        "far off."
    )
    losses: int
    coefficients: int


@dataclass(frozen=True)
class Separation(Doubt):
    """A coefficient without a finite estimate."""

    TEXT = (
        "The data put no bound on '{coefficient}': a group without losses, or without "
        "survivors. Its coefficient and error mean nothing."
    )
    coefficient: str


@dataclass(frozen=True)
class Aliased(Doubt):
    """A column that repeats those before it."""

    TEXT = (
        "'{coefficient}' cannot be separated from the terms before it (or never varies), and was "
        "left out."
    )
    coefficient: str


@dataclass(frozen=True)
class NotConverged(Doubt):
    """The search for the best coefficients did not settle."""

    TEXT = "The fit did not settle within {steps} steps; do not use it."
    steps: int


@dataclass(frozen=True)
class FewYears(Doubt):
    """Too few years for a trend."""

    TEXT = "{cases} with a number; a trend needs at least three, and more to be of use."
    n: int
    counted: str = "years"


@dataclass(frozen=True)
class WideDating(Doubt):
    """First eggs that the visits date only roughly."""

    TEXT = (
        "{n} of {of} first eggs are known only within more than {longer_than_days} days, and "
        "weigh little."
    )
    n: int
    of: int
    longer_than_days: int
