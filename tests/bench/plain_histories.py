"""The plain way to read histories: a pandas groupby, and each box in plain Python.

Run with NUMBA_DISABLE_JIT=1, so that the very same rules run uncompiled:
`python -m tests.bench.plain_histories VISITS.pickle RESULT.pickle`.
"""

from __future__ import annotations

import pickle
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from layers.nesting import attempt_columns as c
from layers.nesting.guide import standard_guide
from layers.nesting.limits import species_limits
from layers.nesting.reading.attempts import read_box
from layers.nesting.reading.observations import observations_of


def main(visits_file: str, result_file: str) -> None:
    visits = pickle.loads(Path(visits_file).read_bytes()).known_at()
    begun = time.perf_counter()
    limits = species_limits(standard_guide(), visits.species_names)
    frame = pd.DataFrame(observations_of(visits, season_starts="01-01"))
    frame["box"] = visits.box

    def read_group(group: pd.DataFrame) -> list[list[int]]:
        seen: list[Any] = list(group.itertuples(index=False, name="Seen"))
        rows = [[0] * c.N_COLUMNS for _ in range(len(seen) + 1)]
        attempt, stage = [-1] * len(seen), [-1] * len(seen)
        box = int(group["box"].to_numpy()[0])
        found = read_box(box, 0, len(seen), seen, limits, rows, attempt, stage)
        return rows[:found]

    groups = frame.groupby("box", sort=True)[list(frame.columns)].apply(read_group)
    took_s = time.perf_counter() - begun
    rows = np.array([row for group in groups for row in group], np.int64)
    Path(result_file).write_bytes(pickle.dumps((took_s, rows)))


if __name__ == "__main__":
    main(*sys.argv[1:])
