"""Files of visits: all of one is added, or nothing and every fault is told."""

from __future__ import annotations

import csv
import datetime as dt
import uuid
from pathlib import Path

import pytest

from layers.errors import BadValue, Conflict, Fault, Refused
from layers.trail.importing import import_file, visit_intake
from layers.trail.importing import source as source_module
from layers.trail.schema import VISITS
from layers.trail.store import Trail
from tests.trail.importing.imports import KNOWN, RULES, content, having, imported, species, written

HEADER = "box,date,time,observer,species,nest,eggs,young,note\n"


def visits(path: Path, *lines: str) -> Path:
    return written(path, HEADER + "".join(f"{line}\n" for line in lines))


def test_a_file_of_visits_is_added_and_unknown_stays_unknown(tmp_path: Path, trail: Trail) -> None:
    source = visits(
        tmp_path / "v.csv",
        "A1,2026-05-14,08:30,Ann,Eastern Bluebird,full,5,,",
        "A2,2026-05-14,,Ann,,,0,?,",
    )
    done = imported("visits", source, trail)
    assert (done.added, done.already_there, done.ignored) == (2, 0, ())
    assert done.notes == ()
    one, two = trail.visit_rows("A1")[0], trail.visit_rows("A2")[0]
    assert (one["eggs"], one["young"], one["species"]) == (5, None, "eastern bluebird")
    assert (two["eggs"], two["young"], two["seen_at"]) == (0, None, None)
    assert [row["box"] for row in done.preview] == ["A1", "A2"]


def test_all_five_faults_of_a_file_are_in_one_report_and_the_trail_is_as_it_was(
    tmp_path: Path, trail: Trail
) -> None:
    source = visits(
        tmp_path / "v.csv",
        "A1,2026-05-14,08:30,Ann,Eastern Bluebird,full,5,,sound",
        "A1,03/04/2026,08:30,Ann,Eastern Bluebird,full,5,,",
        "C9,2026-05-14,08:30,Ann,Eastern Bluebird,full,5,,",
        "A2,2026-05-14,08:30,Ann,Bluebird of Joy,full,-5,,",
        "A2,2027-05-14,08:30,Ann,Tree Swallow,full,5,,",
    )
    before = content(trail)
    with pytest.raises(Refused) as caught:
        imported("visits", source, trail)
    assert str(caught.value) == (
        "v.csv was refused with 5 faults; nothing was added\n"
        "  Expected a date with one reading like 2026-05-14, or dates given as"
        " day-first or month-first, got '03/04/2026' in v.csv row 3, column date\n"
        "  Expected the id of a box of this trail, got 'C9' in v.csv row 4, column box\n"
        "  Expected a species of the guide (nearest: eastern bluebird, tree swallow),"
        " got 'Bluebird of Joy' in v.csv row 5, column species\n"
        "  Expected a whole number from 0 to 40, got '-5' in v.csv row 5, column eggs\n"
        "  Expected a date not after 2026-06-01, today, got 2027-05-14 in v.csv row 6, column date"
    )
    assert content(trail) == before


def test_ambiguous_dates_are_read_once_the_order_is_told(tmp_path: Path, trail: Trail) -> None:
    source = visits(tmp_path / "v.csv", "A1,03/04/2026,,,,,,,", "A1,25/04/2026,,,,,,,")
    with pytest.raises(Refused, match="day-first or month-first"):
        imported("visits", source, trail)
    assert imported("visits", source, trail, dates="day-first").added == 2
    assert [row["seen_on"] for row in trail.visit_rows("A1")] == ["2026-04-03", "2026-04-25"]


def test_the_same_file_brought_twice_adds_nothing(tmp_path: Path, trail: Trail) -> None:
    source = visits(tmp_path / "v.csv", "A1,2026-05-14,08:30,Ann,,,5,,", "A1,2026-05-14,,,,,4,,")
    assert imported("visits", source, trail).added == 2
    before = content(trail)
    again = imported("visits", source, trail)
    assert (again.added, again.already_there) == (0, 2)
    assert content(trail) == before


def test_a_visit_recorded_elsewhere_with_an_id_of_its_own_is_there_already(
    tmp_path: Path, trail: Trail
) -> None:
    trail.add_rows(
        "visits",
        [{"visit_id": str(uuid.uuid4()), "box": "A1", "seen_on": "2026-05-14", "eggs": 5}],
    )
    done = imported("visits", visits(tmp_path / "v.csv", "A1,2026-05-14,,,,,5,,"), trail)
    assert (done.added, done.already_there) == (0, 1)


