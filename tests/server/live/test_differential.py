"""A server that has been running answers as one that just began, whatever changed meanwhile."""

from __future__ import annotations

import random
import re
import shutil
import subprocess
import sys
import uuid
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from layers.trail.store import Trail
from server.app import create_app
from server.settings import ServerSettings
from tests.server.conftest import FEW, HOST, ON

ADDRESSES = (
    "/api/boxes",
    "/api/nests",
    "/api/due?everything=true",
    "/api/near?lat=42.6&lon=-77.9&walking=true",
    "/api/round?set=boxes&boxes=M01,M05",
    "/api/winter",
    "/api/site?lat=42.6&lon=-77.9",
    "/api/season",
    "/boxes/M05",
    "/boxes/M05/card",
    "/list",
    "/due",
    "/due.ics",
    "/field/day",
    "/map/base",
    "/ogc/collections/boxes/items",
    "/ogc/collections/paths/items",
    "/ogc/collections/visits/items?limit=1000",
    "/open/cells.geojson",
    "/open/seasons.html",
)

Change = Callable[[TestClient, Path, random.Random], None]

NOW = re.compile(rb'DTSTAMP:\w+|"timeStamp":"[^"]*"')
"""The moment at which an answer was made."""


def by_sql(*statements: str) -> Change:
    """As a desktop GIS writes: rows of the file, past the server."""

    def change(_client: TestClient, path: Path, rng: random.Random) -> None:
        one, two = rng.sample(FEW, 2)
        with Trail.open(path) as trail, trail.write() as connection:
            for sql in statements:
                connection.execute(sql, {"one": one, "two": two, "number": rng.randrange(3, 30)})

    return change


GIS = """
import sys, geopandas, shapely
rows, layer = {rows}, {layer!r}
frame = geopandas.GeoDataFrame(rows, geometry=[shapely.from_wkt({shape!r})], crs=4326)
frame.to_file(sys.argv[1], layer=layer, mode="a", engine="pyogrio")
"""


def by_gis(layer: str, shape: str, **columns: str) -> Change:
    """Drawn in a process of a GIS's, with its own SQLite; `?` in a column stands for a number."""

    def change(_client: TestClient, path: Path, rng: random.Random) -> None:
        number = str(rng.randrange(10**6))
        rows = {name: [value.replace("?", number)] for name, value in columns.items()}
        script = GIS.format(rows=rows, layer=layer, shape=shape)
        subprocess.run([sys.executable, "-c", script, str(path)], check=True)

    return change


def by_settings(**settings: object) -> Change:
    def change(_client: TestClient, path: Path, _rng: random.Random) -> None:
        with Trail.open(path) as trail:
            trail.change_settings(**settings)

    return change


def _visit(client: TestClient, _path: Path, rng: random.Random) -> None:
    visit = {"visit_id": str(uuid.uuid4()), "box": rng.choice(FEW), "date": "2026-06-02"}
    assert client.post("/api/visits", json=visit | {"eggs": rng.randrange(6)}).status_code == 201


def _correction(client: TestClient, _path: Path, rng: random.Random) -> None:
    wrong = rng.choice(client.get(f"/api/boxes/{rng.choice(FEW)}").json()["visits"])
    visit = {"visit_id": str(uuid.uuid4()), "box": rng.choice(FEW), "date": wrong["date"]}
    sent = visit | {"replaces": wrong["visit_id"], "young": rng.randrange(5)}
    assert client.post("/api/visits", json=sent).status_code == 201


CHANGES: dict[str, Change] = {
    "visit": _visit,
    "correction": _correction,
    "two boxes change places": by_sql(
        "CREATE TEMP TABLE old AS SELECT box, geom FROM boxes",
        "UPDATE boxes SET geom = (SELECT geom FROM old WHERE box = :two) WHERE box = :one",
        "UPDATE boxes SET geom = (SELECT geom FROM old WHERE box = :one) WHERE box = :two",
        "DROP TABLE old",
    ),
    "a box without a place": by_sql("UPDATE boxes SET geom = NULL WHERE box = :one"),
    "a wider hole": by_sql("UPDATE boxes SET hole_mm = 20 + :number WHERE box = :one"),
    "a box taken down": by_sql("UPDATE boxes SET removed_on = '2026-05-20' WHERE box = :one"),
    "a box hidden": by_sql("UPDATE boxes SET public = 'hidden' WHERE box = :one"),
    "a box coarse": by_sql("UPDATE boxes SET public = 'coarse' WHERE box = :one"),
    "a path gone": by_sql(
        "DELETE FROM paths WHERE fid = (SELECT fid FROM paths ORDER BY fid LIMIT 1)"
    ),
    "a path moved": by_sql(
        "UPDATE paths SET geom = (SELECT geom FROM paths ORDER BY fid DESC LIMIT 1)"
        " WHERE fid = (SELECT fid FROM paths ORDER BY fid LIMIT 1 OFFSET 2)"
    ),
    "a path for walkers of the team": by_sql(
        "UPDATE paths SET open_to = 'team', name = 'Path ' || :number"
        " WHERE fid = (SELECT fid FROM paths ORDER BY fid LIMIT 1 OFFSET 3)"
    ),
    "a path drawn": by_gis("paths", "LINESTRING (-77.9 42.6, -77.91 42.61)", name="Path ?"),
    "a box put up": by_gis("boxes", "POINT (-77.9 42.6)", box="N?", guards="baffle"),
    "a guard": by_sql("UPDATE boxes SET guards = 'baffle' WHERE box IN (:one, :two)"),
    "zones gone": by_sql("DELETE FROM zones"),
    "another name": by_settings(name="Alderbeck, renamed"),
    "another season": by_settings(season_starts="03-01"),
    "other units": by_sql("UPDATE trail SET units = 'us'"),
    "another interval": by_sql("UPDATE trail SET visit_every_days = :number"),
    "another time zone": by_sql("UPDATE trail SET timezone = 'America/Chicago'"),
    "other words": by_sql("UPDATE trail SET words = json_object('signs', json_array('moss'))"),
}


def answers(client: TestClient) -> dict[str, tuple[int, bytes]]:
    found = {}
    for address in ADDRESSES:
        answer = client.get(address)
        found[address] = (answer.status_code, NOW.sub(b"", answer.content))
    return found


@pytest.mark.slow
@pytest.mark.parametrize(
    "changes", [2, pytest.param(120, marks=[pytest.mark.long, pytest.mark.timeout(3600)])]
)
def test_a_running_server_answers_as_a_new_one(
    few_boxes: Path, tmp_path: Path, changes: int
) -> None:
    path = Path(shutil.copy(few_boxes, tmp_path / "trail.gpkg"))
    settings, rng = ServerSettings(trail=path, on=ON), random.Random(changes)
    seen: set[bytes] = set()
    with TestClient(create_app(settings), base_url=HOST) as running:
        answers(running)
        in_turn = [name for _ in range(1 + changes // len(CHANGES))
                   for name in rng.sample([*CHANGES], len(CHANGES))]  # fmt: skip
        for name in in_turn[:changes]:
            CHANGES[name](running, path, rng)
            now = answers(running)
            with TestClient(create_app(settings), base_url=HOST) as new:
                fresh = answers(new)
            assert [one for one in ADDRESSES if now[one] != fresh[one]] == [], name
            seen.add(now["/api/boxes"][1] + now["/api/round?set=boxes&boxes=M01,M05"][1])
    # The changes were such that answers changed.
    assert len(seen) > changes / 3
