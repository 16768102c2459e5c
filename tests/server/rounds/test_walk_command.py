"""Rounds and lengths on the command line: what is walked, written and refused."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import gpxpy
import pytest
import shapely

from layers.nesting.due import LEAVE, OPEN, Due
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.walking.nearest import WGS84
from server.command import CALLER_AT_FAULT, WORLD_AT_FAULT, main
from server.live.contents import Contents

ON = "2026-06-03"
CLOSED = "it is not to be visited: the keeper has closed this box"
GATE = shapely.Point(-77.9, 42.601)


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """A trail of two boxes and one that has no place, without paths or places."""
    path = tmp_path / "bare.gpkg"
    boxes = [("A1", shapely.Point(-77.9, 42.6)), ("A2", shapely.Point(-77.901, 42.6)), ("A3", None)]
    with Trail.create(path, Settings(name="Bare", timezone="America/New_York")) as trail:
        trail.add_rows("boxes", [{"box": box, "geometry": point} for box, point in boxes])
    return path


def run(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> str:
    assert main([str(word) for word in words]) == code
    captured = capsys.readouterr()
    return captured.out if code == 0 else captured.out + captured.err


def walked(capsys: pytest.CaptureFixture[str], trail: Path, *words: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(
        run(capsys, "walk", trail, "--on", ON, "--json", *words),
    )
    return found


def boxes_of(found: dict[str, Any]) -> list[str]:
    return [stop["box"] for stop in found["stops"]]


def dues_of(trail: Path) -> dict[str, Due]:
    with Trail.open(trail) as opened:
        return {one.box: one for one in Contents.read(opened).due(date.fromisoformat(ON))}


def test_json_of_a_walk_has_the_promised_keys(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    found = walked(capsys, built, "--boxes", "P01", "P02")
    whole = "on, from, to, stops, length_m, minutes, climb_m, left_out, geometry, proof, path_notes"
    assert set(whole.split(", ")) <= set(found)
    assert {"box", "order", "leg_m", "leg_minutes", "climb_m", "off_path_m", "approach"} <= set(
        found["stops"][0]
    )
    assert found["from"] == found["to"] == "Car park"
    assert found["path_notes"] == ["Old Bobolink Path is not used: it is closed."]


def test_every_box_that_stands_and_may_be_visited_is_visited_once(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    found = walked(capsys, built)
    open_to_visits = [one.box for one in dues_of(built).values() if one.approach != LEAVE]
    assert 0 < len(open_to_visits) < 60
    assert sorted(boxes_of(found)) == sorted(open_to_visits)
    assert found["left_out"] == [{"box": "N07", "reason": CLOSED}]


def test_due_boxes_are_those_of_the_due_list(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    due = [one.box for one in dues_of(built).values() if one.due]
    assert due
    assert sorted(boxes_of(walked(capsys, built, "--due"))) == sorted(due)


def test_the_day_of_the_due_list_may_stand_behind_it(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    found = json.loads(run(capsys, "walk", built, "--due", "2026-05-20", "--json"))
    assert found["on"] == "2026-05-20"
    assert boxes_of(found) != boxes_of(walked(capsys, built, "--due"))


def test_two_different_days_are_refused(capsys: pytest.CaptureFixture[str], built: Path) -> None:
    words = ("walk", built, "--due", "2026-05-20", "--on", ON)
    told = run(capsys, *words, code=CALLER_AT_FAULT)
    assert told == f"Expected one day, got --due 2026-05-20 and --on {ON}\n"


def test_a_section_is_meant_in_any_case(capsys: pytest.CaptureFixture[str], built: Path) -> None:
    found = walked(capsys, built, "--section", "mill wood", "NORTH HEDGE")
    assert {box[0] for box in boxes_of(found)} == {"M", "N"}


def test_boxes_named_by_hand_are_visited_once_also_out_of_service(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    with Trail.open(built) as trail:
        gone = next(box for box in trail.boxes()["box"] if box not in dues_of(built))
    found = walked(capsys, built, "--boxes", gone, "m02", "M02")
    assert sorted(boxes_of(found)) == sorted([gone, "M02"])


def test_a_closed_box_named_by_hand_is_looked_at_from_the_path(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    found = walked(capsys, built, "--boxes", "N07")
    (stop,) = found["stops"]
    assert (stop["box"], stop["approach"]) == ("N07", "watch from a distance; do not open")


def test_a_round_may_begin_and_end_at_named_places(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    found = walked(capsys, built, "--boxes", "M02", "--from", "alder barn", "--to", "Old mill")
    assert (found["from"], found["to"]) == ("Alder Barn", "Old mill")
    assert found["stops"][0]["from"] == "Alder Barn"
    assert found["walks"][0]["home"]["to"] == "Old mill"


def test_what_does_not_fit_the_time_is_left_out_with_a_reason(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    found = walked(capsys, built, "--section", "Pond Meadow", "--minutes", "60")
    left_out = [left["box"] for left in found["left_out"]]
    assert found["minutes"] <= 60.0
    assert left_out
    assert set(left_out).isdisjoint(boxes_of(found))
    told = run(capsys, "walk", built, "--on", ON, "--section", "Pond Meadow", "--minutes", "60")
    assert re.search(rf"^{left_out[0]}\s+more urgent boxes", told, re.MULTILINE)


def test_time_at_each_box_and_the_pace_are_counted(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    box = next(one.box for one in dues_of(built).values() if not one.due and one.approach == OPEN)
    words = ("--boxes", box, "--pace", "4", "--stop-minutes")
    short, long = (walked(capsys, built, *words, minutes) for minutes in (1, 11))
    assert long["minutes"] - short["minutes"] == pytest.approx(10.0)
    faster = walked(capsys, built, "--boxes", box, "--pace", "8", "--stop-minutes", "1")
    assert (short["minutes"] - 1) / (faster["minutes"] - 1) == pytest.approx(2.0, rel=0.01)


def test_walkers_share_the_boxes(capsys: pytest.CaptureFixture[str], built: Path) -> None:
    words = ("--section", "Pond Meadow", "--walkers", "2")
    found = walked(capsys, built, *words)
    assert {stop["walker"] for stop in found["stops"]} == {1, 2}
    assert len(set(boxes_of(found))) == len(boxes_of(found))
    told = run(capsys, "walk", built, "--on", ON, *words)
    assert "Walker 2\n" in told
    assert "All walks together" in told


def test_a_round_is_told_as_a_numbered_list(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    told = run(capsys, "walk", built, "--on", ON, "--boxes", "P01", "P02")
    assert "from Car park (the first start of the trail) to Car park" in told
    assert re.search(r"2 boxes, [\d.]+ k?m, \d+ min, climb \d+ m; leaving at 08:00, back at", told)
    assert re.search(r"^1\s+08:\d\d\s+P0\d\s+follow .* off the path$", told, re.MULTILINE)
    assert re.search(r"^\s+\d\d:\d\d\s+Car park\s+follow ", told, re.MULTILINE)
    assert told.endswith("Proven: no round over these boxes is quicker.\n")


def test_the_time_of_leaving_sets_the_time_of_return(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    words = ("walk", built, "--on", ON, "--boxes", "P01", "--leave")
    early, late = (run(capsys, *words, leave) for leave in ("6:05", "18:05"))
    back = re.search(r"leaving at 06:05, back at 06:(\d\d)", early)
    assert back
    assert f"leaving at 18:05, back at 18:{back[1]}" in late


def test_the_sheet_is_one_page_that_needs_no_server(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path
) -> None:
    target = tmp_path / "sheet.html"
    found = walked(capsys, built, "--due", "--sheet", target)
    page = target.read_text(encoding="utf-8")
    assert not re.search(r"""(src|href)=["']""", page)
    assert all(f"<b>{box}</b>" in page for box in boxes_of(found))


