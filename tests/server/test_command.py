"""The command line: what it prints, what it refuses, and with which exit code."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from data_demo.build import build_demo
from data_demo.demo import make_demo
from data_demo.plain_files import write_plain_files
from layers.errors import BoxroundError, EnvironmentFault
from layers.trail.store import Trail
from server.command import CALLER_AT_FAULT, COMMANDS, WORLD_AT_FAULT, main
from server.live.days import EXPECTED_DAY
from server.serving.command import _listening
from tests.server.small_trail import line, make_trail
from tests.trail.validator import faults

NEW = ("--name", "Alderbeck", "--timezone", "America/New_York")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.gpkg"
    build_demo(path)
    return path


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("files")
    write_plain_files(make_demo(), folder, year=2026)
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> str:
    """What a command prints; `code` is the exit code it must end with."""
    assert main([str(word) for word in words]) == code
    captured = capsys.readouterr()
    return captured.out if code == 0 else captured.out + captured.err


def test_help_names_every_command_and_comes_without_loading_the_rest() -> None:
    script = "import sys, server.command as c\ntry: c.main(['--help'])\nexcept SystemExit: pass\n"
    script += "assert 'numba' not in sys.modules and 'geopandas' not in sys.modules"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert all(re.search(rf"^    {name}\s", done.stdout, re.MULTILINE) for name in COMMANDS)


def test_a_trail_is_made_filled_and_reported_from_files_alone(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, files: Path
) -> None:
    trail = tmp_path / "trail.gpkg"
    assert "Made" in run(capsys, "new", trail, *NEW)
    assert "60 boxes added" in run(capsys, "add", "boxes", files / "boxes.csv", trail)
    assert "paths added" in run(capsys, "add", "paths", files / "paths.gpx", trail)
    told = run(capsys, "add", "visits", files / "visits-2026.csv", trail)
    assert re.search(r"1\d\d\d visits added\.", told)
    assert re.search(
        r"0 visits added, 1\d\d\d already there",
        run(capsys, "add", "visits", files / "visits-2026.csv", trail),
    )
    assert "60 boxes as known on 2026-06-03" in run(capsys, "status", trail, "--on", "2026-06-03")
    copy = tmp_path / "copy.gpkg"
    run(capsys, "backup", trail, copy)
    assert faults(copy) == ""


def test_a_dry_run_shows_and_adds_nothing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, files: Path
) -> None:
    trail = tmp_path / "trail.gpkg"
    run(capsys, "new", trail, *NEW)
    told = run(capsys, "add", "boxes", files / "boxes.csv", trail, "--dry-run")
    assert "60 boxes would be added" in told
    with Trail.open(trail) as opened:
        assert opened.box_ids() == []


def test_columns_of_other_names_are_mapped(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    trail, table = tmp_path / "trail.gpkg", tmp_path / "list.csv"
    table.write_text("Kasten,Breite,Länge\nA1,42.6,-77.9\n", encoding="utf-8")
    run(capsys, "new", trail, *NEW)
    told = run(
        capsys, "add", "boxes", table, trail, "--map", "box=Kasten", "lat=Breite", "lon=Länge"
    )
    assert "1 box added" in told
    assert "box from 'Kasten'" in told


def test_a_refused_file_names_every_fault(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    trail, table = tmp_path / "trail.gpkg", tmp_path / "list.csv"
    table.write_text("box,lat,lon\nA1,north,-77.9\nA2,42.6,\nA2,142.6,-77.9\n", encoding="utf-8")
    run(capsys, "new", trail, *NEW)
    told = run(capsys, "add", "boxes", table, trail, code=CALLER_AT_FAULT)
    assert "list.csv row 2" in told
    assert "list.csv row 3" in told
    assert "list.csv row 4" in told


def test_json_of_nests_has_the_promised_keys(
    capsys: pytest.CaptureFixture[str], demo: Path
) -> None:
    found = json.loads(run(capsys, "nests", demo, "--on", "2026-08-01", "--json"))
    assert {nest["season"] for nest in found} == {2026}
    promised = (
        "box, attempt, species, first_seen, last_seen, stage, eggs_max, young_max, "
        "young_fledged, fate, cause, reasons"
    )
    assert set(promised.split(", ")) <= set(found[0])


def test_nests_of_one_box_say_why(capsys: pytest.CaptureFixture[str], demo: Path) -> None:
    told = run(capsys, "nests", demo, "--box", "M05")
    assert "the guide has young of the white-breasted nuthatch leaving from day 14" in told


def test_json_of_status_holds_every_box(capsys: pytest.CaptureFixture[str], demo: Path) -> None:
    states = json.loads(run(capsys, "status", demo, "--on", "2026-06-03", "--json"))
    assert len(states) == 60
    assert {"box", "occupancy", "days_since_visit", "overdue"} <= set(states[0])


def test_status_as_known_before_the_first_visit_knows_nothing(
    capsys: pytest.CaptureFixture[str], demo: Path
) -> None:
    told = run(capsys, "status", demo, "--on", "2023-01-01", "--json")
    assert {state["occupancy"] for state in json.loads(told)} <= {"not checked", "out of service"}


def test_json_of_near_is_a_list_by_distance(capsys: pytest.CaptureFixture[str], demo: Path) -> None:
    found = json.loads(run(capsys, "near", demo, "42.6", "-77.9", "-k", "3", "--json"))
    assert [list(each) for each in found] == [["box", "distance_m", "bearing_deg", "direction"]] * 3
    distances = [each["distance_m"] for each in found]
    assert distances == sorted(distances)


def test_the_map_is_one_file(
    capsys: pytest.CaptureFixture[str], demo: Path, tmp_path: Path
) -> None:
    target = tmp_path / "map.html"
    told = run(capsys, "map", demo, "-o", target, "--theme", "fate", "--on", "2026-06-03")
    assert "exact places" in told
    assert '"theme": "fate"' in target.read_text(encoding="utf-8")


def test_lengths_are_shown_in_the_units_of_the_trail(
    capsys: pytest.CaptureFixture[str], demo: Path, tmp_path: Path
) -> None:
    own = tmp_path / "own.gpkg"
    run(capsys, "backup", demo, own)
    run(capsys, "settings", own, "--units", "us")
    assert re.search(r"\d+ ft ", run(capsys, "near", own, "42.6", "-77.9"))


def test_settings_take_words_and_a_guide_of_the_trail(
    capsys: pytest.CaptureFixture[str], demo: Path, tmp_path: Path
) -> None:
    own, figures = tmp_path / "own.gpkg", tmp_path / "own.toml"
    figures.write_text('[species."house wren"]\nincubation_days = { low = 12, high = 15 }\n')
    run(capsys, "backup", demo, own)
    told = run(capsys, "settings", own, "--add-word", "signs=moss", "--guide", figures)
    assert "signs: moss" in told
    assert "12 to 15" in run(capsys, "guide", "--trail", own, "--species", "house wren")
    told = run(capsys, "settings", own, "--add-word", "nest=moss", code=CALLER_AT_FAULT)
    assert "one of guards, signs, actions" in told


def test_every_number_of_a_species_names_its_source(capsys: pytest.CaptureFixture[str]) -> None:
    told = run(capsys, "guide", "--species", "Sialia sialis")
    assert "Myhrvold" in told
    assert "eastern bluebird" in told


def test_check_finds_nothing_wrong_with_the_demo(
    capsys: pytest.CaptureFixture[str], demo: Path
) -> None:
    assert "fault" not in run(capsys, "check", demo)


def test_check_ends_with_one_where_something_must_be_mended(
    capsys: pytest.CaptureFixture[str], demo: Path, tmp_path: Path
) -> None:
    own = tmp_path / "own.gpkg"
    run(capsys, "backup", demo, own)
    with Trail.open(own) as trail:
        trail.add_rows("visits", [{"box": "Z9", "seen_on": "2026-05-14"}])
    assert "1 visits to a box that does not exist" in run(capsys, "check", own, code=1)


def test_check_and_length_list_the_recordings_that_became_one_path(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = make_trail(
        tmp_path / "small.gpkg",
        boxes={},
        paths=[
            {"name": name, "kind": "recorded", "geometry": line((0, north), (9, north))}
            for name, north in (("April", 0.0), ("May", 0.02))
        ],
    )
    for command in ("check", "length"):
        assert "were recorded along one path and merged" in run(capsys, command, path)


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("status", "nowhere.gpkg"), WORLD_AT_FAULT, "there is no file nowhere.gpkg"),
        (("serve", "nowhere.gpkg"), WORLD_AT_FAULT, "there is no file"),
        (("new", "x.gpkg", "--name", "A", "--timezone", "Mars"), CALLER_AT_FAULT, "time zone name"),
        (("guide", "--species", "dodo"), CALLER_AT_FAULT, "Expected a species of the guide"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: int, message: str
) -> None:
    told = run(capsys, *words, code=code)
    assert message in told
    assert "Traceback" not in told


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("nests", "--box", "Z9"), "Expected the id of a box, got 'Z9'"),
        (("nests", "--box", "m05"), "Expected the id of a box (nearest: M05), got 'm05'"),
        (("near", "95", "-77.9"), "latitude"),
        (("near", "42.6", "-77.9", "-k", "0"), "at least 1"),
        (("serve", "--tiles", "https://tiles.invalid/{z}"), "--tiles and --tiles-by together"),
        (("serve", "--port", "99999"), "port"),
        (("serve", "--port", "0", "--public-port", "99999"), "a port from 0 to 65535"),
    ],
)
def test_what_is_requested_wrongly_of_a_trail_is_refused(
    capsys: pytest.CaptureFixture[str], demo: Path, words: tuple[str, ...], message: str
) -> None:
    told = run(capsys, words[0], demo, *words[1:], code=CALLER_AT_FAULT)
    assert message in told


def test_a_day_typed_wrongly_is_refused(capsys: pytest.CaptureFixture[str], demo: Path) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["status", str(demo), "--on", "14/5/2026"])
    assert f"Expected {EXPECTED_DAY}, got '14/5/2026'" in capsys.readouterr().err


def test_any_error_of_ours_ends_in_a_sentence(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, demo: Path
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise BoxroundError("A sentence.")

    monkeypatch.setattr(Trail, "open", fail)
    assert "A sentence." in run(capsys, "check", demo, code=WORLD_AT_FAULT)


def test_text_that_cannot_be_stored_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # What Python makes of an argument in another encoding than the machine's.
    words = ("new", tmp_path / "x.gpkg", "--name", "Gro\udce9", "--timezone", "UTC")
    assert "Expected text that utf-8 can hold" in run(capsys, *words, code=CALLER_AT_FAULT)


def test_a_setting_that_is_refused_leaves_boxes_as_they_were(
    capsys: pytest.CaptureFixture[str], demo: Path, tmp_path: Path
) -> None:
    own = tmp_path / "own.gpkg"
    run(capsys, "backup", demo, own)
    words = ("settings", own, "--public-box", "M01=hidden", "--visit-every-days", "0")
    run(capsys, *words, code=CALLER_AT_FAULT)
    with Trail.open(own) as trail:
        assert trail.rows("SELECT public FROM boxes WHERE box = 'M01'") != [("hidden",)]


@pytest.mark.parametrize("url", ["http://[x", "http://[x]", "trail.example.org", "https://a/b"])
def test_an_address_that_is_none_is_refused(
    capsys: pytest.CaptureFixture[str], demo: Path, url: str
) -> None:
    message = "an address like https://trail.example.org"
    assert message in run(capsys, "serve", demo, "--public-url", url, code=CALLER_AT_FAULT)
    with pytest.raises(SystemExit, match="2"):
        main(["invite", str(demo), "--name", "A", "--role", "keeper", "--public-url", url])
    assert message in capsys.readouterr().err


def test_a_host_that_cannot_be_one_is_refused() -> None:
    with pytest.raises(EnvironmentFault, match="that is no name of a host"):
        _listening("é" * 70, 0)
