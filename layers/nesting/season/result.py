"""What every measure gives: the number, how sure it is, and where it comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from layers.nesting.season.doubts import Doubt, NoData, said_number

Unit = Literal["share", "daily rate", "count", "per year", "per day"]

LEVEL = 0.95
"""Confidence of every interval where none is asked for."""


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
        if self.estimate is None:
            why = next((str(w) for w in self.warnings if isinstance(w, NoData)), "No answer.")
            return f"{name}: {why[:1].lower()}{why[1:-1]} ({said_number(self.n, self.counted)})."
        rests_on = said_number(self.n, self.counted)
        if self.interval is not None:
            low, high = said(self.interval.low, self.unit), said(self.interval.high, self.unit)
            rests_on += f"; {100 * self.interval.level:.0f} % interval {low} to {high}"
        return f"{name}: {said(self.estimate, self.unit)} ({rests_on})."


def said(value: float, unit: Unit) -> str:
    """A value as people read it: a share as per cent, a daily rate to four places."""
    if unit == "share":
        return f"{100 * value:.0f} %"
    if unit in ("daily rate", "per day"):
        return f"{value:.4f}"
    if unit == "per year":
        # No sign before a change that rounds to none.
        return f"{value:+.2f}" if round(value, 2) else "0.00"
    return f"{value:.1f}"


def no_answer(
    name: str,
    *,
    unit: Unit,
    counted: str,
    about: About,
    wanted: str,
    left_out: Mapping[str, int] | None = None,
) -> Measure:
    """The measure without an estimate: there is no `wanted` to work it out from."""
    return Measure(
        name=name,
        unit=unit,
        estimate=None,
        interval=None,
        standard_error=None,
        n=0,
        counted=counted,
        about=about,
        warnings=(NoData(wanted),),
        left_out=left_out or {},
    )
