"""A table of 200 MB of visits: time and memory of importing it, and what a recipe adds.

`python -m tests.bench.importing WAY FILE TRAIL` runs one way in a process of its own, so that its
memory can be measured.
"""

from __future__ import annotations

import csv
import io
import random
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing, redirect_stderr, redirect_stdout
from datetime import date, timedelta
from pathlib import Path

from server.command import main as command
from tests.bench.clock import heading, say_time
from tests.server.small_trail import at, make_trail

SIZE_BYTES = 200_000_000
BOXES = 2000
HEADER = ("box", "date", "time", "observer", "species", "nest", "eggs", "young", "note", "Temp F")
RECIPE = "".join(f'"{name}" = "{name}"\n' for name in HEADER[:-1])
MOST_MB = 500


def write(path: Path, size: int) -> int:
    """A clean table of about that many bytes; its rows."""
    rng = random.Random(7)
    rows = 0
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(HEADER)
        while file.tell() < size:
            day = date(2001, 3, 1) + timedelta(days=rows // BOXES * 3)
            for box in range(BOXES):
                eggs, young = rng.choice(((0, 0), (4, 0), (5, 0), (0, 4)))
                words = "a line of words that a keeper wrote about this visit"
                at_time = f"{8 + box % 9:02d}:{box % 60:02d}"
                seen = ("Ann", "eastern bluebird", "lined cup", eggs, young, words)
                writer.writerow((f"B{box:04d}", day, at_time, *seen, rng.randrange(40, 90)))
            rows += BOXES
    return rows


def plainly(source: Path, target: Path) -> None:
    """The plain way: every row as text into a table, nothing checked."""
    with closing(sqlite3.connect(target)) as database, source.open(encoding="utf-8") as file:
        rows = csv.reader(file)
        columns = ", ".join(f'"{name}"' for name in next(rows))
        database.execute(f"CREATE TABLE visits ({columns})")
        marks = ", ".join("?" * len(HEADER))
        database.executemany(f"INSERT INTO visits VALUES ({marks})", rows)
        database.commit()


def run(way: str, source: Path, target: Path) -> None:
    """One way, in this process; prints seconds of processor time and peak memory."""
    shown = io.StringIO()
    shown.isatty = lambda: True  # type: ignore[method-assign]
    begun = time.process_time()
    if way == "plain":
        plainly(source, target)
    else:
        words = ["add", "visits", str(source), str(target)]
        words += ["--recipe", str(source.with_suffix(".toml"))] if way == "recipe" else []
        with redirect_stderr(shown), redirect_stdout(io.StringIO()):
            assert command(words) == 0
        assert "%" in shown.getvalue(), "progress is shown"
    took_s = time.process_time() - begun
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(took_s, peak_mb)


def main(size: int = SIZE_BYTES) -> None:
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "visits.csv"
        rows = write(source, size)
        source.with_suffix(".toml").write_text(f"[columns]\n{RECIPE}", encoding="utf-8")
        heading(f"Import of {rows:,} visits, {source.stat().st_size / 1e6:,.0f} MB, processor time")
        seconds = {}
        for way in ("plain", "header", "recipe"):
            target = Path(folder) / f"{way}.gpkg"
            if way != "plain":
                make_trail(target, boxes={f"B{n:04d}": at(n % 50, n // 50) for n in range(BOXES)})
            done = subprocess.run(
                [sys.executable, "-m", __spec__.name, way, str(source), str(target)],
                capture_output=True,
                text=True,
                check=True,
            )
            seconds[way], peak_mb = map(float, done.stdout.split())
            target.unlink()
            within = "" if way == "plain" else f" (at most {MOST_MB} wanted)"
            print(
                f"  {way:<10} {say_time(seconds[way]):>10}, {peak_mb:,.0f} MB{within}", flush=True
            )
        print(
            f"  checked and logged: {seconds['header'] / seconds['plain']:.1f} times the plain way"
        )
        more = seconds["recipe"] / seconds["header"] - 1
        print(f"  a recipe adds {more:+.1%} (at most 20 % wanted)")


if __name__ == "__main__":
    run(sys.argv[1], *map(Path, sys.argv[2:4])) if len(sys.argv) > 3 else main()