def test_a_dry_run_tells_what_would_be_and_changes_nothing(tmp_path: Path, trail: Trail) -> None:
    before = content(trail)
    source = visits(tmp_path / "v.csv", "A1,2026-05-14,08:30,Ann,,,5,,")
    done = imported("visits", source, trail, dry_run=True)
    assert (done.added, done.dry_run, done.preview[0]["eggs"]) == (1, True, 5)
    assert content(trail) == before


def test_a_row_twice_in_a_file_is_refused(tmp_path: Path, trail: Trail) -> None:
    line = "A1,2026-05-14,08:30,Ann,,,5,,"
    with pytest.raises(Refused, match=having("got a duplicate of row 2 in v.csv row 4")):
        imported("visits", visits(tmp_path / "v.csv", line, "", line), trail)


def test_two_contents_for_one_moment_in_a_file_are_refused(tmp_path: Path, trail: Trail) -> None:
    source = visits(
        tmp_path / "v.csv", "A1,2026-05-14,08:30,Ann,,,5,,", "A1,2026-05-14,08:30,Ann,,,4,,"
    )
    with pytest.raises(Refused, match="got another content than row 2 of the same box, day, time"):
        imported("visits", source, trail)


def test_two_looks_on_one_day_without_times_are_two_visits(tmp_path: Path, trail: Trail) -> None:
    source = visits(tmp_path / "v.csv", "A1,2026-05-14,,Ann,,,5,,", "A1,2026-05-14,,Ann,,,4,,")
    assert imported("visits", source, trail).added == 2


def test_another_content_for_a_stored_visit_is_refused_and_a_correction_suggested(
    tmp_path: Path, trail: Trail
) -> None:
    imported("visits", visits(tmp_path / "v.csv", "A1,2026-05-14,08:30,Ann,,,5,,"), trail)
    stored = trail.visit_rows("A1")[0]["visit_id"]
    edited = visits(tmp_path / "edited.csv", "A1,2026-05-14,08:30,Ann,,,4,,")
    expected = f"a row with replaces = {stored}, got eggs 4 instead of 5 in edited.csv row 2"
    with pytest.raises(Refused, match=having(expected)):
        imported("visits", edited, trail)
    correction = written(
        tmp_path / "c.csv",
        f"box,date,time,observer,eggs,replaces\nA1,2026-05-14,08:30,Ann,4,{stored}\n",
    )
    assert imported("visits", correction, trail).added == 1
    assert [row["eggs"] for row in trail.visit_rows("A1")] == [4]
    # The correction, the file it corrects, and the edited file all say what is known now.
    for source in (correction, tmp_path / "v.csv", edited):
        assert imported("visits", source, trail).added == 0


def test_a_correction_back_to_the_first_content_is_added(tmp_path: Path, trail: Trail) -> None:
    first, second = str(uuid.uuid4()), str(uuid.uuid4())
    visit = {"box": "A1", "seen_on": "2026-05-14"}
    trail.add_rows("visits", [visit | {"visit_id": first, "eggs": 5}])
    trail.add_rows("visits", [visit | {"visit_id": second, "eggs": 4, "replaces": first}])
    source = written(tmp_path / "c.csv", f"box,date,eggs,replaces\nA1,2026-05-14,5,{second}\n")
    assert imported("visits", source, trail).added == 1
    assert [row["eggs"] for row in trail.visit_rows("A1")] == [5]


def test_a_correction_of_nothing_is_refused(tmp_path: Path, trail: Trail) -> None:
    source = written(tmp_path / "v.csv", f"box,date,replaces\nA1,2026-05-14,{uuid.UUID(int=5)}\n")
    with pytest.raises(Refused, match="the id of a visit of this trail or file, got 00000000"):
        imported("visits", source, trail)


def test_an_id_that_the_trail_holds_with_other_content_is_refused(
    tmp_path: Path, trail: Trail
) -> None:
    visit_id = str(uuid.uuid4())
    trail.add_rows("visits", [{"visit_id": visit_id, "box": "B1", "seen_on": "2026-05-14"}])
    source = written(tmp_path / "v.csv", f"box,date,visit_id\nA1,2026-05-14,{visit_id}\n")
    with pytest.raises(Refused, match=having("got box 'A1' instead of 'B1' in v.csv row 2")):
        imported("visits", source, trail)


