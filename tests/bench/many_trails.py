"""A folder of 200 trails in one process, beside one trail alone: start, cold and warm pages, room.

`tests/server/test_folder.py` holds handles and memory to their limits (`make long`).
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from itertools import cycle
from pathlib import Path

import httpx

from data_demo.build import build_demo
from tests.bench.clock import best_of, heading, line

TRAILS = 200
IN_USE = 20
WARM = 100
DAY = "2026-06-03"
PAGES = (
    *("/", "/due", "/list", "/boxes/M05", "/boxes/M05/visit", "/field", "/round", "/week"),
    *("/season", "/site", "/winter", "/import", "/people", "/open/", "/open/preview"),
)
"""A trail is opened for one of them, in turn."""


@dataclass(frozen=True)
class Measured:
    """What a server of a folder took."""

    start_s: float
    cold_s: Mapping[str, tuple[float, ...]]
    """Of each page, that of the trails opened for it; the shortest first."""
    handles: int
    """The most that were open."""
    in_use_mb: int
    """Once as many trails were requested as are open at a time."""
    end_mb: int
    warm_s: Mapping[str, float]
    """Of each page, when it was requested before."""


def copies(folder: Path, count: int) -> list[str]:
    """Make a folder of copies of the demo; their names."""
    folder.mkdir()
    first = folder / "trail000.gpkg"
    build_demo(first)
    names = [f"trail{number:03}" for number in range(count)]
    for name in names[1:]:
        shutil.copy(first, folder / f"{name}.gpkg")
    return names


def measured(folder: Path, names: list[str]) -> Measured:
    """Request a page of every trail of a folder, and all of the last one again and again."""
    cold: dict[str, list[float]] = {page: [] for page in PAGES}
    handles, in_use_mb = 0, 0
    with _server(folder) as (process, start_s, client):
        for number, (name, page) in enumerate(zip(names, cycle(PAGES)), start=1):
            cold[page].append(_page_s(client, f"/t/{name}{page}"))
            handles = max(handles, sum(1 for _ in Path(f"/proc/{process}/fd").iterdir()))
            if number == IN_USE:
                in_use_mb = _memory_mb(process)
        warm_s = _warm_s(client, f"/t/{names[-1]}")
        end_mb = _memory_mb(process)
    ordered = {page: tuple(sorted(took)) for page, took in cold.items()}
    return Measured(start_s, ordered, handles, in_use_mb, end_mb, warm_s)


@contextmanager
def _server(trail: Path) -> Iterator[tuple[int, float, httpx.Client]]:
    words = [sys.executable, "-m", "server.command", "serve", str(trail), "--port", "0"]
    begun = time.perf_counter()
    with subprocess.Popen([*words, "--on", DAY], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        address = re.search(r"http://[\d.:]+", process.stdout.readline())
        start_s = time.perf_counter() - begun
        try:
            assert address is not None
            with httpx.Client(base_url=address[0], timeout=60) as client:
                yield process.pid, start_s, client
        finally:
            process.terminate()


def _page_s(client: httpx.Client, address: str) -> float:
    begun = time.perf_counter()
    client.get(address).raise_for_status()
    return time.perf_counter() - begun


def _warm_s(client: httpx.Client, below: str = "") -> dict[str, float]:
    """Each page's best time, once it was requested."""
    best = {}
    for page in PAGES:
        address = below + page
        _page_s(client, address)
        best[page] = best_of(WARM, partial(_page_s, client, address))[0]
    return best


def _memory_mb(process: int) -> int:
    status = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    found = re.search(r"VmRSS:\s+(\d+) kB", status)
    assert found is not None
    return int(found[1]) // 1000


def main() -> None:
    """Print what a folder of trails takes beside one trail alone."""
    heading(f"{TRAILS} trails of 60 boxes in one process")
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "region"
        names = copies(folder, TRAILS)
        alone = Path(made) / "alone.gpkg"
        shutil.copy(folder / f"{names[0]}.gpkg", alone)
        with _server(alone) as (_, alone_start_s, client):
            alone_warm_s = _warm_s(client)
        found = measured(folder, names)
    line("start", found.start_s, plain="one trail alone", plain_s=alone_start_s)
    for page, cold_s in found.cold_s.items():
        # The first of all loads what its kind of page needs.
        *others, slowest = cold_s
        line(f"{page} of a closed trail, in the median", others[len(others) // 2])
        line(f"{page} of a closed trail, the slowest", slowest)
        line(
            f"{page}, warm", found.warm_s[page], plain="one trail alone", plain_s=alone_warm_s[page]
        )
    print(f"  at most {found.handles} file handles; {found.in_use_mb} MB with {IN_USE} trails")
    print(f"  in use, {found.end_mb} MB after all {TRAILS}")


if __name__ == "__main__":
    main()
