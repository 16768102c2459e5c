"""The plain way to date attempts: the same enumeration in plain Python loops.

Run with NUMBA_DISABLE_JIT=1: `python -m tests.bench.plain_dating GIVEN RESULT`.
"""

from __future__ import annotations

import pickle
import sys
import time
from pathlib import Path

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.dating.summing import date_all


def main(given: str, result: str) -> None:
    evidence, tables, attempts = pickle.loads(Path(given).read_bytes())
    best = np.full((attempts, t.N_EVENTS), c.MISSING, np.int64)
    ends = np.full((attempts, t.N_EVENTS, 4), np.nan)
    sums = np.zeros((attempts, t.N_SUMS))
    begun = time.perf_counter()
    frames = evidence.frames[:attempts]
    date_all(evidence.visits, evidence.starts, frames, tables, (best, ends, sums))
    took_s = time.perf_counter() - begun
    Path(result).write_bytes(pickle.dumps((took_s, best)))


if __name__ == "__main__":
    main(*sys.argv[1:])