def test_a_whole_record_with_corrections_goes_round_through_a_file(
    tmp_path: Path, trail: Trail
) -> None:
    first = str(uuid.uuid4())
    rows = [
        {
            "visit_id": first,
            "box": "A1",
            "seen_on": "2026-05-14",
            "seen_at": "2026-05-15T01:30:00.000Z",
            "eggs": 5,
            "signs": "wet;ants",
            "note": 'a "quoted", note',
            "entered_at": "2026-05-15T09:00:00.000Z",
        },
        {
            "visit_id": str(uuid.uuid4()),
            "box": "A1",
            "seen_on": "2026-05-14",
            "eggs": 4,
            "replaces": first,
            "entered_at": "2026-05-16T09:00:00.000Z",
        },
    ]
    trail.add_rows("visits", rows)
    stored = trail.visit_rows(current=False)
    path = tmp_path / "visits.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, VISITS.columns)
        writer.writeheader()
        writer.writerows(stored)
    again = imported("visits", path, trail)
    assert (again.added, again.already_there) == (0, 2)
    with Trail.create(tmp_path / "other.gpkg", trail.settings()) as other:
        other.add_rows("boxes", trail.boxes()[["box", "geometry"]].to_dict("records"))
        done = imported("visits", path, other)
        assert done.added == 2
        # All comes back as it was, and with the import by which it can be taken back.
        assert done.import_id is not None
        assert other.visit_rows(current=False) == [
            row | {"import_id": done.import_id} for row in stored
        ]


