"""Histories of a million visits, and what 100,000 boxes are on another day."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import read_histories
from layers.nesting.timeline import timeline
from layers.trail.visits import Visits
from tests.bench.clock import best_of, heading, line
from tests.many_boxes import many_boxes


def plain_way(visits: Visits) -> tuple[float, NDArray[np.int64]]:
    with tempfile.TemporaryDirectory() as folder:
        given, result = Path(folder) / "visits", Path(folder) / "result"
        given.write_bytes(pickle.dumps(visits))
        subprocess.run(
            [sys.executable, "-m", "tests.bench.plain_histories", str(given), str(result)],
            check=True,
            env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        )
        took_s, rows = pickle.loads(result.read_bytes())
    return took_s, rows


def main() -> None:
    heading("Histories: 100,000 boxes, every rule, reasons on demand")
    boxes, visits = many_boxes(100_000, seed=1)
    guide = standard_guide()
    ours_s, histories = best_of(3, lambda: read_histories(visits, guide, season_starts="01-01"))
    plain_s, rows = plain_way(visits)
    fields = [
        c.BOX,
        c.SPECIES,
        c.FIRST_DAY,
        c.ALIVE_DAY,
        c.FATE,
        c.CAUSE,
        c.FLEDGED,
        c.OVER_DAY,
        c.LAPSES,
    ]
    same = np.array_equal(rows[:, fields], histories.rows[:, fields])
    what = f"{len(visits):,} visits into {len(histories):,} attempts"
    line(what, ours_s, plain="pandas groupby-apply", plain_s=plain_s)
    print(f"  same answer: {same}")
    assert same
    box = boxes["box"].iat[50_000]
    own = visits.take(visits.box == 50_000)
    one = Visits.from_columns(
        {name: getattr(own, name) for name in ("day", "eggs", "young", "nest", "species")}
        | {"box": np.zeros(len(own), np.int32)},
        boxes=[box],
        species_names=own.species_names,
        observers=(),
        signs_words=own.signs_words,
        actions_words=own.actions_words,
    )
    one_s, _ = best_of(5, lambda: histories.replaced(box, one))
    line("one visit more: its box alone read anew", one_s)
    dates = date_attempts(histories)
    table_s, table = best_of(
        3, lambda: timeline(histories, dates, season=2026, on=date(2026, 6, 3))
    )
    line("the whole season of every box", table_s)
    day_s, _ = best_of(10, lambda: table.on(date(2026, 6, 3)))
    line("every box on another day", day_s)


if __name__ == "__main__":
    main()
