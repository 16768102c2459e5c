"""Phones that all save at once, while a GIS holds the trail, a backup runs and the public reads."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from contextlib import AsyncExitStack, ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx

from tests.server.running import in_own_thread
from tests.trail.test_backups import BACKS_UP

HOLDS = """
import pyogrio, sqlite3, sys
held = sqlite3.connect(sys.argv[1], isolation_level=None)
print("begun", flush=True)
while True:
    held.execute("BEGIN")
    held.execute("SELECT count(*) FROM visits").fetchone()
    pyogrio.read_dataframe(sys.argv[1], layer="boxes")
    held.execute("COMMIT")
"""
CONNECTIONS = 50
"""Readers share these, as they do behind a proxy."""


@dataclass
class Saved:
    """What was acknowledged, and how long each save took, waiting and trying again included."""

    visits: list[str] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    pages: int = 0


@contextmanager
def beside(script: str, *words: Path) -> Iterator[None]:
    """A process that goes on while the block runs."""
    started = subprocess.Popen(
        [sys.executable, "-c", script, *words], stdout=subprocess.PIPE, text=True
    )
    assert started.stdout is not None
    assert started.stdout.readline() == "begun\n"
    try:
        yield
        assert started.poll() is None, "it ended before its time"
    finally:
        started.kill()
        started.communicate()


async def _phone(client: httpx.AsyncClient, visits: int, saved: Saved) -> None:
    for _ in range(visits):
        visit = {"box": "M05", "date": "2026-06-02", "opened": "yes", "visit_id": str(uuid.uuid4())}
        begun = time.perf_counter()
        while True:
            answer = await client.post("/api/visits", json=visit)
            if answer.status_code in (httpx.codes.OK, httpx.codes.CREATED):
                break
            assert answer.status_code == httpx.codes.SERVICE_UNAVAILABLE, answer.text
            await asyncio.sleep(float(answer.headers["retry-after"]))
        saved.seconds.append(time.perf_counter() - begun)
        saved.visits.append(visit["visit_id"])


async def _read(client: httpx.AsyncClient, pages: int, saved: Saved) -> None:
    for _ in range(pages):
        answer = await client.get("/open/cells.geojson")
        assert answer.status_code == httpx.codes.OK
        saved.pages += 1


async def save_all(address: str, *, phones: int, visits: int, readers: int) -> Saved:
    """`phones` save `visits` each, one after another; `readers` look at a public page once."""
    saved = Saved()
    async with AsyncExitStack() as opened, asyncio.TaskGroup() as group:
        clients = [
            await opened.enter_async_context(httpx.AsyncClient(base_url=address, timeout=60))
            for _ in range(phones)
        ]
        for client in clients:
            group.create_task(_phone(client, visits, saved))
        public = clients[: min(CONNECTIONS, readers)]
        for client in public:
            group.create_task(_read(client, readers // len(public), saved))
    return saved


def while_others_hold(trail: Path, address: str, **how: int) -> Saved:
    """`save_all` with a GIS and a backup on the same file all the while."""
    with ExitStack() as running:
        running.enter_context(beside(HOLDS, trail))
        running.enter_context(beside(BACKS_UP, trail, trail.parent / "backups"))
        return in_own_thread(save_all(address, **how))
