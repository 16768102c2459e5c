"""The due list and the nest calendar from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import icalendar
import pytest

from layers.nesting.due.approach import APPROACHES
from layers.nesting.due.reasons import URGENCIES
from server.command import main

ON = ("--on", "2026-06-03")


def run(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    assert main([str(word) for word in words]) == 0
    return capsys.readouterr().out


def test_due_boxes_come_by_urgency_with_reasons(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    listed = json.loads(run(capsys, "due", built, *ON, "--json"))
    assert listed
    assert all(one["due"] and one["reasons"] and one["approach"] in APPROACHES for one in listed)
    urgencies = [URGENCIES.index(one["urgency"]) for one in listed]
    assert urgencies == sorted(urgencies)


def test_all_boxes_that_stand_are_listed_on_demand(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    listed = json.loads(run(capsys, "due", built, *ON, "--all", "--json"))
    due = json.loads(run(capsys, "due", built, *ON, "--json"))
    assert {one["box"] for one in due} < {one["box"] for one in listed}


def test_the_list_for_people_ends_with_cautions(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    told = run(capsys, "due", built, *ON)
    assert "boxes are due on 2026-06-03" in told
    assert "keep to your local law and licence" in told


def test_the_calendar_is_written_and_the_same_again(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path
) -> None:
    ids = []
    for name in ("first.ics", "again.ics"):
        run(capsys, "due", built, *ON, "--calendar", tmp_path / name)
        read = icalendar.Calendar.from_ical((tmp_path / name).read_bytes())
        ids.append([str(event["uid"]) for event in read.walk("VEVENT")])
    assert ids[0]
    assert ids[0] == ids[1]
    assert len(set(ids[0])) == len(ids[0])


def test_nests_in_json_carry_dates_with_intervals(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    nests = json.loads(run(capsys, "nests", built, *ON, "--json"))
    dated = [nest["dates"]["first_egg"] for nest in nests if nest["dates"]["first_egg"]]
    assert dated
    for egg in dated:
        (low, high), (lower, higher) = egg["within_80"], egg["within_95"]
        assert lower <= low <= egg["best"] <= high <= higher
