"""What every measure gives: the number, how sure it is, and where it comes from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from layers.nesting.season.doubts import Doubt, NoData, OnlyBounds, format_cases

Unit = Literal["share", "change", "daily rate", "count", "per year", "per day"]

LEVEL = 0.95
"""Confidence of every interval."""

TAIL = (1 - LEVEL) / 2

NORMAL_95 = 1.959963984540054
"""Standard errors that a normal interval of 95 % reaches to either side."""


@dataclass(frozen=True)
class About:
    """A method: its name, what it takes for granted, when to leave it, where it comes from."""

    method: str
    assumptions: tuple[str, ...]
    not_when: tuple[str, ...]
    reference: str


@dataclass(frozen=True)
class Interval:
    """A confidence interval; `method` says how it was worked out."""

    low: float
    high: float
    method: str
    level: float = LEVEL


@dataclass(frozen=True)
class Measure:
    """One number of the season.

    Attributes
    ----------
    estimate
        None where the data give no answer; `warnings` then says why.
    interval, standard_error
        None where there is none, as with a single case.
    n, counted
        How many cases the number rests on, and of what ("nests").
    warnings
        Doubts about this number.
    left_out
        Reason -> how many attempts were left out for it.
    parts
        The figures it was worked out from, by name.
    """

    name: str
    unit: Unit
    estimate: float | None
    interval: Interval | None
    standard_error: float | None
    n: int
    counted: str
    about: About
    warnings: tuple[Doubt, ...] = ()
    left_out: Mapping[str, int] = field(default_factory=dict)
    parts: Mapping[str, float] = field(default_factory=dict)

    def sentence(self) -> str:
        """The number in words, never without what it rests on.

        Examples
        --------
        >>> about = About("count", (), (), "none")
        >>> Measure("nest success", "share", 0.5, None, None, 4, "nests", about).sentence()
        'Nest success: 50 % (4 nests).'
        """
        name = self.name[:1].upper() + self.name[1:]
        rests_on = format_cases(self.n, self.counted)
        if self.estimate is None:
            why = next(
                (str(w) for w in self.warnings if isinstance(w, NoData | OnlyBounds)), "No answer."
            )
            return f"{name}: {why[:1].lower()}{why[1:-1]} ({rests_on})."
        if self.interval is not None:
            low, high = (
                format_value(end, self.unit) for end in (self.interval.low, self.interval.high)
            )
            rests_on += f"; {100 * self.interval.level:.0f} % interval {low} to {high}"
        return f"{name}: {format_value(self.estimate, self.unit)} ({rests_on})."


def format_value(value: float, unit: Unit) -> str:
    """A value as people read it: a share as per cent, a daily rate to four places."""
    if unit == "share":
        return f"{100 * value:.0f} %"
    if unit == "change":
        return f"{value:+.0%}".replace("%", " %")
    if unit in ("daily rate", "per day"):
        return f"{value:.4f}"
    if unit == "per year":
        # No sign before a change that rounds to none.
        return f"{value:+.2f}" if round(value, 2) else "0.00"
    return f"{value:.1f}"


@dataclass(frozen=True)
class Quantity:
    """What a measure estimates: all of it but the numbers.

    Attributes
    ----------
    counted
        The cases that it rests on ("nests watched").
    needs
        What there must be one of for an answer.
    """

    name: str
    unit: Unit
    counted: str
    about: About
    needs: str

    def without_answer(
        self,
        left_out: Mapping[str, int] | None = None,
        *,
        n: int = 0,
        warnings: Sequence[Doubt] = (),
    ) -> Measure:
        """The measure without an estimate."""
        return self.measured(
            None, n=n, warnings=(NoData(self.needs), *warnings), left_out=left_out or {}
        )

    def measured(
        self,
        estimate: float | None,
        *,
        n: int,
        interval: Interval | None = None,
        standard_error: float | None = None,
        warnings: Sequence[Doubt] = (),
        left_out: Mapping[str, int] | None = None,
        parts: Mapping[str, float] | None = None,
    ) -> Measure:
        """The measure with its numbers."""
        return Measure(
            self.name,
            self.unit,
            estimate,
            interval,
            standard_error,
            n,
            self.counted,
            self.about,
            tuple(warnings),
            left_out or {},
            parts or {},
        )


def exact_binomial(successes: float, n: float) -> Interval:
    """The exact (Clopper-Pearson) interval of a share.

    `n` above 0. Fractions are taken as they come: a box that stood half the season
    counts as half a case, and the interval is then an approximation.

    References
    ----------
    Clopper & Pearson 1934, Biometrika 26:404-413.

    Examples
    --------
    >>> interval = exact_binomial(0, 10)
    >>> interval.low, round(interval.high, 4)
    (0.0, 0.3085)
    """
    from scipy.special import betaincinv  # noqa: PLC0415 - slow to load, and seldom needed

    failures = n - successes
    low = betaincinv(successes, failures + 1, TAIL) if successes > 0 else 0.0
    high = betaincinv(successes + 1, failures, 1 - TAIL) if successes < n else 1.0
    return Interval(float(low), float(high), "exact binomial")