def test_lengths_are_told_in_the_units_of_the_trail(
    capsys: pytest.CaptureFixture[str], trail_path: Path
) -> None:
    run(capsys, "settings", trail_path, "--units", "us")
    assert re.search(r"[\d.]+ mi, ", run(capsys, "walk", trail_path, "--boxes", "P01"))
    assert re.search(r"Hide Spur +\d+ ft", run(capsys, "length", trail_path))


def test_the_gpx_holds_the_boxes_and_a_track_as_long_as_the_round(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path
) -> None:
    target = tmp_path / "round.gpx"
    found = walked(capsys, built, "--section", "Pond Meadow", "--gpx", target)
    read = gpxpy.parse(target.read_text(encoding="utf-8"))
    names = [str(point.name) for point in read.waypoints]
    assert names[0] == "Car park"
    boxes = boxes_of(found)
    assert [name.split(maxsplit=1)[1] for name in names[1 : len(boxes) + 1]] == boxes
    points = read.tracks[0].segments[0].points
    length_m = WGS84.line_length([p.longitude for p in points], [p.latitude for p in points])
    assert length_m == pytest.approx(found["length_m"], abs=0.1)


def test_a_file_that_is_there_is_never_written_over(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path
) -> None:
    target = tmp_path / "notes.gpx"
    target.write_text("mine", encoding="utf-8")
    told = run(capsys, "walk", built, "--boxes", "P01", "--gpx", target, code=CALLER_AT_FAULT)
    assert told == "Expected a new file name, got notes.gpx, which exists\n"
    assert target.read_text(encoding="utf-8") == "mine"


