"""What every face of the program has of a visit's columns; run in a tree of its own.

`test_one_column.py` runs this where the schema declares one column more.
"""

from __future__ import annotations

import contextlib
import io
import json
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

from fastapi.testclient import TestClient

from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.settings import ServerSettings


def faces(trail: Path) -> dict[str, str]:
    """Face -> what it has of visits, as text; `trail` is a file of an older format."""
    folder = trail.parent
    held: dict[str, str] = {}
    table = folder / "visits.csv"
    table.write_text("box,date,eggs,air temp\nA1,2026-06-30,0,12.5\n", encoding="utf-8")
    with contextlib.redirect_stdout(io.StringIO()) as said:
        assert main(["add", "visits", str(table), str(trail)]) == 0, said.getvalue()
        for name in ("all.gpkg", "all.geojson", "all.csv"):
            picked = [] if name == "all.gpkg" else ["--table", "visits"]
            assert main(["export", str(trail), "--full", "-o", str(folder / name), *picked]) == 0
    with closing(sqlite3.connect(trail)) as gis:
        held["file"] = str(
            gis.execute("SELECT sql FROM sqlite_master WHERE name = 'visits'").fetchall()
        )
        held["import"] = str(dict(zip(*_last(gis), strict=True)))
        try:
            gis.execute(
                "INSERT INTO visits (box, seen_on, temperature_c) VALUES ('A1', '2026-06-30', 999)"
            )
        except sqlite3.IntegrityError as error:
            held["trigger"] = str(error)
    with Trail.open(trail) as opened:
        held["coded"] = str({n: c[-1] for n, c in opened.visits("A1").others.items()})
    held["layer"] = _layer(folder / "all.gpkg")
    held["geojson"] = (folder / "all.geojson").read_text(encoding="utf-8")
    held["csv"] = (folder / "all.csv").read_text(encoding="utf-8")
    held["dictionary"] = (folder / "all.csv-metadata.json").read_text(encoding="utf-8")
    app = create_app(ServerSettings(trail=trail))
    with TestClient(app, base_url="http://127.0.0.1:8000") as client:
        sent = {"box": "A1", "date": "2026-06-29", "temperature_c": 11.5}
        saved = client.post("/api/visits", json=sent).json()
        held["api"] = json.dumps(saved)
        held["document"] = json.dumps(client.get("/openapi.json").json()["components"]["schemas"])
        held["form"] = client.get(f"/boxes/A1/visit?replaces={saved['visit_id']}").text
        held["history"] = client.get(f"/visits/{saved['visit_id']}/history").text
        held["ogc schema"] = client.get("/ogc/collections/visits/schema").text
        held["ogc choice"] = client.get("/ogc/collections/visits/items?temperature_c=12.5").text
    return held


def _last(gis: sqlite3.Connection) -> tuple[list[str], tuple[object, ...]]:
    cursor = gis.execute("SELECT * FROM visits ORDER BY fid DESC LIMIT 1")
    return [column[0] for column in cursor.description], cursor.fetchone()


def _layer(path: Path) -> str:
    with closing(sqlite3.connect(path)) as gis:
        return str(dict(zip(*_last(gis), strict=True)))


if __name__ == "__main__":
    json.dump(faces(Path(sys.argv[1])), sys.stdout)
