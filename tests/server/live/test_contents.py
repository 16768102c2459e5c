"""What is worked out of a trail is worked out once, and a visit changes only its own box."""

from __future__ import annotations

import shutil
import threading
import uuid
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pandas.testing import assert_frame_equal

from layers.nesting.dating import date_attempts
from layers.nesting.due import Due, due, due_of_box
from layers.nesting.histories import Histories, read_histories
from layers.trail.store import Trail
from layers.trail.visits import Visits
from server.live.contents import MAX_MADE, Contents
from tests.server.conftest import ON


@pytest.fixture
def contents(built: Path) -> Contents:
    with Trail.open(built) as trail:
        return Contents.read(trail)


def test_a_thing_is_made_once(contents: Contents) -> None:
    made: list[int] = []

    def make() -> int:
        made.append(1)
        return len(made)

    assert [contents.once("thing", make) for _ in range(3)] == [1, 1, 1]


def test_a_thing_that_failed_is_made_again(contents: Contents) -> None:
    def fails() -> int:
        raise ZeroDivisionError("nothing to share")

    with pytest.raises(ZeroDivisionError, match="nothing to share"):
        contents.once("thing", fails)
    assert contents.once("thing", lambda: 1) == 1


def test_making_one_thing_keeps_no_one_from_another(contents: Contents) -> None:
    begun, may_end = threading.Event(), threading.Event()

    def slow() -> str:
        begun.set()
        assert may_end.wait(20)
        return "slow"

    thread = threading.Thread(target=contents.once, args=("slow", slow))
    thread.start()
    assert begun.wait(20)
    assert contents.once("quick", lambda: "quick") == "quick"
    may_end.set()
    thread.join()
    assert contents.once("slow", lambda: "made again") == "slow"


def test_what_is_requested_often_outlives_what_was_requested_once(contents: Contents) -> None:
    contents.once("often", lambda: "first")
    contents.once("seldom", lambda: "first")
    for other in range(MAX_MADE - 1):
        contents.once(other, lambda: "other")
        contents.once("often", lambda: "again")
    assert contents.once("often", lambda: "again") == "first"
    assert contents.once("seldom", lambda: "again") == "again"


def test_due_is_what_the_engine_says_of_this_trail(contents: Contents) -> None:
    boxes = contents.ground.boxes
    plain = due(
        contents.histories,
        on=ON,
        settings=contents.settings,
        service=contents.service,
        guards=dict(zip(boxes["box"], boxes["guards"], strict=True)),
    )
    assert contents.due(ON) == plain
    assert contents.due(ON) is contents.due(ON)


@pytest.mark.parametrize("asked_before", [True, False])
def test_a_new_visit_leaves_the_dates_as_if_all_were_dated_anew(
    trail_path: Path, *, asked_before: bool
) -> None:
    with Trail.open(trail_path) as trail:
        contents = Contents.read(trail)
        if asked_before:
            contents.dates()
        visit = {"visit_id": str(uuid.uuid4()), "box": "M05", "seen_on": ON, "eggs": 5}
        trail.add_rows("visits", [visit])
        later = contents.caught_up(trail)
    assert len(later.histories.visits) == len(contents.histories.visits) + 1
    kept, anew = later.dates(), date_attempts(later.histories)
    for name in ("how", "best", "ends", "hatched", "fledged", "doubtful"):
        assert np.array_equal(
            getattr(kept, name),
            getattr(anew, name),
            equal_nan=name in ("ends", "hatched", "fledged"),
        ), name


def test_other_histories_have_dates_of_their_own(contents: Contents) -> None:
    whole = contents.dates()
    none = contents.histories.visits.take(np.zeros(len(contents.histories.visits), bool))
    empty = read_histories(none, contents.guide, season_starts=contents.settings.season_starts)
    assert len(contents.with_histories(empty).dates()) == 0
    assert contents.dates() is whole


@pytest.mark.parametrize("on", [ON, ON - timedelta(days=20)])
def test_new_visits_leave_the_due_list_as_if_all_were_looked_at_anew(
    trail_path: Path, on: date
) -> None:
    with Trail.open(trail_path) as trail:
        contents = Contents.read(trail)
        before = contents.due(on)
        # The second version is not asked what is due; the third goes on from the first.
        for box, eggs in (("M05", 5), ("A02", 0)):
            visit = {"visit_id": str(uuid.uuid4()), "box": box, "seen_on": on, "eggs": eggs}
            trail.add_rows("visits", [visit])
            contents = contents.caught_up(trail)
        anew = Contents.read(trail).due(on)
    assert contents.due(on) == anew
    assert anew != before


