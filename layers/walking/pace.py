"""Walking speeds: minutes for a stretch of path from its length and its rise.

A pace is a small value that satisfies `Pace`; `PACES` holds the ones that have a name.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layers.errors import BadValue
from layers.trail.words import nearest_words

Floats = NDArray[np.float64]

STEEPEST = 0.7
"""Slopes are held within this (35 degrees) on either side: what is steeper in a path's
heights is an error of measurement. Chosen by trial on simulated GPS heights."""

# Tobler 1993, Three presentations on geographical analysis and modeling, NCGIA Technical
# Report 93-1: walking off the path goes at 0.6 times the speed on it.
OFF_PATH_FACTOR = 0.6


class Pace(Protocol):
    """How fast a person walks."""

    @property
    def name(self) -> str:
        """What a request calls it."""
        ...

    def minutes(self, run_m: ArrayLike, rise_m: ArrayLike) -> Floats:
        """Minutes for each stretch.

        Parameters
        ----------
        run_m
            Horizontal length of each stretch in metres.
        rise_m
            Height at its end less height at its start, in metres; NaN where heights
            are not known, which counts as level.
        """
        ...


def _stretches(run_m: ArrayLike, rise_m: ArrayLike) -> tuple[Floats, Floats]:
    """Runs and rises as arrays, unknown rises 0, slopes held within `STEEPEST`."""
    run, rise = np.asarray(run_m, np.float64), np.asarray(rise_m, np.float64)
    return run, np.clip(np.nan_to_num(rise, nan=0.0), -STEEPEST * run, STEEPEST * run)


def tobler_kmh(slope: ArrayLike) -> Floats:
    """Tobler's hiking speed in kilometres an hour, `6 exp(-3.5 |slope + 0.05|)`.

    `slope` is rise over run, positive uphill. Source: Tobler 1993, Three presentations
    on geographical analysis and modeling, NCGIA Technical Report 93-1.

    Examples
    --------
    >>> float(tobler_kmh(-0.05))
    6.0
    """
    speed: Floats = 6.0 * np.exp(-3.5 * np.abs(np.asarray(slope, np.float64) + 0.05))
    return speed


@dataclass(frozen=True)
class Tobler:
    """A share of Tobler's hiking speed: fastest on a gentle descent, 5.04 km/h on the level."""

    share: float = 1.0
    name: str = "normal"

    def minutes(self, run_m: ArrayLike, rise_m: ArrayLike) -> Floats:
        run, rise = _stretches(run_m, rise_m)
        slope = np.divide(rise, run, out=np.zeros_like(run), where=run > 0.0)
        return run * 0.06 / (self.share * tobler_kmh(slope))


RELAXED, NORMAL, BRISK = Tobler(0.8, "relaxed"), Tobler(), Tobler(1.2, "brisk")
"""4.0, 5.0 and 6.0 km/h on the level (common practice, no source); slopes as in Tobler 1993."""


@dataclass(frozen=True)
class Naismith:
    """Naismith's rule: 5 km/h and an hour for each 600 m of ascent.

    Source: Naismith 1892, Scottish Mountaineering Club Journal 2:136, in its usual metric form.
    """

    name: str = "naismith"

    def minutes(self, run_m: ArrayLike, rise_m: ArrayLike) -> Floats:
        run, rise = _stretches(run_m, rise_m)
        return run * 60.0 / 5000.0 + np.maximum(rise, 0.0) * 60.0 / 600.0


@dataclass(frozen=True)
class Langmuir:
    """Langmuir's corrections: gentle descents save time, steep ones cost it.

    In seconds a metre: 0.72 along, 6 up, -2 down between 5 and 12 degrees, +2 down
    where it is steeper. Source: Langmuir's rule as given by Irtenkauf 2014, Penn State
    capstone; the last figure from 10 minutes for each 300 m.
    """

    name: str = "langmuir"

    def minutes(self, run_m: ArrayLike, rise_m: ArrayLike) -> Floats:
        run, rise = _stretches(run_m, rise_m)
        angle_deg = np.degrees(np.arctan2(rise, run))
        down_s = np.where(angle_deg < -12.0, 2.0, np.where(angle_deg <= -5.0, -2.0, 0.0))
        seconds = 0.72 * run + 6.0 * np.maximum(rise, 0.0) - down_s * np.minimum(rise, 0.0)
        minutes: Floats = seconds / 60.0
        return minutes


@dataclass(frozen=True)
class Flat:
    """One speed whatever the slope.

    Raises
    ------
    BadValue
        The speed is not between 0.5 and 15 km/h.
    """

    kmh: float = 5.0

    @property
    def name(self) -> str:
        return f"{self.kmh:g} km/h"

    def __post_init__(self) -> None:
        if not 0.5 <= self.kmh <= 15.0:
            raise BadValue("a walking speed from 0.5 to 15 km/h", repr(self.kmh), column="pace")

    def minutes(self, run_m: ArrayLike, rise_m: ArrayLike) -> Floats:
        del rise_m
        minutes: Floats = np.asarray(run_m, np.float64) * (0.06 / self.kmh)
        return minutes


PACES: Mapping[str, Pace] = MappingProxyType(
    {pace.name: pace for pace in (RELAXED, NORMAL, BRISK, Naismith(), Langmuir())}
)
"""The walking speeds that have a name."""


def pace_of(text: str) -> Pace:
    """The pace that a text means: a name of `PACES`, or one speed in km/h whatever the slope.

    Raises
    ------
    BadValue
        It is neither; the message names the nearest pace.

    Examples
    --------
    >>> pace_of("4.5")
    Flat(kmh=4.5)
    """
    cleaned = text.strip().casefold()
    if cleaned in PACES:
        return PACES[cleaned]
    try:
        kmh = float(cleaned.removesuffix("km/h"))
    except ValueError:
        kmh = math.nan
    if math.isnan(kmh):
        close = nearest_words(cleaned, PACES)
        hint = f" (nearest: {', '.join(close)})" if close else ""
        raise BadValue(
            f"{', '.join(PACES)} or a walking speed in km/h{hint}", repr(text), column="pace"
        )
    return Flat(kmh)


def off_path_minutes(pace: Pace, length_m: ArrayLike) -> Floats:
    """Minutes for legs off the path, taken as level ground."""
    length = np.asarray(length_m, np.float64)
    return pace.minutes(length, np.zeros_like(length)) / OFF_PATH_FACTOR
