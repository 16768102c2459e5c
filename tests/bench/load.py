"""Public readers beside a walker who saves visits, against the same load on a bare static file.

Readers come at a fixed rate, whether or not earlier ones were answered: a server that falls
behind is seen to. They ask a process of their own (`--public-port`), or one that does nothing
but send the same bytes from a static file; the walker asks the team's server each time.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import httpx

from data_demo.build import build_demo
from server.web.authentication.roles import Role
from server.web.authentication.store import People
from tests.bench.clock import heading, say_time

READERS_A_SECOND = 500
SECONDS = 30
SAVE_EVERY_S = 1.0
CONNECTIONS = 50
PAGES = ("index.html", "list.html", "cells.geojson", "leaflet.js")

STATIC = """
import sys, uvicorn
from starlette.staticfiles import StaticFiles
uvicorn.run(StaticFiles(directory=sys.argv[1]), port=int(sys.argv[2]), lifespan="off",
            log_level="warning", access_log=False)
"""


@dataclass
class Load:
    """What was measured: seconds from when a request was due until its answer was whole."""

    reads_s: list[float] = field(default_factory=list)
    saves_s: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


async def read_in_turn(port: int, load: Load, *, first_s: float, turns: int, page: str) -> None:
    """One connection of the many: asks at its own times, one after another."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    request = f"GET /{page} HTTP/1.1\r\nHost: 127.0.0.1\r\nAccept-Encoding: gzip\r\n\r\n".encode()
    for turn in range(turns):
        due_s = first_s + turn * CONNECTIONS / READERS_A_SECOND
        await asyncio.sleep(max(0.0, due_s - time.perf_counter()))
        writer.write(request)
        head = await reader.readuntil(b"\r\n\r\n")
        length = re.search(rb"(?i)content-length: (\d+)", head)
        if not head.startswith(b"HTTP/1.1 200") or length is None:
            load.errors.append(head.decode("latin-1"))
            break
        await reader.readexactly(int(length[1]))
        load.reads_s.append(time.perf_counter() - due_s)
    writer.close()


async def save_in_turn(address: str, key: str, load: Load, *, first_s: float, turns: int) -> None:
    """The walker: a visit every second, each to be on disk before it is acknowledged."""
    headers = {"Authorization": f"Bearer {key}"}
    async with httpx.AsyncClient(base_url=address, headers=headers) as client:
        for turn in range(turns):
            due_s = first_s + turn * SAVE_EVERY_S
            await asyncio.sleep(max(0.0, due_s - time.perf_counter()))
            seen = {"box": "M05", "date": "2026-06-02", "opened": "yes"}
            visit = seen | {"visit_id": str(uuid.uuid4())}
            answer = await client.post("/api/visits", json=visit)
            load.saves_s.append(time.perf_counter() - due_s)
            if answer.status_code != httpx.codes.CREATED:
                load.errors.append(f"save: {answer.status_code} {answer.text}")


async def under_load(*, port: int, team: str, key: str, seconds: int) -> Load:
    load = Load()
    first_s = time.perf_counter() + 0.2
    turns = seconds * READERS_A_SECOND // CONNECTIONS
    async with asyncio.TaskGroup() as group:
        for number in range(CONNECTIONS):
            group.create_task(
                read_in_turn(
                    port,
                    load,
                    first_s=first_s + number / READERS_A_SECOND,
                    turns=turns,
                    page=PAGES[number % len(PAGES)],
                )
            )
        saves = int(seconds / SAVE_EVERY_S)
        group.create_task(save_in_turn(team, key, load, first_s=first_s, turns=saves))
    return load


@contextmanager
def running(words: list[str], *, say: int = 0) -> Iterator[list[str]]:
    """A process while the block runs; gives the addresses of its first `say` lines."""
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        lines = [process.stdout.readline() for _ in range(say)]
        try:
            yield [re.findall(r"http://[\d.:]+", line)[0] for line in lines]
        finally:
            process.terminate()


def ready(address: str, page: str) -> bytes:
    with httpx.Client(transport=httpx.HTTPTransport(retries=8), timeout=60) as client:
        answer = client.get(f"{address}/{page}")
        answer.raise_for_status()
        return answer.content


def walker_of(trail: Path) -> str:
    """The key of a walker, on a trail that has a keeper."""
    now = datetime.now(UTC)
    with People.open_or_create(trail) as people:
        people.admit("Wren", role=Role.KEEPER, now=now)
        people.admit("Robin", role=Role.WALKER, now=now)
        return people.add_key("Robin", kind="program", label="load", now=now)


def main(*, seconds: int = SECONDS) -> None:
    heading(f"{READERS_A_SECOND} public readers a second for {seconds} s, a save every second")
    with tempfile.TemporaryDirectory() as folder:
        trail, bare = Path(folder) / "demo.gpkg", Path(folder) / "static"
        build_demo(trail)
        key = walker_of(trail)
        serve = ["-m", "server.command", "serve", str(trail), "--port", "0", "--public-port", "0"]
        bare.mkdir()
        with (
            running([sys.executable, *serve, "--on", "2026-06-03"], say=2) as (team, public),
            running([sys.executable, "-c", STATIC, str(bare), "8473"]),
        ):
            ready(team, "sign-in")
            for page in PAGES:
                (bare / page).write_bytes(ready(public, page))
            for page in PAGES:
                ready("http://127.0.0.1:8473", page)
            loads = {
                name: asyncio.run(under_load(port=port, team=team, key=key, seconds=seconds))
                for name, port in (("bare", 8473), ("ours", int(public.rpartition(":")[2])))
            }
    for name, said in (("bare", "a bare static file"), ("ours", "our public pages")):
        load = loads[name]
        assert not load.errors, load.errors[:3]
        for what, took in (("reads", load.reads_s), ("saves", load.saves_s)):
            print(f"  beside {said:<19} {len(took):>7,} {what}, none failed:", end="")
            print(f" median {say_time(median(took))}, slowest {say_time(max(took))}")
    reads, saves = (
        [median(getattr(loads[name], what)) for name in ("ours", "bare")]
        for what in ("reads_s", "saves_s")
    )
    print(f"  median read {reads[0] / reads[1]:.2f} times that of a bare static file", end="")
    print(f", median save beside it {saves[0] / saves[1]:.2f} times")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=int, default=SECONDS)
    main(seconds=parser.parse_args().seconds)