def test_after_a_visit_only_its_own_box_is_looked_at_anew(
    trail_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_at: list[str] = []

    def noted(histories: Histories, box: str, **asked: Any) -> Due:
        looked_at.append(box)
        return due_of_box(histories, box, **asked)

    with Trail.open(trail_path) as trail:
        contents = Contents.read(trail)
        contents.due(ON)
        trail.add_rows("visits", [{"visit_id": str(uuid.uuid4()), "box": "M05", "seen_on": ON}])
        later = contents.caught_up(trail)
        monkeypatch.setattr("server.live.contents.due_of_box", noted)
        later.due(ON)
    assert looked_at == ["M05"]


def test_a_box_that_was_taken_down_is_due_no_more(trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        contents = Contents.read(trail)
        assert "M05" in {one.box for one in contents.due(ON)}
        with trail.write() as connection:
            connection.execute("UPDATE boxes SET removed_on = ? WHERE box = 'M05'", (f"{ON}",))
        later = contents.caught_up(trail)
    assert "M05" not in {one.box for one in later.due(ON)}


KEPT, READ_ANEW = False, True
OUTSIDE: dict[str, tuple[str, bool]] = {
    "another name": ("UPDATE trail SET name = 'Renamed'", KEPT),
    "another interval": ("UPDATE trail SET visit_every_days = 3", KEPT),
    "other words of boxes": ('UPDATE trail SET words = \'{"guards": ["moat"]}\'', KEPT),
    "other words of visits": ('UPDATE trail SET words = \'{"signs": ["moss"]}\'', READ_ANEW),
    "another season": ("UPDATE trail SET season_starts = '05-15'", READ_ANEW),
    "another time zone": ("UPDATE trail SET timezone = 'Asia/Tokyo'", READ_ANEW),
    "a box moved": ("UPDATE boxes SET geom = NULL WHERE box = 'M01'", KEPT),
    "boxes taken down": ("UPDATE boxes SET removed_on = '2026-05-20' WHERE box < 'M04'", KEPT),
    "boxes put up later": ("UPDATE boxes SET installed_on = '2026-05-20' WHERE box > 'M04'", KEPT),
    "no guards": ("UPDATE boxes SET guards = ''", KEPT),
    "another id": ("UPDATE boxes SET box = 'A00' WHERE box = 'M01'", READ_ANEW),
    "a box gone": ("DELETE FROM boxes WHERE box = 'M01'", READ_ANEW),
    "a path moved": ("UPDATE paths SET geom = (SELECT geom FROM paths LIMIT 1)", KEPT),
    "zones gone": ("DELETE FROM zones", KEPT),
}


@pytest.mark.parametrize("name", OUTSIDE)
def test_after_another_program_changed_something_all_is_as_if_read_anew(
    few_boxes: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Visits are read anew only where they may be read otherwise; what was listed is carried on."""
    (sql, anew), days = OUTSIDE[name], (ON, ON - timedelta(days=20))
    path = Path(shutil.copy(few_boxes, tmp_path / "trail.gpkg"))
    with Trail.open(path) as trail:
        contents = Contents.read(trail)
        for on in days:
            contents.due(on)
        # Nobody looks between the visit and the other program's change.
        visit = {"visit_id": str(uuid.uuid4()), "box": "M05", "seen_on": ON, "eggs": 5}
        trail.add_rows("visits", [visit])
        contents = contents.caught_up(trail)
        with Trail.open(path) as gis, gis.write() as connection:
            connection.execute(sql)
        fresh = Contents.read(trail)
        read: list[str | None] = []
        visits = Trail.visits

        def noted(trail: Trail, box: str | None = None) -> Visits:
            read.append(box)
            return visits(trail, box)

        monkeypatch.setattr(Trail, "visits", noted)
        later = contents.caught_up(trail)
        assert read == ([None] if anew else [])
        # A later visit goes on from the list that was carried.
        trail.add_rows("visits", [visit | {"visit_id": str(uuid.uuid4()), "box": "M02"}])
        last, fresh_last = later.caught_up(trail), Contents.read(trail)
    for one, other in ((later, fresh), (last, fresh_last)):
        assert [one.due(on) for on in days] == [other.due(on) for on in days]
        assert one.settings == other.settings
        assert np.array_equal(one.histories.rows, other.histories.rows)
        assert np.array_equal(one.dates().best, other.dates().best)
        for table in ("boxes", "paths", "places", "zones"):
            assert_frame_equal(getattr(one.ground, table), getattr(other.ground, table))


def test_other_histories_have_a_due_list_of_their_own(trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        contents = Contents.read(trail)
        contents.due(ON)
        trail.add_rows("visits", [{"visit_id": str(uuid.uuid4()), "box": "M05", "seen_on": ON}])
        later = contents.caught_up(trail)
    none = later.histories.visits.take(np.zeros(len(later.histories.visits), bool))
    empty = read_histories(none, later.guide, season_starts=later.settings.season_starts)
    assert later.with_histories(empty).due(ON) != later.due(ON)
