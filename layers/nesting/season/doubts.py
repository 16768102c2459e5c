"""Doubts about a number, as types: they travel with the result to the page and the JSON."""

from __future__ import annotations

from dataclasses import dataclass

_ONE = {
    "attempts": "attempt",
    "boxes": "box",
    "losses": "loss",
    "nest-days": "nest-day",
    "nests": "nest",
    "years": "year",
}


def said_number(n: int, counted: str) -> str:
    """A number and what it counts: `12 nests watched`, `1 nest watched`."""
    first, _, rest = counted.partition(" ")
    one = _ONE.get(first, first) if n == 1 else first
    return f"{n} {one} {rest}".rstrip()


@dataclass(frozen=True)
class Doubt:
    """Why a reader should be careful with a number; `str` gives it as one sentence."""


@dataclass(frozen=True)
class NoData(Doubt):
    """There is nothing to work the number out from, so there is none."""

    wanted: str

    def __str__(self) -> str:
        return f"No answer: there is no {self.wanted}."


@dataclass(frozen=True)
class SmallSample(Doubt):
    """Fewer cases than the number needs to be relied on."""

    n: int
    wanted: int
    counted: str

    def __str__(self) -> str:
        return (
            f"Only {said_number(self.n, self.counted)}; with fewer than {self.wanted} chance rules."
        )


@dataclass(frozen=True)
class NoLosses(Doubt):
    """Not one was lost, so the rate of loss is only known to be small."""

    n: int
    counted: str

    def __str__(self) -> str:
        return (
            f"None of {said_number(self.n, self.counted)} was lost: an estimate of full "
            "survival is an upper end, no certainty, and has no standard error."
        )


@dataclass(frozen=True)
class AllLost(Doubt):
    """No interval was survived."""

    n: int
    counted: str

    def __str__(self) -> str:
        return (
            f"All of {said_number(self.n, self.counted)} were lost before a second look found "
            "them alive: the estimate is a lower end, no certainty."
        )


@dataclass(frozen=True)
class UncertainFates(Doubt):
    """Nests whose end nobody saw."""

    n: int
    of: int

    def __str__(self) -> str:
        return (
            f"{self.n} of {self.of} nests ended without anybody knowing how; if they fared "
            "worse or better than the others, the number is off."
        )


@dataclass(frozen=True)
class KeeperLosses(Doubt):
    """Nests that the keeper took out while they were alive."""

    n: int

    def __str__(self) -> str:
        nests = "nest was" if self.n == 1 else "nests were"
        return f"{self.n} {nests} taken out by the keeper; not counted as lost."


@dataclass(frozen=True)
class LongIntervals(Doubt):
    """Losses whose day is known only within a long time."""

    n: int
    of: int
    longer_than_days: int

    def __str__(self) -> str:
        return (
            f"{self.n} of {self.of} losses fell in intervals of more than "
            f"{self.longer_than_days} days, where a loss is earlier than halfway on average: "
            "prefer the likelihood, or the rule that puts losses earlier."
        )


@dataclass(frozen=True)
class UncountedYoung(Doubt):
    """Nests that fledged, but nobody counted how many; the failed ones all count as 0."""

    n: int
    of: int

    def __str__(self) -> str:
        return (
            f"In {self.n} of {self.of} nests that fledged the young were not counted late "
            "enough; as every failed nest counts as none, the mean is too low."
        )


@dataclass(frozen=True)
class GroupLeftOut(Doubt):
    """A group that the comparison could not use."""

    group: str
    why: str

    def __str__(self) -> str:
        return f"{self.group} is left out of the comparison: {self.why}."


@dataclass(frozen=True)
class FewLosses(Doubt):
    """Too few losses for so many coefficients."""

    losses: int
    coefficients: int

    def __str__(self) -> str:
        return (
            f"{self.losses} losses for {self.coefficients} coefficients: with fewer than ten "
            "each, they may be far off."
        )


@dataclass(frozen=True)
class Separation(Doubt):
    """A coefficient without a finite estimate."""

    coefficient: str

    def __str__(self) -> str:
        return (
            f"The data put no bound on '{self.coefficient}': a group without losses, or without "
            "survivors. Its coefficient and error mean nothing."
        )


@dataclass(frozen=True)
class Aliased(Doubt):
    """A column that says the same as those before it."""

    coefficient: str

    def __str__(self) -> str:
        return (
            f"'{self.coefficient}' cannot be told from the terms before it (or never varies), "
            "and was left out."
        )


@dataclass(frozen=True)
class NotConverged(Doubt):
    """The search for the best coefficients did not settle."""

    steps: int

    def __str__(self) -> str:
        return f"The fit did not settle within {self.steps} steps; do not use it."


@dataclass(frozen=True)
class FewClusters(Doubt):
    """Too few boxes for an error that allows for boxes being alike."""

    n: int
    wanted: int

    def __str__(self) -> str:
        return (
            f"Only {self.n} boxes: an error worked out between boxes needs about {self.wanted} "
            "and is too small with fewer."
        )


@dataclass(frozen=True)
class FewYears(Doubt):
    """Too few years for a trend."""

    n: int

    def __str__(self) -> str:
        years = "year has" if self.n == 1 else "years have"
        return f"{self.n} {years} a number; a trend needs at least three, and more to be of use."


@dataclass(frozen=True)
class WideDating(Doubt):
    """First eggs that the visits date only roughly."""

    n: int
    of: int
    wider_than_days: int

    def __str__(self) -> str:
        return (
            f"{self.n} of {self.of} first eggs are known only within more than "
            f"{self.wider_than_days} days, and weigh little."
        )
