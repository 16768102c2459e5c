"""The season's report: its words agree with its numbers, and little data is no fault."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from layers.errors import BadValue
from layers.nesting.season.report import (
    GROUPINGS,
    SeasonReport,
    as_csv,
    format_cell,
    passages,
    sheets,
)
from layers.nesting.season.report.groups import MAX_GROUPS
from layers.nesting.season.result import Measure
from tests.nesting.season.numbers import leaves, missing_from
from tests.nesting.season.reports import (
    box_frame,
    demo_report,
    empty,
    fledged,
    looks,
    lost,
    not_known,
    record,
    report_of,
    several,
    texts,
)

pytestmark = pytest.mark.slow

WHOLE_DEMO = cache(demo_report)

FEW: dict[str, Callable[[], SeasonReport]] = {
    "no visit at all": report_of,
    "no nest": lambda: report_of(empty("A1"), empty("A2")),
    "one nest that fledged": lambda: report_of(fledged("A1"), empty("A2")),
    "one nest that was lost": lambda: report_of(lost("A1")),
    "all lost": lambda: report_of(several(lost, ("A1", "A2", "A3"))),
    "none lost": lambda: report_of(several(fledged, ("A1", "A2", "A3"))),
    "unknown ends only": lambda: report_of(not_known("A1"), not_known("A2")),
    "one group empty": lambda: report_of(
        fledged("A1"),
        lost("A2"),
        empty("A3"),
        frame=box_frame(("A1", "A2", "A3"), section=["Mill Wood", "Mill Wood", "Pond Meadow"]),
    ),
    "no data in that year": lambda: report_of(fledged("A1"), lost("A2"), season=2019),
    "no section recorded": lambda: report_of(
        fledged("A1"), frame=box_frame(("A1", "A2", "A3"), section=[None] * 3)
    ),
    "young not counted": lambda: report_of(
        [look for look in fledged("A1") if look.get("young_days", 0) < 10]
    ),
    "two years": lambda: report_of(fledged("A1"), lost("A2"), lost("A1", year=2025)),
    "a house sparrow too": lambda: report_of(
        fledged("A1"), lost("A2"), fledged("A3", species="house sparrow", young=5)
    ),
}
"""What there is -> its report."""


@pytest.mark.parametrize("given", FEW)
def test_little_data_gives_plain_sentences_tables_and_json(given: str) -> None:
    report = FEW[given]()
    message = texts(report)
    assert passages(report)[0].heading == "How did the boxes do?"
    assert not re.search(r"\b(nan|inf|null)\b|None(?! of)", message)
    assert record(report)["sentences"]
    for sheet in sheets(report):
        assert all(len(row) == len(sheet.heads) for row in sheet.rows)
        assert "nan" not in as_csv(sheet)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ("no visit at all", "No box was visited in 2026."),
        ("no nest", "In 2026, 2 boxes were checked, and none held a nest with eggs or young."),
        ("one nest that fledged", "The 1 nest with a known outcome fledged young."),
        ("one nest that was lost", "The 1 nest with a known outcome was lost."),
        ("all lost", "All 3 nests with a known outcome were lost."),
        (
            "all lost",
            "All 3 nests were lost while they held eggs: no young are known to have hatch",
        ),
        ("none lost", "All 3 nests with a known outcome fledged young."),
        ("none lost", "None of 3 nests is known to have been lost."),
        ("unknown ends only", "The outcome of 2 nests is unknown."),
        ("one group empty", "Pond Meadow: no nest with eggs in 1 box checked."),
        ("no data in that year", "No box was visited in 2019."),
        ("no section recorded", "The boxes have nothing recorded to group them by section."),
        ("young not counted", "0 were counted late enough to be sure."),
        ("young not counted", "1 known to have fledged and 0 lost, about 4 young fledged."),
        (
            "a house sparrow too",
            "Without house sparrows (1 nest) there were 2 nests: 1 of 2 nests with a known outcome "
            "fledged young, and about 4 young fledged.",
        ),
        ("two years", "2025: 1 of 1 box used, about 0 young fledged;"),
    ],
)
def test_each_kind_of_little_data_is_named(given: str, message: str) -> None:
    assert message in texts(FEW[given]())


@pytest.mark.parametrize("by", GROUPINGS)
def test_every_number_of_a_sentence_is_among_its_values(by: str) -> None:
    told = record(demo_report(by=by) if by != "section" else WHOLE_DEMO())
    assert len(told["sentences"]) > 20
    for one in told["sentences"]:
        assert missing_from(one["text"], list(one["values"].values())) == [], one["text"]


@pytest.mark.parametrize("given", [*FEW, "the demo"])
def test_every_value_of_a_sentence_is_a_number_of_the_measures(given: str) -> None:
    told = record(WHOLE_DEMO() if given == "the demo" else FEW[given]())
    sentences = told.pop("sentences")
    facts = list(leaves(told))
    known = {value for value in facts if isinstance(value, str | int | float)}
    # Named by the code, not found in the data: how many nests a comparison needs, how many
    # groups and models it had.
    known |= {5} | {len(value) for value in _lists(told)}
    for one in sentences:
        numbers = [v for v in one["values"].values() if not isinstance(v, str)]
        assert [v for v in numbers if v not in known] == [], one


def _lists(value: Any) -> list[list[Any]]:
    if isinstance(value, dict):
        return [found for each in value.values() for found in _lists(each)]
    if isinstance(value, list):
        return [value, *(found for each in value for found in _lists(each))]
    return []


def test_every_measures_own_sentence_has_its_numbers_in_the_json() -> None:
    def check(value: Any) -> int:
        if isinstance(value, list):
            return sum(check(each) for each in value)
        if not isinstance(value, dict):
            return 0
        checked = sum(check(each) for each in value.values())
        if "sentence" in value and "estimate" in value:
            assert missing_from(value["sentence"], list(leaves(value))) == []
            checked += 1
        return checked

    assert check(record(WHOLE_DEMO())) > 100


def test_no_per_cent_is_given_without_what_it_rests_on() -> None:
    report = WHOLE_DEMO()
    for passage in passages(report):
        for one in passage.sentences:
            if "%" in one.text:
                assert re.search(r"\d (nest|box|year)", one.text), one.text
    cells = [cell for sheet in sheets(report) for row in sheet.rows for cell in row]
    shares = [
        text for cell in cells if "%" in (text := format_cell(cell)) and "Mayfield" not in text
    ]
    assert len(shares) > 40
    assert all(re.search(r", n \d+†?$", text) for text in shares)


def test_the_counts_of_nests_add_up() -> None:
    counts = WHOLE_DEMO().counts
    parts = counts.fledged + counts.failed + counts.unknown + counts.ongoing + counts.taken_out
    assert counts.attempts == parts
    assert sum(counts.causes.values()) == counts.failed
    apparent = WHOLE_DEMO().survival.apparent
    known = {"fledged": counts.fledged, "failed": counts.failed, "unknown": counts.unknown}
    assert known.items() <= apparent.parts.items()


def test_groups_and_species_add_up_to_the_whole() -> None:
    report = WHOLE_DEMO()
    assert sum(group.counts.attempts for group in report.groups.season) == report.counts.attempts
    assert sum(one.counts.young_fledged for one in report.each_species) == (
        report.counts.young_fledged
    )
    used = [group.used for group in report.groups.season]
    assert sum(m.n for m in used if m is not None) == report.use.looked_into
    assert sum(m.parts["used"] for m in used if m is not None) == report.use.used.parts["used"]


def test_of_very_many_groups_those_with_most_nests_are_listed() -> None:
    boxes = [f"A{number:02}" for number in range(50)]
    frame = box_frame(boxes, section=[f"Section {box}" for box in boxes])
    report = report_of(fledged("A49"), lost("A48"), boxes=boxes, frame=frame)
    listed = [group.group for group in report.groups.season]
    assert listed[-2:] == ["Section A48", "Section A49"]
    assert (len(listed), report.groups.omitted) == (MAX_GROUPS, 10)
    assert "Not listed: 10 groups with fewer nests." in texts(report, "groups")


def test_one_species_alone_counts_only_its_own_nests() -> None:
    report = demo_report(species="Eastern Bluebird")
    assert {one.species for one in report.each_species} == {"eastern bluebird"}
    whole = next(one for one in WHOLE_DEMO().each_species if one.species == "eastern bluebird")
    assert report.counts == whole.counts
    assert list(report.weeks.by_species) == ["eastern bluebird"]
    assert "held a nest of eastern bluebird with eggs" in texts(report, "first")


def test_an_unknown_grouping_or_species_is_refused() -> None:
    with pytest.raises(BadValue, match=r"Expected one of section, guard, .* got 'moon'"):
        report_of(by="moon")
    with pytest.raises(BadValue, match="Expected a species of the guide"):
        report_of(species="Dodo")


def test_years_after_the_season_do_not_count() -> None:
    report = report_of(lost("A1", year=2025), fledged("A1", year=2026), season=2025)
    assert [year.season for year in report.years.each] == [2025]
    assert report.counts.attempts == 1
    assert report.groups.all_years.groups[0].nests == 1


def test_a_running_season_says_so() -> None:
    report = report_of(not_known("A1"), on=dt.date(2026, 4, 28))
    assert "Still going on: 1 nest." in texts(report, "first")
    assert "The season 2026 is not over" in texts(report, "doubts")
    assert "not over" not in texts(report_of(fledged("A1")), "doubts")


def test_a_report_of_a_day_knows_no_later_visit() -> None:
    day = dt.date(2026, 5, 12)
    stories = [*fledged("A1"), *lost("A2"), *fledged("A3", year=2025)]
    later = record(report_of(stories, on=day))
    known = [visit for visit in stories if visit["seen_on"] <= day]
    assert later == record(report_of(known, on=day))
    assert (later["on"], later["last_visit"]) == ("2026-05-12", "2026-05-10")
    assert later["counts"]["ongoing"] == 1


def test_a_visit_written_down_for_a_year_to_come_ends_no_season() -> None:
    slip = looks("A2", ("05-04", {"nest": "none"}), year=2062)
    report = report_of(not_known("A1"), slip, on=dt.date(2026, 4, 28))
    assert not report.over
    assert report.counts.ongoing == 1
    assert "The season 2026 is not over" in texts(report, "doubts")


def test_weeks_hold_the_boxes_in_use_on_their_first_day() -> None:
    report = report_of(fledged("A1"), fledged("A2"))
    weeks = dict(zip(report.weeks.days, report.weeks.in_use, strict=True))
    assert weeks[dt.date(2026, 5, 7)] == 2
    assert report.weeks.in_use[0] == report.weeks.in_use[-1] == 0
    gaps = {b - a for a, b in zip(report.weeks.days, report.weeks.days[1:], strict=False)}
    assert gaps == {dt.timedelta(days=7)}


def test_each_attempt_left_out_is_listed_with_its_reason() -> None:
    report = report_of(fledged("A1"), not_known("A2"))
    listed = {(one.box, name, one.reason) for name, each in report.left_out.items() for one in each}
    assert ("A2", "apparent success", "its outcome is unknown") in listed
    (sheet,) = [sheet for sheet in sheets(report) if sheet.name == "left-out"]
    assert ("A2", 1, "its outcome is unknown", "apparent success") in sheet.rows


def test_the_table_of_boxes_adds_up_to_the_counts() -> None:
    (sheet,) = [sheet for sheet in sheets(WHOLE_DEMO()) if sheet.name == "boxes"]
    counts = WHOLE_DEMO().counts
    whole = [sum(int(str(row[at])) for row in sheet.rows) for at in range(1, 7)]
    assert whole == [
        counts.attempts,
        counts.fledged,
        counts.failed,
        counts.unknown,
        counts.ongoing,
        counts.taken_out,
    ]
    unknown = [row for row in sheet.rows if row[7] is None]
    assert unknown
    assert [format_cell(row[7]) for row in unknown] == ["not known"] * len(unknown)


def test_groups_that_are_no_matter_of_boxes_have_no_columns_of_boxes() -> None:
    for by, there in (("brood", False), ("hole", True)):
        (sheet,) = [s for s in sheets(demo_report(by=by)) if s.name == "group-numbers"]
        assert ("boxes used" in sheet.heads) is there


def test_a_measure_takes_four_columns_of_a_csv_file() -> None:
    (sheet,) = [sheet for sheet in sheets(WHOLE_DEMO()) if sheet.name == "measures"]
    head, first, *_ = as_csv(sheet).splitlines()
    assert head == 'measure,number,"number, low","number, high","number, n"'
    used = WHOLE_DEMO().use.used
    assert used.interval is not None
    assert first == f"boxes used,{used.estimate},{used.interval.low},{used.interval.high},{used.n}"


def test_a_name_that_looks_like_a_formula_stays_a_name_in_a_spreadsheet() -> None:
    frame = box_frame(("A1",), section=["=HYPERLINK(1)"])
    report = report_of(fledged("A1"), boxes=("A1",), frame=frame)
    (groups,) = [sheet for sheet in sheets(report) if sheet.name == "groups"]
    assert as_csv(groups).splitlines()[1].startswith("'=HYPERLINK(1),1,1,")


def test_names_with_braces_per_cent_and_digits_stay_as_they_are() -> None:
    name = "{0} 50 % {n:nests}"
    frame = box_frame(("A1",), section=[name])
    report = report_of(fledged("A1"), boxes=("A1",), frame=frame)
    assert f"{name}: 1 of 1 box used" in texts(report, "groups")


def test_the_same_visits_give_the_same_report() -> None:
    assert record(demo_report()) == record(WHOLE_DEMO())


def test_small_groups_and_numbers_are_marked_and_no_share_comes_from_fewer_than_five() -> None:
    marked = 0
    for sheet in sheets(demo_report()):
        for row, shown in zip(sheet.rows, sheet.texts(), strict=True):
            for cell, text in zip(row, shown, strict=True):
                if not isinstance(cell, Measure) or cell.estimate is None:
                    continue
                of_nests = not cell.counted.startswith(("boxes", "years"))
                if of_nests and cell.n < 5 and cell.unit == "share":
                    assert text.startswith("too few (")
                else:
                    assert text.endswith("†") == (of_nests and cell.n < 20), text
                    marked += text.endswith("†")
    assert marked > 5
    for name in ("species", "groups"):
        (sheet,) = (one for one in sheets(demo_report()) if one.name == name)
        nests = [row[sheet.heads.index("nests")] for row in sheet.rows]
        assert [shown[0].endswith("†") for shown in sheet.texts()] == [n < 20 for n in nests]  # type: ignore[operator]
        assert sheet.has_few
        assert "†" not in as_csv(sheet)
