"""The server is never behind the file, and loses nothing that it acknowledged."""

from __future__ import annotations

import shutil
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from fastapi.testclient import TestClient
from shapely import Point

from layers.trail.store import Trail
from server.app import create_app
from server.live.trail import MAX_SAVING
from server.settings import ServerSettings
from tests.server.conftest import HOST, ON, Process, locked
from tests.trail.validator import faults, gis_counts

GIS_ADDS_A_BOX = (
    "import geopandas, shapely, sys\n"
    "frame = geopandas.GeoDataFrame({'box': ['GIS1'], 'section': ['drawn']},"
    " geometry=[shapely.Point(-77.9, 42.6)], crs=4326)\n"
    "frame.to_file(sys.argv[1], layer='boxes', mode='a', engine='pyogrio')\n"
)


def visit(box: str = "M05") -> dict[str, str]:
    return {"visit_id": str(uuid.uuid4()), "box": box, "date": "2026-06-02", "opened": "yes"}


def visits_of(address: str, box: str = "M05") -> set[str]:
    card = httpx.get(f"{address}/api/boxes/{box}").json()
    return {each["visit_id"] for each in card["visits"]}


def test_an_answer_unchanged_costs_no_body(client: TestClient) -> None:
    for address in ("/", "/api/boxes", "/map/base", "/map/season/2026", "/list"):
        first = client.get(address)
        again = client.get(address, headers={"If-None-Match": first.headers["etag"]})
        assert (first.status_code, again.status_code, again.content) == (200, 304, b"")


def test_a_change_gives_another_etag(client: TestClient) -> None:
    before = client.get("/map/season/2026").headers["etag"]
    client.post("/api/visits", json=visit())
    answer = client.get("/map/season/2026", headers={"If-None-Match": before})
    assert answer.status_code == 200
    assert answer.headers["etag"] != before


def test_answers_are_compressed_where_they_may_be(client: TestClient) -> None:
    plain = client.get("/map/ground", headers={"Accept-Encoding": "identity"})
    packed = client.get("/map/ground", headers={"Accept-Encoding": "gzip"})
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    assert int(packed.headers["content-length"]) < int(plain.headers["content-length"]) / 2
    assert packed.content == plain.content
    assert packed.headers["vary"] == "Accept-Encoding"


def test_a_head_request_answers_the_same_without_a_body(client: TestClient) -> None:
    whole, head = client.get("/map/base"), client.head("/map/base")
    assert head.status_code == 200
    assert head.content == b""
    assert head.headers["etag"] == whole.headers["etag"]


