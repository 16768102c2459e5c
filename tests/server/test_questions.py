"""What is odd is asked about once: by the form, the API, import and the check of a trail."""

from __future__ import annotations

import uuid
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.settings import ServerSettings
from tests.server.small_trail import at, make_trail

FOUND = {"box": "A1", "species": "eastern bluebird", "young": 5}
FIRST = FOUND | {"date": "2026-05-25", "young_days": 5}
SLIP = FOUND | {"date": "2026-06-02", "young_days": 3}


@pytest.fixture
def trail(tmp_path: Path) -> Path:
    return make_trail(tmp_path / "small.gpkg", boxes={"A1": at(1)})


@pytest.fixture
def client(trail: Path) -> TestClient:
    return TestClient(create_app(ServerSettings(trail=trail)), base_url="http://127.0.0.1:8000")


def rows(trail: Path) -> list[dict[str, Any]]:
    with Trail.open(trail) as opened:
        return opened.visit_rows("A1")


def form(**changed: Any) -> dict[str, Any]:
    cells = {name: str(value) for name, value in SLIP.items() if name != "box"}
    return {"visit_id": str(uuid.uuid4()), "shown": "", **cells, **changed}


def test_the_form_asks_once_keeps_the_answer_and_never_refuses(
    client: TestClient, trail: Path
) -> None:
    with client:
        assert client.post("/api/visits", json=FIRST).status_code == 201
        before = len(rows(trail))
        sent = form()
        page = client.post("/boxes/A1/visit", data=sent, follow_redirects=False)
        assert page.status_code == 200
        assert "13 would fit" in page.text
        assert 'name="shown" value="age"' in page.text
        assert 'name="young_days" value="3"' in page.text
        assert len(rows(trail)) == before
        again = sent | {"shown": "age", "confirmed": "age"}
        assert client.post("/boxes/A1/visit", data=again, follow_redirects=False).status_code == 303
        assert rows(trail)[-1]["confirmed"] == "age"
        unanswered = form(shown="age", date="2026-06-03")
        saved = client.post("/boxes/A1/visit", data=unanswered, follow_redirects=False)
        assert saved.status_code == 303
        assert rows(trail)[-1]["confirmed"] is None
        right = form(date="2026-06-04", young_days="15")
        page = client.post("/boxes/A1/visit", data=right, follow_redirects=False)
        assert page.status_code == 200  # it contradicts the two that were saved
        assert "15 days old" in page.text


def test_the_api_answers_what_it_would_ask_and_saves_nothing(
    client: TestClient, trail: Path
) -> None:
    with client:
        client.post("/api/visits", json=FIRST)
        before = len(rows(trail))
        asked = client.post("/api/visits/questions", json=SLIP).json()["questions"]
        assert [(one["kind"], one["columns"]) for one in asked] == [
            ("age", ["young_days", "young"])
        ]
        assert asked[0]["reading"].startswith("The age sets the day of hatching")
        for plain in (SLIP | {"young_days": 13}, SLIP | {"confirmed": "age"}):
            assert client.post("/api/visits/questions", json=plain).json() == {"questions": []}
        assert len(rows(trail)) == before
        saved = client.post("/api/visits", json=SLIP | {"confirmed": "age"})
        assert (saved.status_code, saved.json()["confirmed"]) == (201, "age")


def test_import_asks_about_new_rows_and_check_lists_what_was_not_confirmed(
    trail: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "visits.csv"
    header = "box,date,species,young,young_days,confirmed\n"
    first, slip = "A1,2025-05-25,eastern bluebird,5,5,", "A1,2025-06-02,eastern bluebird,5,3,"
    table.write_text(f"{header}{first}\n{slip}\n", encoding="utf-8")
    line = "box A1, 2025-06-02: Judged 3 days old on 2 June, 8 days after they were judged 5"
    for more in (["--dry-run"], []):
        assert main(["add", "visits", str(table), str(trail), *more]) == 0
        assert f"Please check: {line}" in capsys.readouterr().out
    main(["add", "visits", str(table), str(trail)])
    assert "Please check" not in capsys.readouterr().out
    assert main(["check", str(trail)]) == 0
    assert "13 would fit" in capsys.readouterr().out
    (stored,) = (row for row in rows(trail) if row["seen_on"] == "2025-06-02")
    table.write_text(
        "visit_id,box,date,species,young,young_days,confirmed,replaces\n"
        f"{uuid.uuid4()},A1,2025-06-02,eastern bluebird,5,3,age,{stored['visit_id']}\n",
        encoding="utf-8",
    )
    main(["add", "visits", str(table), str(trail)])
    assert "Please check" not in capsys.readouterr().out
    main(["check", str(trail)])
    out = capsys.readouterr().out
    assert "2025-06-02" not in out
    assert date.today().isoformat() not in out
