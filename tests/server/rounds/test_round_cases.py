"""Bad and odd trails: one clear message on the command line, in the API and on the page."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from shapely import Polygon

from layers.trail.store import Trail
from server.app import create_app
from server.command import CALLER_AT_FAULT, main
from server.rounds.planning import NO_START
from server.settings import ServerSettings
from tests.server.conftest import HOST
from tests.server.conftest import ON as DAY
from tests.server.small_trail import GATE, LANE, at, line, make_trail

FAR_GATE = GATE | {"geometry": at(0, 60)}
ISLAND = {"name": "Island Path", "geometry": line((3, 4), (6, 4))}
EIGHT = {"name": "Eight", "geometry": line((1, 0), (3, 2), (3, 1), (1, 2), (0, 0))}
POINT_PATH = {"name": "Stump", "geometry": line((4, 0), (4, 0))}
SHUT = Polygon([at(4, 0.2), at(6, 0.2), at(6, 2), at(4, 2)])
KEEP_OUT = {"name": "Reeds", "kind": "keep_out", "geometry": SHUT}
ONE_BOX = {"A1": at(3, 0.1)}
THREE = {"A1": at(3, 0.1), "A2": at(5, 0.1), "A3": at(7, 0.1)}
TOGETHER = dict.fromkeys(("A1", "A2", "A3"), at(3, 0.1))
SEEN_TODAY = [{"box": "A1", "seen_on": "2026-06-03", "nest": "none"}]


@dataclass
class Faces:
    """The three faces of rounds, on one trail."""

    trail: Path
    client: TestClient
    capsys: pytest.CaptureFixture[str]

    def refused(self, query: str, *words: str) -> tuple[str, str, str]:
        """What each face says where it can give no round."""
        assert main(["walk", str(self.trail), "--on", DAY.isoformat(), *words]) == CALLER_AT_FAULT
        answer = self.client.get(f"/api/round?{query}")
        page = self.client.get(f"/round?{query}", headers={"Accept": "text/html"})
        assert answer.status_code == page.status_code == 422
        (alert,) = re.findall(r'role="alert">(.*?)</div>', page.text, re.DOTALL)
        return self.capsys.readouterr().err, answer.json()["detail"], html.unescape(alert)

    def found(self, query: str, *words: str) -> tuple[dict[str, Any], str]:
        """The round, the same for command and API, and the text of its page."""
        words = ("--on", DAY.isoformat(), "--json", *words)
        assert main(["walk", str(self.trail), *words]) == 0
        told: dict[str, Any] = json.loads(self.capsys.readouterr().out)
        answer = self.client.get(f"/api/round?{query}")
        assert answer.status_code == 200
        assert answer.json() == told
        page = self.client.get(f"/round?{query}", headers={"Accept": "text/html"})
        assert page.status_code == 200
        assert self.client.get(f"/round/sheet?{query}").status_code == 200
        return told, html.unescape(page.text)


@pytest.fixture
def faces(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> Callable[..., Faces]:
    def open_faces(**given: Any) -> Faces:
        trail = make_trail(tmp_path / "case.gpkg", **given)
        client = TestClient(create_app(ServerSettings(trail=trail, on=DAY)), base_url=HOST)
        client.__enter__()
        request.addfinalizer(lambda: client.__exit__(None, None, None))
        return Faces(trail, client, capsys)

    return open_faces


def test_a_trail_without_a_start_begins_at_a_box_and_says_so(faces: Callable[..., Faces]) -> None:
    trail = faces(boxes=ONE_BOX, places=())
    told, page = trail.found("set=all")
    (stop,) = told["stops"]
    assert (stop["box"], stop["instruction"]) == ("A1", "A1 is here")
    assert NO_START in told["warnings"]
    assert "from box A1 to box A1" in page
    # The link of a walk names where it begins.
    again, _ = trail.found(
        "set=boxes&boxes=A1&order=given&from=box+A1",
        "--boxes",
        "A1",
        "--from",
        "box A1",
        "--like",
        "A1",
    )
    assert again["from"] == "box A1"
    assert NO_START in page


def test_a_start_off_the_network_is_named_with_the_reason(faces: Callable[..., Faces]) -> None:
    for said in faces(boxes=ONE_BOX, places=[FAR_GATE]).refused("set=all"):
        assert "start that can be reached by the paths" in said
        assert "Gate: it is more than 5000 m from every path" in said


def test_a_box_on_another_island_is_left_out(faces: Callable[..., Faces]) -> None:
    boxes = {"A1": at(3, 0.1), "B1": at(5, 4.1)}
    told, page = faces(boxes=boxes, paths=[LANE, ISLAND]).found("set=all")
    assert [stop["box"] for stop in told["stops"]] == ["A1"]
    assert told["left_out"][0]["box"] == "B1"
    assert "does not connect with the start" in told["left_out"][0]["reason"]
    assert "does not connect with the start" in page
    assert "Island Path" in " ".join(told["path_notes"])


def test_boxes_at_one_point_share_one_stop(faces: Callable[..., Faces]) -> None:
    told, page = faces(boxes=TOGETHER).found("set=all")
    assert [(stop["box"], stop["order"]) for stop in told["stops"]] == [
        ("A1", 1),
        ("A2", 1),
        ("A3", 1),
    ]
    assert page.count('<li id="stop-') == 1


def test_one_box_is_there_and_back(faces: Callable[..., Faces]) -> None:
    told, page = faces(boxes=ONE_BOX).found("set=all")
    assert [stop["box"] for stop in told["stops"]] == ["A1"]
    assert told["length_m"] == pytest.approx(2 * told["stops"][0]["leg_m"], abs=0.2)
    assert "<b>1</b> box<" in page


def test_nothing_due_is_said_and_no_error(faces: Callable[..., Faces]) -> None:
    told, page = faces(boxes=ONE_BOX, visits=SEEN_TODAY).found("set=due", "--due")
    assert told["stops"] == []
    assert "There is no box to visit." in page


def test_a_budget_too_small_for_any_box_leaves_all_out_with_reasons(
    faces: Callable[..., Faces],
) -> None:
    told, page = faces(boxes=THREE).found("set=all&minutes=3", "--minutes", "3")
    assert told["stops"] == []
    assert len(told["left_out"]) == 3
    assert all("it alone takes" in left["reason"] for left in told["left_out"])
    assert "No box can be visited" in page
    assert page.count("it alone takes") == 3


def test_a_path_with_one_vertex_is_named_and_the_rest_is_walked(
    faces: Callable[..., Faces],
) -> None:
    told, page = faces(boxes=ONE_BOX, paths=[LANE, POINT_PATH]).found("set=all")
    assert told["path_notes"] == ["Stump is not used: it has only one vertex."]
    assert "Stump is not used: it has only one vertex." in page


def test_a_track_that_crosses_itself_is_walked(faces: Callable[..., Faces]) -> None:
    told, _ = faces(boxes={"A1": at(3, 1.5)}, paths=[EIGHT]).found("set=all")
    assert [stop["box"] for stop in told["stops"]] == ["A1"]


def test_a_box_in_a_keep_out_zone_is_left_out(faces: Callable[..., Faces]) -> None:
    boxes = {"A1": at(3, 0.1), "B1": at(5, 1)}
    told, page = faces(boxes=boxes, zones=[KEEP_OUT]).found("set=all")
    reason = "it stands in keep-out zone (Reeds)"
    assert told["left_out"] == [{"box": "B1", "reason": reason}]
    assert f'href="/boxes/B1">B1</a>: {reason}' in page


def test_a_trail_without_paths_is_walked_straight_and_says_so(faces: Callable[..., Faces]) -> None:
    told, page = faces(boxes=THREE, paths=()).found("set=all")
    assert told["straight"] is True
    assert "The trail has no paths: legs are straight" in page
    assert "climb <b>not known</b>" in page


def test_an_empty_trail_is_no_error(faces: Callable[..., Faces]) -> None:
    told, page = faces(boxes={}).found("set=all")
    assert told["stops"] == []
    assert "There is no box to visit." in page


def test_a_hazard_near_the_way_is_named(faces: Callable[..., Faces]) -> None:
    places = [GATE, {"name": "Old well", "kind": "hazard", "geometry": at(2, 0.05)}]
    told, page = faces(boxes=ONE_BOX, places=places).found("set=all")
    assert told["warnings"] == ["Hazard near the way: Old well."]
    assert "Hazard near the way: Old well." in page


def test_nothing_from_the_trail_runs_on_a_page(faces: Callable[..., Faces]) -> None:
    hostile = "<script>window.broken = 1</script>\"'&"
    trail = faces(
        boxes={"A1": at(3, 0.1), hostile: at(5, 0.1)},
        paths=[LANE | {"name": hostile}],
        places=[GATE | {"name": hostile}, {"name": hostile, "kind": "hazard", "geometry": at(2)}],
        zones=[KEEP_OUT | {"name": hostile}],
    )
    for address in ("/round?set=all", "/round/sheet?set=all"):
        page = trail.client.get(address).text
        assert "<script>window" not in page
        assert "&lt;script&gt;" in page


def test_a_round_named_in_a_link_keeps_ids_of_any_sign(faces: Callable[..., Faces]) -> None:
    boxes = {"A 1": at(3, 0.1), "B,2": at(5, 0.1), "C/3;": at(7, 0.1)}
    trail = faces(boxes=boxes)
    page = trail.client.get("/round?set=all").text
    (link,) = re.findall(r'href="(/field\?[^"]+)">this walk', page)
    again = trail.client.get(html.unescape(link).replace("/field", "/api/round", 1))
    assert [stop["box"] for stop in again.json()["stops"]] == [
        stop["box"] for stop in trail.client.get("/api/round?set=all").json()["stops"]
    ]


def test_a_walk_opened_again_keeps_its_order_also_where_another_is_quicker(
    faces: Callable[..., Faces],
) -> None:
    client = faces(boxes=THREE).client
    told = client.get("/api/round?set=boxes&boxes=A3,A1,A2&order=given").json()
    assert [stop["box"] for stop in told["stops"]] == ["A3", "A1", "A2"]
    assert told["length_m"] > client.get("/api/round?set=all").json()["length_m"]


def test_a_visit_saved_on_the_way_leaves_the_fixed_round_as_it_is(
    faces: Callable[..., Faces],
) -> None:
    trail = faces(boxes=THREE)
    page = trail.client.get("/round?set=due").text
    (link,) = re.findall(r'href="(/field\?[^"]+)">this walk', page)
    api = html.unescape(link).replace("/field", "/api/round", 1)
    before = [stop["box"] for stop in trail.client.get(api).json()["stops"]]
    with Trail.open(trail.trail) as opened:
        opened.add_rows("visits", SEEN_TODAY)
    assert [stop["box"] for stop in trail.client.get(api).json()["stops"]] == before
    due = trail.client.get("/api/round?set=due").json()
    assert sorted(stop["box"] for stop in due["stops"]) == ["A2", "A3"]


def test_a_box_with_hours_is_visited_within_them_on_every_face(
    faces: Callable[..., Faces],
) -> None:
    query = "set=all&leave=08:00&window=A1=10:00-11:00,+A9=-09:00"
    hours = ("--leave", "08:00", "--window", "A1=10:00-11:00", "--window", "A9=-09:00")
    boxes = THREE | {"A9": at(8, 0.1)}
    trail = faces(boxes=boxes)
    told, page = trail.found(query, *hours)
    stops = {stop["box"]: stop for stop in told["stops"]}
    assert told["stops"][-1]["box"] == "A1", "the others are visited before its hours begin"
    assert stops["A1"]["waits"] > 0.0
    assert stops["A9"]["arrives"] <= "09:00"
    assert re.search(r"at 0\d:\d\d, wait (1 h )?\d+ min, 5 min", page)
    assert "window=A1=10:00-11:00" in html.unescape(page).replace("%3D", "=")
    assert 'value="A1=10:00-11:00, A9=-09:00"' in page
    assert main(["walk", str(trail.trail), "--on", DAY.isoformat(), *hours]) == 0
    assert re.search(r"; wait (1 h )?\d+ min", trail.capsys.readouterr().out)


def test_hours_that_cannot_be_kept_leave_the_box_out_and_hours_of_others_are_not_used(
    faces: Callable[..., Faces],
) -> None:
    words = ("--boxes", "A1", "A2", "--window", "A1=08:00-08:01", "--window", "A3=09:00-10:00")
    query = "set=boxes&boxes=A1,A2&window=A1=08:00-08:01&window=A3=09:00-10:00"
    told, page = faces(boxes=THREE).found(query, *words)
    (left,) = told["left_out"]
    assert left["box"] == "A1"
    assert "too late for its hours" in left["reason"]
    assert "A3 is not in this round: its hours are not used." in told["warnings"]
    assert "too late for its hours" in page


def test_hours_that_end_before_they_begin_are_refused(faces: Callable[..., Faces]) -> None:
    words = ("--window", "A1=10:00-09:00")
    for text in faces(boxes=THREE).refused("set=all&window=A1=10:00-09:00", *words):
        assert "hours of A1 that begin before they end" in text
