"""What the file itself refuses: a visit edited, deleted, or that no one could read."""

from __future__ import annotations

import datetime as dt
import sqlite3

import pytest

from layers.errors import Conflict
from layers.trail.checking import check_trail
from layers.trail.store import Trail

VISIT = {"box": "A1", "seen_on": dt.date(2026, 5, 14), "eggs": 4, "visit_id": "first"}


def test_a_visit_is_never_edited_or_deleted(trail: Trail) -> None:
    trail.add_rows("visits", [VISIT])
    with pytest.raises(sqlite3.IntegrityError, match="never edited"), trail.write() as connection:
        connection.execute("UPDATE visits SET eggs = 5")
    with pytest.raises(sqlite3.IntegrityError, match="never deleted"), trail.write() as connection:
        connection.execute("DELETE FROM visits")
    assert [row["eggs"] for row in trail.visit_rows()] == [4]


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("INSERT OR REPLACE INTO visits (visit_id, box, seen_on) VALUES ('first', {})", "is taken"),
        ("INSERT OR REPLACE INTO visits (fid, box, seen_on) VALUES (1, {})", "is taken"),
        ("UPDATE OR REPLACE visits SET fid = 1 WHERE fid = 2", "never edited"),
        ("UPDATE visits SET fid = 9 WHERE fid = 1", "never edited"),
        ("INSERT INTO visits (visit_id, replaces, box, seen_on) VALUES ('x', 'x', {})", "itself"),
    ],
)
def test_no_row_takes_the_place_of_a_visit(trail: Trail, sql: str, said: str) -> None:
    trail.add_rows("visits", [VISIT, VISIT | {"visit_id": "second", "eggs": 5}])
    # As another program has it, without a thing of ours but what lies in the file.
    gis = sqlite3.connect(trail.path)
    with pytest.raises(sqlite3.IntegrityError, match=said):
        gis.execute(sql.format("'A1', '2026-05-14'"))
    gis.close()
    rows = trail.rows("SELECT fid, visit_id, eggs FROM visits ORDER BY fid")
    assert rows == [(1, "first", 4), (2, "second", 5)]


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("seen_on", "'14.05.2026'", "seen_on of a visit is a day"),
        ("seen_on", "'2026-02-31'", "seen_on of a visit is a day"),
        ("seen_on", "'0026-05-14'", "seen_on of a visit is a day"),
        ("seen_on", "'now'", "seen_on of a visit is a day"),
        ("seen_at", "'this morning'", "seen_at of a visit is a moment"),
        ("seen_at", "'12'", "seen_at of a visit is a moment"),
        ("eggs", "'three'", "eggs of a visit is a whole number from 0 to 40"),
        ("young", "2.5", "young of a visit is a whole number from 0 to 30"),
        ("dead_young", "-1", "dead_young of a visit is a whole number"),
        ("eggs", "41", "eggs of a visit is a whole number from 0 to 40"),
        ("signs", "x'ff'", "words and notes of a visit are text"),
    ],
)
def test_a_visit_that_no_one_could_read_is_refused_whoever_writes_it(
    trail: Trail, column: str, value: str, said: str
) -> None:
    row = {"box": "'A1'", "seen_on": "'2026-05-14'"} | {column: value}
    gis = sqlite3.connect(trail.path)
    with pytest.raises(sqlite3.IntegrityError, match=said):
        gis.execute(f"INSERT INTO visits ({', '.join(row)}) VALUES ({', '.join(row.values())})")
    gis.close()
    assert len(trail.visits()) == 0


def test_unreadable_rows_of_an_older_file_leave_the_others_readable(trail: Trail) -> None:
    with trail.write() as connection:
        connection.execute("DROP TRIGGER boxround_visits_sound")
        connection.execute(
            "INSERT INTO visits (visit_id, box, seen_on, eggs, young, observer) VALUES"
            " ('a', 'A1', '14.05.2026', 4, 0, 'Ada'), ('b', 'A1', '2026-05-15', 'four', 70000, ''),"
            " ('c', 'A1', '2026-05-16', 5, 2, 'Ada')"
        )
    visits = trail.visits()
    assert visits.day.tolist() == trail.visits("A1").day.tolist()
    assert [visits.eggs.tolist(), visits.young.tolist()] == [[-1, 5], [-1, 2]]
    assert visits.observers == ("Ada",)
    assert visits.observer.tolist() == [-1, 0]


def test_a_file_with_other_rules_for_visits_gets_those_of_today(trail: Trail) -> None:
    trail.add_rows("visits", [VISIT])
    with trail.write() as connection:
        connection.execute("DROP TRIGGER boxround_visits_sound")
        connection.execute("DROP TRIGGER boxround_visits_never_deleted")
        connection.execute(
            "CREATE TRIGGER boxround_visits_never_deleted BEFORE DELETE ON visits"
            " WHEN OLD.eggs = 99 BEGIN SELECT RAISE(ABORT, 'no'); END"
        )
    with Trail.open(trail.path) as again:
        assert check_trail(again) == []
        with pytest.raises(sqlite3.IntegrityError, match="never deleted"), again.write() as writing:
            writing.execute("DELETE FROM visits")
        with pytest.raises(Conflict, match="one that is taken"):
            again.add_rows("visits", [VISIT])
        before = again.version()
    with Trail.open(trail.path) as third:
        assert third.version() == before


def test_a_file_with_other_rules_is_readable_while_another_program_writes(trail: Trail) -> None:
    with trail.write() as connection:
        connection.execute("DROP TRIGGER boxround_visits_sound")
    with trail.write(), Trail.open(trail.path, busy_s=0.0) as again:
        assert again.box_ids() == ["A1", "A2", "B1"]


def test_a_file_without_its_visits_is_opened_so_that_check_can_report(trail: Trail) -> None:
    with trail.write() as connection:
        connection.execute("DROP TABLE visits")
    with Trail.open(trail.path) as again:
        said = [str(finding) for finding in check_trail(again)]
    assert "fault: file: column seen_on is missing from table visits" in said