def test_two_apps_on_two_trails_live_in_one_process(trail_path: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.gpkg"
    with Trail.open(trail_path) as trail:
        trail.snapshot(other)
    with Trail.open(other) as trail:
        trail.change_settings(name="The other trail")
    apps = [create_app(ServerSettings(trail=path, on=ON)) for path in (trail_path, other)]
    with TestClient(apps[0], base_url=HOST) as one, TestClient(apps[1], base_url=HOST) as two:
        two.post("/api/visits", json=visit())
        assert "The other trail" not in one.get("/list").text
        assert "The other trail" in two.get("/list").text
        assert two.get("/health").json()["visits"] == one.get("/health").json()["visits"] + 1


def test_a_desktop_gis_change_shows_at_the_next_request(
    client: TestClient, trail_path: Path
) -> None:
    assert client.get("/api/boxes/GIS1").status_code == 404
    assert client.get("/map/base").status_code == 200
    subprocess.run([sys.executable, "-c", GIS_ADDS_A_BOX, str(trail_path)], check=True)
    assert client.get("/api/boxes/GIS1").json()["section"] == "drawn"
    assert b"GIS1" in client.get("/map/base").content


def test_a_correction_may_move_a_visit_to_another_box(client: TestClient) -> None:
    wrong = client.get("/api/boxes/M01").json()["visits"][-1]
    sent = visit("M02") | {"date": wrong["date"], "replaces": wrong["visit_id"]}
    assert client.post("/api/visits", json=sent).status_code == 201
    assert client.post("/api/visits", json=visit("M01")).status_code == 201
    first, second = (client.get(f"/api/boxes/{box}").json()["visits"] for box in ("M01", "M02"))
    assert wrong["visit_id"] not in {each["visit_id"] for each in first}
    assert sent["visit_id"] in {each["visit_id"] for each in second}


def test_many_changes_at_once_show_at_the_next_request(
    client: TestClient, trail_path: Path
) -> None:
    before = client.get("/health").json()["visits"]
    with Trail.open(trail_path) as trail:
        boxes = [f"X{number:03d}" for number in range(150)]
        trail.add_rows("boxes", [{"box": box, "geometry": Point(-77.9, 42.6)} for box in boxes])
        assert client.get("/health").json()["boxes"] == 210
        trail.add_rows("visits", [{"box": box, "seen_on": "2026-06-02"} for box in boxes])
    assert client.get("/health").json()["visits"] == before + 150


def number_of_visits(client: TestClient) -> int:
    return int(client.get("/health").json()["visits"])


def test_a_file_put_in_the_place_of_the_trail_is_the_one_that_is_served(
    client: TestClient, trail_path: Path
) -> None:
    aside, before = trail_path.with_name("aside.gpkg"), number_of_visits(client)
    with Trail.open(trail_path) as trail:
        trail.snapshot(aside)
    assert client.post("/api/visits", json=visit()).status_code == 201
    page = client.get("/list")
    aside.replace(trail_path)
    assert number_of_visits(client) == before
    assert client.get("/list").headers["etag"] != page.headers["etag"]
    assert client.post("/api/visits", json=visit()).status_code == 201
    assert number_of_visits(client) == before + 1


def test_a_trail_that_is_moved_is_missed_and_served_again_once_it_is_back(
    client: TestClient, trail_path: Path
) -> None:
    before = number_of_visits(client)
    assert client.get("/list").status_code == 200
    moved = trail_path.rename(trail_path.with_name("moved.gpkg"))
    for answer in (client.get("/list"), client.post("/api/visits", json=visit())):
        assert answer.status_code == 503
        assert "put it back" in answer.json()["detail"]
        assert answer.headers["retry-after"]
    moved.rename(trail_path)
    assert client.get("/list").status_code == 200
    assert client.post("/api/visits", json=visit()).status_code == 201
    assert number_of_visits(client) == before + 1


def test_a_damaged_trail_is_served_again_once_it_is_restored(
    client: TestClient, trail_path: Path
) -> None:
    backup, before = trail_path.with_name("backup.gpkg"), number_of_visits(client)
    with Trail.open(trail_path) as trail:
        trail.snapshot(backup)
    damaged = trail_path.with_name("damaged.gpkg")
    damaged.write_bytes(backup.read_bytes()[:9000])
    damaged.replace(trail_path)
    answer = client.post("/api/visits", json=visit())
    assert answer.status_code == 503
    assert "trail.gpkg" in answer.json()["detail"]
    # In a process of its own, as a keeper does it.
    words = [sys.executable, "-m", "server.command", "restore", str(backup), str(trail_path)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert "was damaged and is now" in done.stdout
    assert number_of_visits(client) == before
    assert client.post("/api/visits", json=visit()).status_code == 201


def test_a_trail_that_cannot_be_written_says_what_to_do(client: TestClient) -> None:
    with client.app.state.live.borrowed() as trail:  # type: ignore[attr-defined]
        trail._connection.execute("PRAGMA query_only = ON")
    answer = client.post("/api/visits", json=visit())
    assert answer.status_code == 503
    assert "read-only. Let this user write the file and its folder" in answer.json()["detail"]
    with client.app.state.live.borrowed() as trail:  # type: ignore[attr-defined]
        trail._connection.execute("PRAGMA query_only = OFF")
        (page_count,) = trail.rows("PRAGMA page_count")[0]
        trail._connection.execute(f"PRAGMA max_page_count = {page_count}")
    full = [client.post("/api/visits", json=visit() | {"note": "n" * 3000}) for _ in range(10)]
    assert full[-1].status_code == 503
    assert "the disk is full. Make room" in full[-1].json()["detail"]
    with client.app.state.live.borrowed() as trail:  # type: ignore[attr-defined]
        trail._connection.execute("PRAGMA max_page_count = 1000000")
    assert client.post("/api/visits", json=visit()).status_code == 201


def test_the_file_alone_holds_what_a_killed_server_acknowledged_while_a_gis_reads(
    start: Callable[..., Process], trail_path: Path
) -> None:
    server = start(trail_path)
    script = (
        "import pyogrio, sys\nprint('reading', flush=True)\n"
        "while True:\n    pyogrio.read_dataframe(sys.argv[1], layer='visits')\n"
    )
    gis = subprocess.Popen(
        [sys.executable, "-c", script, str(trail_path)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert gis.stdout is not None
        assert gis.stdout.readline() == "reading\n"
        saved = [visit() for _ in range(20)]
        for one in saved:
            assert httpx.post(f"{server.address}/api/visits", json=one).status_code == 201
        time.sleep(1)
        server.kill()
        alone = Path(shutil.copy(trail_path, trail_path.with_name("alone.gpkg")))
    finally:
        gis.kill()
        gis.communicate()
    with Trail.open(alone) as trail:
        stored = {row["visit_id"] for row in trail.visit_rows()}
    assert {one["visit_id"] for one in saved} <= stored


def test_readers_are_answered_while_many_saves_wait_for_a_lock(trail_path: Path) -> None:
    app = create_app(ServerSettings(trail=trail_path, on=ON, busy_s=5))
    answers: list[int] = []
    with TestClient(app, base_url=HOST) as client:

        def post() -> None:
            answers.append(client.post("/api/visits", json=visit()).status_code)

        # More than the threads that the framework has for everything.
        posting = [threading.Thread(target=post) for _ in range(45)]
        savers = app.state.live.savers
        with locked(trail_path):
            for thread in posting:
                thread.start()
            while savers.statistics().tasks_waiting < 45 - MAX_SAVING:
                time.sleep(0.01)
            assert client.get("/list?on=2025-06-01").status_code == 200
            assert answers == []
        for thread in posting:
            thread.join()
    assert answers == [201] * 45


def test_saves_beyond_those_that_may_wait_are_answered_with_come_again(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.visits.recording.MOST_WAITING", 0)
    answer = client.post("/api/visits", json=visit())
    assert answer.status_code == 503
    assert answer.headers["retry-after"]


def test_processes_on_one_trail_see_each_other_at_the_next_request(
    start: Callable[..., Process], trail_path: Path
) -> None:
    one, two = start(trail_path), start(trail_path)
    for writer, reader in ((one, two), (two, one)) * 3:
        sent = visit()
        assert visits_of(reader.address)
        assert httpx.post(f"{writer.address}/api/visits", json=sent).status_code == 201
        assert sent["visit_id"] in visits_of(reader.address)


def test_workers_of_one_server_answer_alike(
    start: Callable[..., Process], trail_path: Path
) -> None:
    server = start(trail_path, "--workers", "2")
    for _ in range(6):
        sent = visit()
        assert httpx.post(f"{server.address}/api/visits", json=sent).status_code == 201
        # New connections, so that either worker may answer.
        assert all(sent["visit_id"] in visits_of(server.address) for _ in range(4))


def test_a_stopped_server_folds_its_log_into_the_file(
    start: Callable[..., Process], trail_path: Path
) -> None:
    server = start(trail_path)
    httpx.post(f"{server.address}/api/visits", json=visit())
    assert server.stop() == 0
    log = trail_path.with_name(trail_path.name + "-wal")
    assert not log.exists() or log.stat().st_size == 0


@pytest.mark.parametrize(
    "kills", [2, pytest.param(60, marks=[pytest.mark.long, pytest.mark.timeout(3600)])]
)
def test_kills_lose_no_acknowledged_visit_and_repeat_none(
    start: Callable[..., Process], trail_path: Path, kills: int
) -> None:
    server = start(trail_path)
    current = [server.address]
    acknowledged: list[set[str]] = [set() for _ in range(4)]
    done = threading.Event()

    def post_on(own: set[str], box: str) -> None:
        waiting = visit(box)
        while not done.is_set():
            try:
                answer = httpx.post(f"{current[0]}/api/visits", json=waiting, timeout=5)
            except httpx.HTTPError:
                time.sleep(0.02)
                continue
            if answer.status_code in (200, 201):
                own.add(waiting["visit_id"])
                waiting = visit(box)

    clients = [
        threading.Thread(target=post_on, args=(own, f"M0{number + 1}"))
        for number, own in enumerate(acknowledged)
    ]
    for client in clients:
        client.start()
    try:
        for _ in range(kills):
            before = sum(map(len, acknowledged))
            while sum(map(len, acknowledged)) < before + 8:
                assert server.running
                time.sleep(0.01)
            server.kill()
            server = start(trail_path)
            current[0] = server.address
    finally:
        # Clients that went on would keep a failed test from ending.
        done.set()
        for client in clients:
            client.join()
    server.stop()
    with Trail.open(trail_path) as trail:
        stored = [row["visit_id"] for row in trail.visit_rows()]
        copy = trail_path.with_name("copy.gpkg")
        trail.snapshot(copy)
    assert set().union(*acknowledged) <= set(stored)
    assert len(stored) == len(set(stored))
    assert faults(copy) == ""


def test_a_gis_reads_every_layer_while_the_server_writes(
    start: Callable[..., Process], trail_path: Path
) -> None:
    server = start(trail_path)
    script = (
        "import pyogrio, sys\nlast = 0\n"
        "for _ in range(8):\n"
        "    for layer in ('boxes', 'paths', 'places', 'zones', 'trail'):\n"
        "        assert len(pyogrio.read_dataframe(sys.argv[1], layer=layer)), layer\n"
        "    now = len(pyogrio.read_dataframe(sys.argv[1], layer='visits'))\n"
        "    assert now >= last\n    last = now\n"
        "print(last)\n"
    )
    reader = subprocess.Popen(
        [sys.executable, "-c", script, str(trail_path)], stdout=subprocess.PIPE, text=True
    )
    written = 0
    while reader.poll() is None:
        assert httpx.post(f"{server.address}/api/visits", json=visit()).status_code == 201
        written += 1
    said, _ = reader.communicate()
    assert reader.returncode == 0
    total = httpx.get(f"{server.address}/health").json()
    with Trail.open(trail_path) as trail:
        copy = trail_path.with_name("copy.gpkg")
        trail.snapshot(copy)
    counts = gis_counts(copy)
    assert counts["boxes"] == total["boxes"]
    assert int(said) <= counts["visits"]
    assert written > 0
