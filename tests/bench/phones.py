"""Fifty phones that save at once, beside a GIS, a backup and two thousand readers, and alone."""

from __future__ import annotations

import asyncio
import sys
import tempfile
from pathlib import Path
from statistics import median

from data_demo.build import build_demo
from tests.bench.clock import heading, say_time
from tests.bench.load import ready, running
from tests.server.live.many_phones import Saved, save_all, while_others_hold

PHONES, VISITS, READERS = 50, 3, 2_000


def main() -> None:
    heading(f"{PHONES} phones save {VISITS} visits each, all at once")
    with tempfile.TemporaryDirectory() as folder:
        trail = Path(folder) / "demo.gpkg"
        build_demo(trail)
        serve = ["-m", "server.command", "serve", str(trail), "--port", "0", "--on", "2026-06-03"]
        with running([sys.executable, *serve], say=1) as (address,):
            ready(address, "open/cells.geojson")
            alone = asyncio.run(save_all(address, phones=PHONES, visits=VISITS, readers=0))
            beside = while_others_hold(
                trail, address, phones=PHONES, visits=VISITS, readers=READERS
            )
    say("alone", alone)
    say(f"beside a GIS, a backup and {READERS:,} readers", beside)


def say(what: str, saved: Saved) -> None:
    print(f"  {what}: median {say_time(median(saved.seconds))}", end="")
    print(f", slowest {say_time(max(saved.seconds))}, {len(saved.visits)} saved")


if __name__ == "__main__":
    main()
