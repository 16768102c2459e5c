"""What a box is on a day."""

import datetime as dt

import numpy as np
import pytest

from layers.errors import BadValue
from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts, stage_bar
from layers.nesting.histories import Histories
from layers.nesting.timeline import Service, Timeline, timeline
from layers.trail.coding import day_of
from layers.trail.words import FATES, OCCUPANCY
from tests.nesting.notebook import BLUEBIRD, day, read, seen
from tests.nesting.test_histories import ALL
from tests.nesting.test_reading import FLEDGED, HATCHED, LAID


def on(histories: Histories, text: str, service: Service | None = None) -> str:
    found = season(histories, int(text[:4]), service).on(dt.date.fromisoformat(text))
    return OCCUPANCY[found.occupancy[0]]


def season(histories: Histories, year: int, service: Service | None = None) -> Timeline:
    """Looked at from the last day of the year."""
    dates, last = date_attempts(histories), dt.date(year, 12, 31)
    return timeline(histories, dates, season=year, on=last, service=service)


def test_a_box_goes_from_not_checked_to_finished() -> None:
    histories = read(seen("03-20", nest="none", eggs=0), *FLEDGED)
    assert [
        on(histories, f"2026-{day}") for day in ("03-01", "03-25", "04-10", "05-01", "07-01")
    ] == ["not checked", "unused", "started", "in use", "finished"]


def test_a_new_season_begins_not_checked() -> None:
    assert on(read(*FLEDGED), "2027-01-01") == "not checked"


def test_hindsight_calls_a_box_in_use_before_its_eggs_were_seen() -> None:
    histories = read(seen("05-01", nest="none", eggs=0), seen("05-09", eggs=5, species=BLUEBIRD))
    assert on(histories, "2026-05-07") == "in use"


def test_a_mouse_makes_another_animal_until_someone_finds_it_gone() -> None:
    histories = read(seen("04-01", signs="mouse"), seen("04-20", nest="none", eggs=0))
    assert on(histories, "2026-04-10") == "other animal"
    assert on(histories, "2026-04-25") == "unused"


def test_a_box_is_out_of_service_before_it_stood_and_after_it_was_removed() -> None:
    service = Service.from_days(["2026-03-01"], ["2026-09-01"])
    histories = read(*FLEDGED)
    assert on(histories, "2026-02-28", service) == "out of service"
    assert on(histories, "2026-08-31", service) == "finished"
    assert on(histories, "2026-09-01", service) == "out of service"


def test_a_box_that_the_keeper_closed_is_out_of_service_until_looked_into() -> None:
    histories = read(seen("04-01", nest="none", actions="closed"), seen("04-20", nest="none"))
    assert on(histories, "2026-04-10") == "out of service"
    assert on(histories, "2026-04-21") == "unused"


def test_a_nest_over_the_new_year_is_in_use_in_both_seasons() -> None:
    histories = read(
        seen("2026-12-26", eggs=4, species=BLUEBIRD),
        seen("2027-01-02", eggs=4, eggs_warm="yes", species=BLUEBIRD),
    )
    assert on(histories, "2026-12-31") == on(histories, "2027-01-01") == "in use"


def test_a_nest_that_no_one_saw_over_ends_when_it_fledged_once_it_cannot_go_on() -> None:
    """Until then it may go on, and does not end on a day that is not known yet."""
    histories = read(*HATCHED, seen("05-23", young=5, young_days=18, species=BLUEBIRD))
    dates = date_attempts(histories)
    (row,), found = histories.rows, dates.of(0)
    assert found.fledge is not None
    assert (row[c.OVER], row[c.LATER_FATE]) == (-1, c.FATE_FLEDGED)
    lapses, fledged = day_of(row[c.LAPSES]), found.fledge.best
    for seen_from, ends in ((lapses - dt.timedelta(days=1), lapses), (lapses, fledged)):
        table = timeline(histories, dates, season=2026, on=seen_from)
        before = table.on(ends - dt.timedelta(days=1))
        assert OCCUPANCY[before.occupancy[0]] == "in use"
        assert OCCUPANCY[table.on(ends).occupancy[0]] == "finished"
    assert stage_bar(histories, dates, 0, on=lapses)[-1]["to"] == str(fledged)


def test_fate_and_species_of_the_latest_attempt() -> None:
    table = season(read(*FLEDGED), 2026)
    early, middle, late = (table.on(dt.date(2026, month, 1)) for month in (4, 5, 7))
    assert early.fate[0] == 0
    assert FATES[middle.fate[0] - 1] == "ongoing"
    assert FATES[late.fate[0] - 1] == "fledged"
    assert table.species_names[late.species[0] - 1] == BLUEBIRD


def test_days_since_the_last_visit_count_from_the_season_only() -> None:
    table = season(read(*LAID), 2026)
    assert table.on(dt.date(2026, 1, 1)).days_since_visit[0] == -1
    assert table.on(dt.date(2026, 4, 29)).days_since_visit[0] == 0
    assert table.on(dt.date(2026, 5, 9)).days_since_visit[0] == 10


def test_a_day_outside_the_season_is_refused() -> None:
    with pytest.raises(BadValue, match="a day from 2026-01-01 to 2026-12-31, got 2027-01-01"):
        season(read(), 2026).on(dt.date(2027, 1, 1))


def test_one_day_of_the_timeline_equals_walking_its_changes() -> None:
    table = season(ALL, 2025)
    for number in range(0, table.days, 17):
        states = table.on(dt.date(2025, 1, 1) + dt.timedelta(number))
        for box in range(len(table.offset) - 1):
            changes = slice(table.offset[box], table.offset[box + 1])
            last = np.flatnonzero(table.day[changes] <= number)[-1] + table.offset[box]
            assert states.occupancy[box] == table.occupancy[last]
            assert states.species[box] == table.species[last]
            assert states.fate[box] == table.fate[last]


def test_every_box_has_a_state_from_the_first_day_on() -> None:
    table = season(ALL, 2025)
    assert (table.day[table.offset[:-1]] == 0).all()
    assert (np.diff(table.offset) > 0).all()


def test_first_day_is_the_seasons() -> None:
    assert season(read(season_starts="07-01"), 2026).first_day == day("07-01")
