"""Boxes and paths of a file go in by recipe and on the page; what was a mistake goes out again."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from layers.errors import BadValue, Conflict
from layers.trail.removing import numbers_of, remove
from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.settings import ServerSettings
from tests.server.small_trail import LANE, at, make_trail
from tests.trail.importing.vector_files import GPX, segment, waypoint

TODAY = date(2026, 7, 1)
WAYPOINTS = GPX.format(
    waypoint("N1", -77.9, 42.602)
    + waypoint("N2", -77.901, 42.602)
    + waypoint("N3", 77.9, 42.602)
    + waypoint("PARKING", -77.902, 42.602)
)
ANSWERS = {"waypoints:PARKING": "start", "places:far away": "leave out"}
RIDE = segment((-77.9, 42.6), (0, 0), (-77.901, 42.6), (-77.902, 42.6))
TRACK = GPX.format(
    f"<trk><name>Ride</name>{RIDE}</trk><trk><name>Nothing</name>{segment((-77.9, 42.6))}</trk>"
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    boxes = {"1": at(1), "2": at(2)}
    visits = [{"box": "1", "seen_on": "2026-05-14", "visit_id": "v", "eggs": 5}]
    return make_trail(tmp_path / "small.gpkg", boxes=boxes, visits=visits)


@pytest.fixture
def client(path: Path) -> Iterator[TestClient]:
    app = create_app(ServerSettings(trail=path, on=TODAY))
    with TestClient(app, base_url="http://127.0.0.1") as opened:
        yield opened


def boxes_of(path: Path) -> list[str]:
    with Trail.open(path) as trail:
        return sorted(trail.box_ids())


def test_waypoints_that_are_no_boxes_become_places_by_recipe(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, recipe = tmp_path / "w.gpx", tmp_path / "w.toml"
    source.write_text(WAYPOINTS, encoding="utf-8")
    assert main(["add", "boxes", str(source), str(path)]) == 2
    assert "Is the waypoint 'PARKING' a box?" in capsys.readouterr().err
    assert main(["add", "boxes", str(source), str(path), "--propose", str(recipe)]) == 0
    assert main(["add", "boxes", str(source), str(path), "--recipe", str(recipe)]) == 2
    assert "an answer to: Some places are far" in capsys.readouterr().err
    assert boxes_of(path) == ["1", "2"]
    text = recipe.read_text(encoding="utf-8")
    for key, value in ANSWERS.items():
        item = key.partition(":")[2]
        assert f'"{item}" = "?"' in text
        text = text.replace(f'"{item}" = "?"', f'"{item}" = "{value}"')
    recipe.write_text(text, encoding="utf-8")
    assert main(["add", "boxes", str(source), str(path), "--recipe", str(recipe)]) == 0
    assert "2 boxes and 1 place added" in capsys.readouterr().out
    with Trail.open(path) as trail:
        assert boxes_of(path) == ["1", "2", "N1", "N2"]
        assert trail.places()[["name", "kind"]].to_numpy().tolist()[1:] == [["PARKING", "start"]]
    # The next file has no question about PARKING; a place far away is a question in each file.
    again = GPX.format(waypoint("N4", -77.9, 42.603) + waypoint("PARKING", -77.902, 42.602))
    source.write_text(again, encoding="utf-8")
    assert main(["add", "boxes", str(source), str(path)]) == 0
    assert boxes_of(path)[-1] == "N4"
    source.write_text(WAYPOINTS, encoding="utf-8")
    recipe.write_text(recipe.read_text("utf-8").replace("content = ", 'content = "x" # '), "utf-8")
    assert main(["add", "boxes", str(source), str(path), "--recipe", str(recipe)]) == 2
    assert "as it was when w.toml was made" in capsys.readouterr().err


def test_paths_go_in_without_vertices_that_no_walk_has(path: Path, client: TestClient) -> None:
    sent = client.post("/import", data={"kind": "paths"}, files={"file": ("t.gpx", TRACK)})
    assert "Add these paths without such vertices?" in sent.text
    assert "tracks without two points" in sent.text
    refused = client.post(f"{sent.url}/add")
    assert refused.status_code == 422 and "an answer to" in refused.text
    (waiting,) = path.parent.glob("*.imports/*/file/t.gpx")
    waiting.write_text(TRACK.replace("Ride", "Path"), encoding="utf-8")
    changed = client.post(f"{sent.url}/add")
    assert changed.status_code == 404 and "changed since it was handed in" in changed.text
    waiting.write_text(TRACK, encoding="utf-8")
    page = client.post(f"{sent.url}/answers", data={"answer:shapes:wrong vertices": "without them"})
    assert "1 path can be added" in page.text
    assert "1 path added" in client.post(f"{sent.url}/add").text
    with Trail.open(path) as trail:
        ride = trail.paths().iloc[1]
        assert (ride["name"], len(ride.geometry.coords)) == ("Ride", 3)


def test_boxes_go_from_the_page_to_the_trail_with_a_sketch(path: Path, client: TestClient) -> None:
    sent = client.post("/import", data={"kind": "boxes"}, files={"file": ("w.gpx", WAYPOINTS)})
    assert "2 questions" in sent.text and 'class="box odd"' in sent.text
    assert "N3: 12," in sent.text or "N3: 11," in sent.text or "N3: 10," in sent.text
    data = {f"answer:{key}": value for key, value in ANSWERS.items()}
    page = client.post(f"{sent.url}/answers", data=data)
    assert "2 boxes and 1 place can be added" in page.text and 'class="start"' in page.text
    app = create_app(ServerSettings(trail=path, on=TODAY))
    with TestClient(app, base_url="http://127.0.0.1") as other:
        assert "2 boxes and 1 place can be added" in other.get(str(sent.url)).text
    assert "2 boxes and 1 place added" in client.post(f"{sent.url}/add").text
    assert client.get("/boxes/N1").status_code == 200
    # By mistake: out again, on the page.
    page = client.get("/import/remove")
    assert "N1" in page.text and 'value="1"' not in page.text.partition("Paths")[0]
    with Trail.open(path) as trail:
        ticked = numbers_of(trail, "boxes", ["N1", "N2"])
    page = client.post("/import/remove/boxes", data={"fid": ticked})
    assert "2 boxes removed" in page.text
    assert client.get("/boxes/N1").status_code == 404
    assert boxes_of(path) == ["1", "2"]
    assert client.post("/import/remove/boxes", data={"fid": [1]}).status_code == 409
    assert client.post("/import/remove/boxes", data={}).status_code == 422


def test_what_was_added_by_mistake_is_removed_by_command(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Trail.open(path) as trail:
        trail.add_rows("boxes", [{"box": "3", "pair": "2", "geometry": at(3)}])
        trail.add_rows("paths", [LANE])
        with pytest.raises(Conflict, match=r"have visits, which are never deleted: 1 \(1\)"):
            remove(trail, "boxes", numbers_of(trail, "boxes", ["1"]))
        with pytest.raises(Conflict, match="3 with 2"):
            remove(trail, "boxes", numbers_of(trail, "boxes", ["2"]))
        with pytest.raises(BadValue, match="'#1', '#2'"):
            numbers_of(trail, "paths", ["Lane"])
    assert main(["remove", "boxes", str(path), "2", "3"]) == 0
    assert main(["remove", "paths", str(path), "#2"]) == 0
    assert "1 paths removed" in capsys.readouterr().out
    assert main(["remove", "places", str(path), "no such"]) == 2
    assert boxes_of(path) == ["1"]
    assert main(["check", str(path)]) in (0, 1)


def test_boxes_that_are_read_otherwise_than_the_page_showed_are_not_added(
    path: Path, client: TestClient
) -> None:
    sent = client.post("/import", data={"kind": "boxes"}, files={"file": ("w.gpx", WAYPOINTS)})
    data = {f"answer:{key}": value for key, value in ANSWERS.items()}
    page = client.post(f"{sent.url}/answers", data=data).text
    shown = {"reading": page.partition('name="reading" value="')[2].partition('"')[0]}
    client.post(f"{sent.url}/answers", data={"answer:waypoints:PARKING": "landmark"})
    refused = client.post(f"{sent.url}/add", data=shown)
    assert refused.status_code == 409 and "is read otherwise now" in refused.text
    assert boxes_of(path) == ["1", "2"]


def test_a_file_that_changes_while_its_questions_are_answered_is_not_added(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "w.gpx"
    source.write_text(WAYPOINTS, encoding="utf-8")

    class Keyboard(io.StringIO):
        def isatty(self) -> bool:
            return True

        def readline(self, *_: object) -> str:  # type: ignore[override]
            source.write_text(WAYPOINTS.replace("N1", "N9"), encoding="utf-8")
            return "1\n"

    monkeypatch.setattr("sys.stdin", Keyboard())
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert main(["add", "boxes", str(source), str(path)]) == 2
    assert "w.gpx changed while its questions were answered" in capsys.readouterr().err
    assert boxes_of(path) == ["1", "2"]


def test_an_answer_is_asked_for_where_the_coordinates_state_no_system(
    path: Path, tmp_path: Path
) -> None:
    source = tmp_path / "utm.csv"
    source.write_text("My boxes\nBox,UTM E,UTM N\n7,262200,4720000\n", encoding="utf-8")
    recipe = tmp_path / "r.toml"
    assert main(["add", "boxes", str(source), str(path), "--propose", str(recipe)]) == 0
    text = recipe.read_text(encoding="utf-8")
    assert "likely: EPSG:32618" in text
    recipe.write_text(text.replace('"?"', '"EPSG:32618"'), encoding="utf-8")
    assert main(["add", "boxes", str(source), str(path), "--recipe", str(recipe)]) == 0
    assert boxes_of(path) == ["1", "2", "7"]
