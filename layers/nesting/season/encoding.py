"""Terms of a model as columns of numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.nesting.season.covariates import TERMS, Term
from layers.trail.words import nearest_hint

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Encoder:
    """One term's columns, as learnt from the data.

    Attributes
    ----------
    levels
        Of a factor: its words, the first being what the others are held against.
    centre
        Of a number: its mean, which is taken off.
    """

    name: str
    term: Term
    levels: tuple[str, ...]
    centre: float

    @property
    def labels(self) -> tuple[str, ...]:
        """The name of each column."""
        if self.term.kind == "factor":
            return tuple(f"{self.name}: {level}" for level in self.levels[1:])
        if self.term.kind == "circle":
            return (f"{self.name}: north", f"{self.name}: east")
        return (self.name,)

    def columns(self, values: NDArray[Any]) -> Floats:
        """The term's columns for some values; shape (values, labels)."""
        if self.term.kind == "factor":
            others = np.array(self.levels[1:], object)
            return np.array(values[:, None] == others, float).reshape(len(values), len(others))
        numbers = values.astype(float)
        if self.term.kind == "circle":
            angle = np.deg2rad(numbers)
            return np.column_stack([np.cos(angle), np.sin(angle)])
        moved = numbers - self.centre
        return np.array(moved**2 if self.term.kind == "square" else moved, float)[:, None]

    def one(self, value: str | float | None) -> Floats:
        """The columns of a single value; None = the first level, or the mean.

        Raises
        ------
        BadValue
            A level that the model does not know, or a word where a number belongs.
        """
        if self.term.kind == "factor":
            level = self.levels[0] if value is None else value
            if level not in self.levels:
                known = ", ".join(self.levels)
                raise BadValue(f"one of {known}", repr(value), column=self.name)
            return self.columns(np.array([level], object)).ravel()
        if value is None:
            # No way to face is the mean of all: neither north nor east.
            nothing: Floats = np.zeros(len(self.labels))
            return nothing
        if isinstance(value, str):
            raise BadValue("a number", repr(value), column=self.name)
        return self.columns(np.array([float(value)])).ravel()


def encoder(name: str, values: NDArray[Any]) -> Encoder:
    """How to make columns of a term; the commonest level of a factor comes first."""
    term = TERMS[name]
    if term.kind == "factor":
        levels, times = np.unique(values.astype(str), return_counts=True)
        # The largest group first: differences from it are known best.
        order = np.lexsort((levels, -times))
        return Encoder(name, term, tuple(str(levels[i]) for i in order), 0.0)
    return Encoder(name, term, (), float(values.astype(float).mean()) if len(values) else 0.0)


def known(values: NDArray[Any]) -> NDArray[np.bool_]:
    """Where a value is known."""
    if values.dtype == object:
        return np.array([value is not None for value in values.tolist()], bool)
    return np.array(~np.isnan(values), bool)


def expect_terms(names: Sequence[str]) -> None:
    """Raise `BadValue` for the first name that is no term."""
    for name in names:
        if name not in TERMS:
            expected = f"one of {', '.join(TERMS)}{nearest_hint(name, TERMS)}"
            raise BadValue(expected, repr(name), column="terms")
