"""Cached map data of 500 boxes, beside a bare ASGI app that sends the same bytes.

What is compared is the server's processor time for a request, so that the client,
which runs on the same machine, does not blur it.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import httpx

from data_demo.many import many_boxes
from layers.trail.settings import Settings
from layers.trail.store import Trail
from tests.bench.clock import heading

BOXES = 500
REQUESTS = 24_000
CONNECTIONS = 16
TURNS = 6

BARE = """
import sys, uvicorn
body = sys.stdin.buffer.read()
start = {"type": "http.response.start", "status": 200, "headers": [
    (b"content-type", b"application/octet-stream"), (b"content-encoding", b"gzip"),
    (b"content-length", str(len(body)).encode())]}
answer = {"type": "http.response.body", "body": body}
async def app(scope, receive, send):
    if scope["type"] == "http":
        await send(start)
        await send(answer)
uvicorn.run(app, port=int(sys.argv[1]), lifespan="off", log_level="warning", access_log=False)
"""


def used_s(pid: int) -> float:
    """Processor seconds that a process has used (proc(5): utime and stime)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


async def load(port: int, path: str) -> None:
    request = (
        f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAccept-Encoding: gzip\r\n\r\n"
    ).encode()

    async def one() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        for _ in range(REQUESTS // CONNECTIONS):
            writer.write(request)
            head = await reader.readuntil(b"\r\n\r\n")
            assert head.startswith(b"HTTP/1.1 200")
            length = int(head.lower().partition(b"content-length: ")[2].split(b"\r")[0])
            await reader.readexactly(length)
        writer.close()

    await asyncio.gather(*(one() for _ in range(CONNECTIONS)))


def per_request_s(servers: dict[str, tuple[subprocess.Popen[bytes], int]]) -> dict[str, float]:
    """Processor seconds a request of each server, asked in turn; the least of several."""
    best = dict.fromkeys(servers, float("inf"))
    for turn in range(TURNS + 1):
        for name, (process, port) in servers.items():
            before = used_s(process.pid)
            asyncio.run(load(port, "/map/base"))
            if turn > 0:  # the first is a warm-up
                best[name] = min(best[name], (used_s(process.pid) - before) / REQUESTS)
    return best


def wait_for(port: int) -> None:
    transport = httpx.HTTPTransport(retries=50)
    with httpx.Client(transport=transport) as client:
        client.get(f"http://127.0.0.1:{port}/health")


def main() -> None:
    heading(f"Cached map data of {BOXES} boxes, one worker")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.gpkg"
        boxes, _ = many_boxes(BOXES, seed=1)
        with Trail.create(path, Settings("Many", "America/New_York")) as trail:
            rows = [
                {"box": box, "section": section, "geometry": point}
                for box, section, point in zip(
                    boxes["box"], boxes["section"], boxes.geometry, strict=True
                )
            ]
            trail.add_rows("boxes", rows)
        words = ["serve", str(path), "--port", "8471"]
        ours = subprocess.Popen(
            [sys.executable, "-m", "server.command", *words], stdout=subprocess.DEVNULL
        )
        wait_for(8471)
        with httpx.stream(
            "GET", "http://127.0.0.1:8471/map/base", headers={"Accept-Encoding": "gzip"}
        ) as answer:
            body = b"".join(answer.iter_raw())
        bare = subprocess.Popen(
            [sys.executable, "-c", BARE, "8472"], stdin=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        assert bare.stdin is not None
        bare.stdin.write(body)
        bare.stdin.close()
        wait_for(8472)
        best = per_request_s({"ours": (ours, 8471), "bare": (bare, 8472)})
        for process in (ours, bare):
            process.terminate()
            process.wait()
    bare_s, ours_s = best["bare"], best["ours"]
    print(f"  bare ASGI app, the same {len(body):,} bytes {1 / bare_s:>12,.0f} requests a second")
    print(f"  ours, asking each time whether it changed {1 / ours_s:>8,.0f} requests a second")
    print(f"  {bare_s / ours_s:.2f} of the bare ASGI ceiling")


if __name__ == "__main__":
    main()