def test_a_file_that_cannot_be_written_is_said(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path
) -> None:
    target = tmp_path / "nowhere" / "round.gpx"
    told = run(capsys, "walk", built, "--boxes", "P01", "--gpx", target, code=WORLD_AT_FAULT)
    assert "cannot be written: No such file" in told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--boxes", "M1"), "the id of a box (nearest: M15, M14, M13), got 'M1'"),
        (("--section", "pond medow"), "(nearest: Pond Meadow), got 'pond medow'"),
        (("--from", "alder bar"), "a place of the trail (nearest: Alder Barn, Old oak), got"),
        (("--to", "moon"), "a place of the trail"),
        (("--pace", "naismit"), "(nearest: naismith), got 'naismit', column pace"),
        (("--minutes", "0"), "more than 0 minutes"),
        (("--minutes", "nan"), "more than 0 minutes"),
        (("--minutes", "inf"), "none for no limit"),
        (("--leave", "25:00"), "a time of day like 08:30, got '25:00', column leave"),
        (("--walkers", "0"), "1 to 20 walkers"),
        (("--stop-minutes", "-1"), "from 0 to a day"),
    ],
)
def test_what_is_asked_wrongly_is_one_sentence(
    capsys: pytest.CaptureFixture[str], built: Path, words: tuple[str, ...], said: str
) -> None:
    told = run(capsys, "walk", built, *words, code=CALLER_AT_FAULT)
    assert said in told
    assert told.count("\n") == 1


def test_two_ways_to_choose_boxes_are_refused(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["walk", str(built), "--due", "--boxes", "P01"])
    assert "not allowed with" in capsys.readouterr().err