def test_columns_are_renamed_as_given_and_others_are_kept_as_her_own_where_they_hold_something(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(
        tmp_path / "v.csv",
        "Kasten;Tag;Eier;Wetter;leer\nA1;14.05.2026;5;Regen;\nA2;15.05.2026;;;\n",
    )
    done = imported(
        "visits", source, trail, columns={"box": "Kasten", "date": "Tag", "eggs": "eier"}
    )
    assert done.columns == {"box": "Kasten", "date": "Tag", "eggs": "Eier"}
    assert (done.own, done.ignored) == (("Wetter",), ())
    assert [row["eggs"] for row in trail.visit_rows()] == [5, None]
    assert [row["own_columns"] for row in trail.visit_rows()] == ['{"Wetter": "Regen"}', None]


def test_columns_that_are_needed_and_lacking_are_told_at_once(tmp_path: Path, trail: Trail) -> None:
    with pytest.raises(Refused) as caught:
        imported("visits", written(tmp_path / "v.csv", "a,b\n1,2\n"), trail)
    expected, came = "a column {0}, or one given as {0}=its name", "columns a, b"
    assert caught.value.faults == tuple(
        Fault(expected.format(name), came, file="v.csv", column=name) for name in ("box", "date")
    )


@pytest.mark.parametrize(
    ("name", "text", "came"),
    [
        ("v.csv", "", "an empty file"),
        ("v.csv", HEADER, "a header alone"),
        ("v.pdf", "box,date\n", having("a file .pdf")),
        ("v", "box,date\n", "a file without a suffix"),
        ("v.gpx", "<gpx/>", having("a file .gpx")),
    ],
)
def test_a_file_without_visits_is_refused(
    tmp_path: Path, trail: Trail, name: str, text: str, came: str
) -> None:
    with pytest.raises(Refused, match=came):
        imported("visits", written(tmp_path / name, text), trail)


def test_a_missing_file_is_refused(tmp_path: Path, trail: Trail) -> None:
    with pytest.raises(Refused, match="Expected a file, got no file"):
        imported("visits", tmp_path / "v.csv", trail)


def test_a_reference_system_for_visits_is_refused(tmp_path: Path, trail: Trail) -> None:
    source = visits(tmp_path / "v.csv", "A1,2026-05-14,,,,,,,")
    with pytest.raises(BadValue, match="visits have no places"):
        imported("visits", source, trail, crs="EPSG:4326")


def test_of_many_faults_all_are_counted_and_the_first_are_listed(
    tmp_path: Path, trail: Trail, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source_module, "MAX_FAULTS", 10)
    source = visits(tmp_path / "v.csv", *["A1,03/04/2026,,,,,,,"] * 5000)
    with pytest.raises(
        Refused, match=having("5,000 faults; nothing was added (the first 10")
    ) as caught:
        imported("visits", source, trail)
    assert len(caught.value.faults) == 10


def test_of_many_notes_the_last_tells_how_many_more_there_are(tmp_path: Path, trail: Trail) -> None:
    lines = [
        f"A1,{year}-10-2{day},1:30,,,,,,{day}" for year in range(1990, 2026) for day in range(5, 9)
    ]
    notes = imported("visits", visits(tmp_path / "v.csv", *lines), trail).notes
    # Until 2006 the clocks of New York went back on the last Sunday of October.
    assert notes[0] == (
        "v.csv row 5: 01:30 on 1990-10-28 was twice, as clocks were put back; the first was taken"
    )
    assert len(notes) <= 21


def test_a_long_file_is_told_of_while_it_is_read_and_while_it_is_added(
    tmp_path: Path, trail: Trail
) -> None:
    lines = [
        f"A1,{dt.date(2000, 1, 1) + dt.timedelta(days=i // 4)},{i % 4 + 8}:00,Ann,,,{i % 9},,"
        for i in range(9_000)
    ]
    source = visits(tmp_path / "v.csv", *lines)
    told: list[tuple[int, int | None]] = []
    done = imported("visits", source, trail, progress=lambda d, total: told.append((d, total)))
    size = source.stat().st_size
    assert done.added == len(trail.visit_rows()) == 9_000
    assert (size, size) in told
    assert told[-1] == (9_000, 9_000)
    assert len(told) >= 8


def test_a_species_is_asked_for_once_however_often_it_stands(tmp_path: Path, trail: Trail) -> None:
    asked: list[str] = []

    def guide(name: str) -> str:
        asked.append(name)
        return species(name)

    lines = [
        f"A1,2026-05-{day},,,{name},,,," for day in range(10, 20) for name in ("Emu", KNOWN[0])
    ]
    with pytest.raises(Refused, match="10 faults"):
        import_file(
            "visits", visits(tmp_path / "v.csv", *lines), trail, today=RULES.today, species=guide
        )
    assert asked == ["Emu", KNOWN[0]]


def test_of_very_many_questions_the_first_are_kept_and_the_others_counted(
    tmp_path: Path, trail: Trail, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(visit_intake, "MAX_QUESTIONS", 2)
    rows = "".join(f"A1,2026-05-1{day},5\n" for day in range(5))
    source = written(tmp_path / "v.csv", f"box,date,eggs\n{rows}")
    shown: list[tuple[int, int | None]] = []
    done = imported(
        "visits",
        source,
        trail,
        ask=lambda box, visits: ((one, "odd?") for one in visits),
        progress=lambda so_far, total: shown.append((so_far, total)),
    )
    assert done.questions == ("box A1, 2026-05-10: odd?", "box A1, 2026-05-11: odd?")
    assert (done.added, done.more_questions) == (5, 3)
    assert shown.count((5, 5)) == 2, "while they are looked through, and while they are added"


@pytest.mark.parametrize(("saved", "refused"), [("08:00", True), ("09:30", False)])
def test_others_can_save_while_a_file_is_read_but_no_second_visit_of_a_moment(
    tmp_path: Path, trail: Trail, saved: str, refused: bool
) -> None:
    source = visits(tmp_path / "v.csv", "A1,2026-05-10,08:00,Ann,,,4,,")
    other = visits(tmp_path / "other.csv", f"A1,2026-05-10,{saved},Ann,,,5,,")

    def save(done: int, total: int | None) -> None:
        if (done, total) == (1, 1) and not trail.visit_rows():
            with Trail.open(trail.path, busy_s=0) as phone:
                imported("visits", other, phone)

    if refused:
        with pytest.raises(Conflict, match="another visit of box A1 on 2026-05-10 was saved"):
            imported("visits", source, trail, progress=save)
    else:
        imported("visits", source, trail, progress=save)
    assert [visit["eggs"] for visit in trail.visit_rows()] == ([5] if refused else [4, 5])
    bad = {"box": "A1", "seen_on": "May"}
    for add in (trail.add_many, trail.add_rows):
        with pytest.raises(Conflict, match="seen_on of a visit is a day"):
            add("visits", [bad])


def test_a_file_is_refused_whose_box_was_removed_while_it_was_read(
    tmp_path: Path, trail: Trail
) -> None:
    source = visits(tmp_path / "v.csv", "A2,2026-05-10,08:00,Ann,,,4,,")

    def take_away(done: int, total: int | None) -> None:
        with Trail.open(trail.path, busy_s=0) as other, other.write() as connection:
            connection.execute("DELETE FROM boxes WHERE box = 'A2'")

    with pytest.raises(Conflict, match="box A2 was removed"):
        imported("visits", source, trail, progress=take_away)
    assert trail.visit_rows() == []
