"""How well attempts are dated, against simulated nests, and how fast."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from data_demo.simulate import deal_cases, simulate_season
from layers.nesting.dating import EVENTS, date_attempts, redated
from layers.nesting.dating.dates import Dates
from layers.nesting.dating.evidence import evidence_of
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from tests.bench.clock import best_of, heading, line
from tests.many_boxes import many_boxes
from tests.nesting.dating.scoring import DateScore, brier, reliability, score_dates

BOXES = [f"B{i:04d}" for i in range(1200)]
SEEDS = (81, 82, 83)
ATTEMPTS = 10_000
PLAIN_ATTEMPTS = 100


def scored(interval_days: int, *, hard: bool) -> DateScore:
    total = DateScore()
    for seed in SEEDS:
        cases = deal_cases(BOXES, seed=seed) if hard else None
        season = simulate_season(
            BOXES, year=2025, seed=seed, interval_days=interval_days, cases=cases
        )
        score_dates(season, BOXES, total)
    return total


def coverage_table(total: DateScore) -> None:
    print(
        f"    {'':<16}{'nests':>7}{'in 80 %':>9}{'in 95 %':>9}{'whole days':>14}"
        f"{'mean error':>12}{'median':>8}"
    )
    for event, cover in total.events.items():
        whole = f"{np.mean(cover.days_80):.1%} {np.mean(cover.days_95):.1%}"
        print(
            f"    {EVENTS[event]:<16}{len(cover.errors):>7,}{np.mean(cover.within_80):>9.1%}"
            f"{np.mean(cover.within_95):>9.1%}{whole:>14}"
            f"{np.mean(np.abs(cover.errors)):>10.2f} d{cover.median_error():>6.1f} d"
        )
    ours, middle = np.array(total.beside_midpoint), np.array(total.midpoint)
    print(
        f"    first egg, absolute error: median {np.median(ours):.1f} d, mean {ours.mean():.2f} d; "
        f"midpoint rule on the same {len(middle):,} nests: median {np.median(middle):.1f} d, mean "
        f"{middle.mean():.2f} d; mean lower by {1 - ours.mean() / middle.mean():.0%}"
    )


def fate_table(total: DateScore) -> None:
    told = [("all nests", total.fates), ("end not told", total.open_fates)]
    if len(total.fates_by_chance) < len(total.fates):
        told.append(("fates left to chance", total.fates_by_chance))
    for what, fates in told:
        print(f"    chance of fledging, {what}: {len(fates):,}, Brier score {brier(fates):.4f}")
        for chance, came, nests in reliability(fates):
            print(f"      said {chance:>6.1%}   came {came:>6.1%}   of {nests:,}")


def many_attempts() -> Histories:
    _, visits = many_boxes(8_000, seed=1, interval_days=7)
    return read_histories(visits, standard_guide(), season_starts="01-01")


def plain_way(histories: Histories) -> float:
    """Seconds an attempt for the same enumeration in plain Python loops."""
    evidence, dates = evidence_of(histories), date_attempts(histories)
    with tempfile.TemporaryDirectory() as folder:
        given, result = Path(folder) / "given", Path(folder) / "result"
        given.write_bytes(pickle.dumps((evidence, dates.tables, PLAIN_ATTEMPTS)))
        subprocess.run(
            [sys.executable, "-m", "tests.bench.plain_dating", str(given), str(result)],
            check=True,
            env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        )
        took_s, best = pickle.loads(result.read_bytes())
    dated_alike = dates.how[:PLAIN_ATTEMPTS] == 0
    assert np.array_equal(best[dated_alike], dates.best[:PLAIN_ATTEMPTS][dated_alike])
    return float(took_s) / PLAIN_ATTEMPTS


def speed() -> None:
    heading("Dating: speed on one core")
    histories = many_attempts()
    date_attempts(histories)
    all_s, dates = best_of(3, lambda: date_attempts(histories))
    each_s = all_s / len(histories)
    what = f"one of {len(histories):,} attempts, contradictions looked into"
    line(what, each_s, plain="plain Python loops", plain_s=plain_way(histories))
    line(f"{ATTEMPTS:,} attempts at that rate", each_s * ATTEMPTS)
    box = histories.visits.boxes[4_000]
    one_s, again = best_of(5, lambda: redated(dates, histories, histories, box))
    line("one visit more: its box alone dated anew", one_s)
    assert _same(dates, again)


def _same(one: Dates, other: Dates) -> bool:
    return np.array_equal(one.best, other.best) and np.array_equal(one.how, other.how)


def main() -> None:
    heading(
        f"Dating of simulated nests, missed visits and observers' errors, seeds {SEEDS}, "
        f"{len(BOXES):,} boxes each"
    )
    print("  in 80 %, in 95 %: true moments within intervals, ends within days; beside them whole")
    print("  days that the 80 and 95 % intervals touch, which must hold more (see the scoring).")
    print("  Nests of twelve hard cases end as the case needs it, whatever the chances: the last")
    print("  table of fates leaves them out.")
    print("  Warm eggs long past hatching count as lost when they are found so, though parents may")
    print("  sit on: of such nests the day of loss comes before the true one.")
    for hard in (False, True):
        for interval_days in (3, 7, 10, 14):
            total = scored(interval_days, hard=hard)
            said = ", hard cases in three boxes of ten" if hard else ""
            print(
                f"  every {interval_days} days{said}: {total.nests:,} nests, "
                f"{total.contradicted} dated without a visit that contradicts the rest, "
                f"{total.undated} not dated"
            )
            coverage_table(total)
            fate_table(total)
    speed()


if __name__ == "__main__":
    main()