def test_a_trail_without_a_start_or_a_box_says_what_to_add(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "empty.gpkg"
    Trail.create(path, Settings(name="Empty", timezone="America/New_York")).close()
    told = run(capsys, "walk", path, code=CALLER_AT_FAULT)
    assert "add one of kind start with boxround add places" in told


def test_a_trail_without_paths_is_walked_straight_and_says_so(
    capsys: pytest.CaptureFixture[str], bare: Path
) -> None:
    with Trail.open(bare) as trail:
        trail.add_rows("places", [{"name": "Gate", "kind": "start", "geometry": GATE}])
    told = run(capsys, "walk", bare, "--on", ON)
    assert "climb not known" in told
    assert "The trail has no paths: legs are straight" in told
    assert re.search(r"^A3\s+it has no place on the map$", told, re.MULTILINE)


def test_a_day_with_nothing_due_is_no_error(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "fresh.gpkg"
    with Trail.create(path, Settings(name="Fresh", timezone="America/New_York")) as trail:
        trail.add_rows("boxes", [{"box": "A1", "geometry": shapely.Point(-77.9, 42.6)}])
        trail.add_rows("visits", [{"box": "A1", "seen_on": ON, "nest": "none"}])
        trail.add_rows("places", [{"name": "Gate", "kind": "start", "geometry": GATE}])
    found = walked(capsys, path, "--due")
    assert (found["stops"], found["warnings"]) == ([], ["There is no box to visit."])


def test_the_lengths_of_the_paths_add_up(capsys: pytest.CaptureFixture[str], built: Path) -> None:
    found = json.loads(run(capsys, "length", built, "--json"))
    with Trail.open(built) as trail:
        drawn = trail.paths()
    opened = drawn[drawn["open_to"] != "closed"]
    by_name = {path["name"]: path["length_m"] for path in found["paths"]}
    assert set(by_name) == set(opened["name"])
    assert found["length_m"] == pytest.approx(sum(by_name.values()), abs=1.0)
    # Gaps of up to 3 m at the ends of paths are closed, and overlong ends are kept.
    true_m = sum(WGS84.geometry_length(shape) for shape in opened.geometry)
    assert found["length_m"] == pytest.approx(true_m, abs=3.0 * 2 * len(opened))
    assert found["climb_m"] > found["descent_m"] > 0.0


def test_lengths_are_told_by_path_with_what_was_joined(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    told = run(capsys, "length", built)
    assert re.search(r"^Pond Loop +\d+ m +\d+ m +\d+ m$", told, re.MULTILINE)
    assert re.search(r"^all together +[\d.]+ km ", told, re.MULTILINE)
    assert "Note: Old Bobolink Path is not used: it is closed." in told


def test_climb_of_paths_without_heights_is_not_known(
    capsys: pytest.CaptureFixture[str], bare: Path
) -> None:
    line = shapely.LineString([(-77.9, 42.6), (-77.901, 42.6)])
    with Trail.open(bare) as trail:
        trail.add_rows("paths", [{"name": "Flat Path", "geometry": line}])
    found = json.loads(run(capsys, "length", bare, "--json"))
    assert found["climb_m"] is None
    assert re.search(r"Flat Path +82 m +not known", run(capsys, "length", bare))


def test_near_by_walking_agrees_with_every_box_walked_to(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    place = ("near", built, "42.6", "-77.9", "--walking", "--json", "-k")
    every = json.loads(run(capsys, *place, "100"))
    few = json.loads(run(capsys, *place, "4"))
    assert [list(each) for each in few] == [["box", "walk_m", "minutes"]] * 4
    assert len(every) == 60
    assert few == every[:4]
    assert every == sorted(every, key=lambda each: each["walk_m"])


def test_near_by_walking_is_told_and_takes_a_pace(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    place = ("near", built, "42.6", "-77.9", "--walking", "-k", "3")
    assert re.search(r"^\w\d\d +\d+ m +\d+$", run(capsys, *place), re.MULTILINE)
    slow, fast = (json.loads(run(capsys, *place, "--json", "--pace", p)) for p in ("2", "4"))
    assert slow[0]["minutes"] == pytest.approx(2 * fast[0]["minutes"], abs=0.02)


def test_near_by_walking_far_from_every_path_says_so(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    told = run(capsys, "near", built, "43.6", "-77.9", "--walking", code=CALLER_AT_FAULT)
    assert "it is more than 500 m from every path" in told


def test_near_by_walking_of_a_trail_without_boxes_is_empty(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "none.gpkg"
    Trail.create(path, Settings(name="None", timezone="America/New_York")).close()
    assert json.loads(run(capsys, "near", path, "42.6", "-77.9", "--walking", "--json")) == []
