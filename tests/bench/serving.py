"""Cached map data of 500 boxes, beside a bare ASGI app that sends the same bytes.

The load comes from `wrk`, which is fast enough to keep one worker busy; the two
servers are asked in turn.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import httpx

from layers.trail.settings import Settings
from layers.trail.store import Trail
from tests.bench.clock import heading
from tests.many_boxes import many_boxes

BOXES = 500
CONNECTIONS = 32
SECONDS = 3
TURNS = 4

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


def requests_a_second(port: int) -> float:
    """As many as one worker answers to a client that never lets it wait."""
    said = subprocess.run(
        [
            "wrk",
            "-t1",
            f"-c{CONNECTIONS}",
            f"-d{SECONDS}s",
            "-H",
            "Accept-Encoding: gzip",
            f"http://127.0.0.1:{port}/map/base",
        ],
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert "Non-2xx" not in said, said
    found = re.search(r"Requests/sec:\s+([\d.]+)", said)
    assert found is not None, said
    return float(found[1])


def wait_for(port: int) -> None:
    transport = httpx.HTTPTransport(retries=50)
    with httpx.Client(transport=transport) as client:
        client.get(f"http://127.0.0.1:{port}/health")


def main() -> None:
    heading(f"Cached map data of {BOXES} boxes, one worker")
    if shutil.which("wrk") is None:
        print("  left out: the load generator wrk (Debian package wrk) is not installed")
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.gpkg"
        boxes, _ = many_boxes(BOXES, seed=1)
        with Trail.create(path, Settings("Many", "America/New_York")) as trail:
            rows = zip(boxes["box"], boxes["section"], boxes.geometry, strict=True)
            trail.add_rows(
                "boxes", [{"box": b, "section": s, "geometry": point} for b, s, point in rows]
            )
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
        turns = [(requests_a_second(8472), requests_a_second(8471)) for _ in range(TURNS)]
        for process in (ours, bare):
            process.terminate()
            process.wait()
    bare_best, ours_best = (max(turn[at] for turn in turns) for at in (0, 1))
    print(f"  bare ASGI app, the same {len(body):,} bytes {bare_best:>12,.0f} requests a second")
    print(f"  ours, asking each time whether it changed {ours_best:>8,.0f} requests a second")
    print(f"  {ours_best / bare_best:.2f} of the bare ASGI ceiling")


if __name__ == "__main__":
    main()
