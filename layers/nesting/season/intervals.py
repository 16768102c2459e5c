"""The times between two looks at a nest, and whether it was lost in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Intervals:
    """Times between two looks at a nest with eggs or young, sorted by nest and day.

    Attributes
    ----------
    nest
        Position of the attempt in the table.
    start_day
        Days since 1970-01-01.
    egg_days, young_days
        How long it lasted, parted at hatching; their sum is at least 1.
    lost
        The nest was lost somewhere in it.
    """

    nest: NDArray[np.int64]
    start_day: NDArray[np.int64]
    egg_days: NDArray[np.int64]
    young_days: NDArray[np.int64]
    lost: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.nest)

    @property
    def days(self) -> NDArray[np.int64]:
        return self.egg_days + self.young_days

    @classmethod
    def none(cls) -> Intervals:
        """No interval."""
        nothing = np.zeros(0, np.int64)
        return cls(nothing, nothing, nothing, nothing, nothing > 0)

    def take(self, keep: NDArray[Any]) -> Intervals:
        """The intervals that a mask or positions choose."""
        return Intervals(**{name: values[keep] for name, values in vars(self).items()})
