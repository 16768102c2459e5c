"""The winter list: each job, boxes unused for years, and when nothing may be done."""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.timeline import Service
from layers.nesting.winter import JOBS, Neighbour, Winter, winter_list
from layers.trail.coding import code_visits, day_number, day_of
from layers.trail.settings import Settings
from layers.trail.words import ACTIONS, SIGNS
from tests.nesting.notebook import BLUEBIRD, seen

SETTINGS = Settings("Alderbeck", "America/New_York")
WINTER = dt.date(2026, 12, 1)
EMPTY = {"nest": "none", "eggs": 0, "young": 0}


def facts(box: str = "A1", **more: Any) -> dict[str, Any]:
    columns = ("section", "hole_mm", "guards", "habitat", "pair", "cleaned_on")
    return {"box": box, **dict.fromkeys(columns), **more}


def histories_of(*visits: dict[str, Any], boxes: Sequence[str] = ("A1",)) -> Histories:
    coded = code_visits(
        visits,
        boxes=boxes,
        timezone=ZoneInfo("America/New_York"),
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )
    return read_histories(coded, standard_guide(), season_starts="01-01")


def listed(
    *visits: dict[str, Any],
    boxes: Iterable[dict[str, Any]] = (facts(),),
    on: dt.date = WINTER,
    **more: Any,
) -> dict[str, Winter]:
    boxes = list(boxes)
    histories = histories_of(*visits, boxes=[box["box"] for box in boxes])
    found = winter_list(histories, boxes=boxes, on=on, settings=SETTINGS, **more)
    return {one.box: one for one in found}


def lost(year: int, **signs: Any) -> tuple[dict[str, Any], ...]:
    """A nest of a year with four eggs that was found robbed."""
    return (
        seen(f"{year}-05-01", species=BLUEBIRD, nest="lined cup", eggs=4, eggs_warm="yes"),
        seen(f"{year}-05-08", species=BLUEBIRD, nest="lined cup", eggs=4, eggs_warm="yes"),
        seen(f"{year}-05-15", nest="none", eggs=0, young=0, signs="nest torn;hair", **signs),
    )


def fledged(year: int, box: str = "A1") -> tuple[dict[str, Any], ...]:
    return tuple(
        seen(f"{year}-{day}", box=box, species=BLUEBIRD, **found)
        for day, found in {
            "05-01": {"nest": "lined cup", "eggs": 4, "eggs_warm": "yes"},
            "05-17": {"nest": "lined cup", "young": 4, "young_days": 2},
            "05-24": {"nest": "lined cup", "young": 4, "young_days": 9},
            "06-10": {"nest": "lined cup", "eggs": 0, "young": 0, "signs": "flattened;droppings"},
        }.items()
    )


def kinds(one: Winter) -> list[str]:
    return [job.kind for job in one.jobs]


def test_a_box_no_one_checked_this_season_is_to_be_checked() -> None:
    box = listed(seen("2025-05-01", **EMPTY))["A1"]
    assert [(job.kind, job.text) for job in box.jobs] == [
        ("look", "Not checked in the season 2026.")
    ]


def test_a_nest_left_in_the_box_is_to_be_cleaned_out() -> None:
    (job,) = listed(*fledged(2026))["A1"].jobs
    assert job.kind == "clean"
    assert "10 June 2026" in job.text


@pytest.mark.parametrize(
    "after",
    [
        seen("2026-08-01", actions="cleaned"),
        seen("2026-08-01", nest="none"),
        seen("2026-08-01", actions="nest removed"),
    ],
)
def test_a_box_cleaned_since_its_nest_needs_no_cleaning(after: dict[str, Any]) -> None:
    assert kinds(listed(*fledged(2026), after)["A1"]) == []


def test_the_day_of_cleaning_in_the_boxs_own_row_counts_too() -> None:
    cleaned = facts(cleaned_on="2026-10-01")
    assert kinds(listed(*fledged(2026), boxes=[cleaned])["A1"]) == []
    before = facts(cleaned_on="2026-03-01")
    assert kinds(listed(*fledged(2026), boxes=[before])["A1"]) == ["clean"]


def test_nothing_is_to_be_done_at_a_box_whose_nest_may_be_going_on() -> None:
    nest = seen("2026-05-01", species=BLUEBIRD, nest="lined cup", eggs=4, signs="wet")
    box = listed(nest, on=dt.date(2026, 5, 10))["A1"]
    assert box.waits
    assert box.jobs == ()


def test_wet_boxes_are_to_be_repaired_unless_they_were_since() -> None:
    wet = seen("2026-05-01", **EMPTY, signs="wet")
    (job,) = listed(wet)["A1"].jobs
    assert job.kind == "repair"
    assert "1 May 2026" in job.text
    assert kinds(listed(wet, seen("2026-05-08", **EMPTY, actions="repaired"))["A1"]) == []
    assert kinds(listed(wet, seen("2026-05-08", **EMPTY), on=dt.date(2027, 6, 1))["A1"]) == ["look"]


@pytest.mark.parametrize(
    ("guards", "message"),
    [
        (None, "no guard is recorded"),
        ("", "it has no guard"),
        ("cone;hole mesh", r"in spite of its guard (cone and hole mesh)"),
    ],
)
def test_a_nest_lost_to_predators_asks_for_a_guard(guards: str | None, message: str) -> None:
    (job,) = listed(*lost(2026), boxes=[facts(guards=guards)])["A1"].jobs
    assert job.kind == "guard"
    assert job.text.startswith("Predators took 1 of 1 nest since 2024")
    assert message in job.text


def test_a_guard_fitted_after_the_loss_settles_it() -> None:
    fitted = seen("2026-05-22", **EMPTY, actions="guard fitted")
    assert kinds(listed(*lost(2026), fitted)["A1"]) == []


def test_losses_of_long_ago_ask_for_nothing() -> None:
    assert kinds(listed(*lost(2021), seen("2026-05-01", **EMPTY))["A1"]) == []


def test_nest_after_nest_lost_means_move_or_with_a_guard_close() -> None:
    losses = [visit for year in (2024, 2025, 2026) for visit in lost(year)]
    assert kinds(listed(*losses, boxes=[facts(guards="")])["A1"]) == ["guard", "move"]
    assert kinds(listed(*losses, boxes=[facts(guards="cone")])["A1"]) == ["guard", "close"]
    saved = (*losses, *fledged(2026))
    assert "move" not in kinds(listed(*saved, boxes=[facts(guards="")])["A1"])


def test_one_empty_season_does_not_make_a_box_unused() -> None:
    assert listed(seen("2026-05-01", **EMPTY))["A1"].unused is None


def test_a_box_unused_for_years_says_so_and_that_nothing_explains_it() -> None:
    box = listed(seen("2025-05-01", **EMPTY), seen("2026-05-01", **EMPTY))["A1"]
    assert box.unused is not None
    assert box.unused.seasons == (2025, 2026)
    assert box.unused.likely == ()
    assert kinds(box) == []


def test_a_box_used_before_counts_from_its_last_nest_only() -> None:
    empty = [seen(f"{year}-05-01", **EMPTY) for year in (2025, 2026)]
    box = listed(*fledged(2023), seen("2024-05-01", **EMPTY), *empty)["A1"]
    assert box.unused is not None
    assert box.unused.seasons == (2024, 2025, 2026)


def test_five_empty_seasons_mean_give_the_place_up() -> None:
    empty = [seen(f"{year}-05-01", **EMPTY) for year in range(2022, 2027)]
    assert kinds(listed(*empty)["A1"]) == ["close"]


@pytest.mark.parametrize(
    ("hole_mm", "message"), [(25.0, "narrower"), (60.0, "wider"), (38.0, None)]
)
def test_a_hole_that_fits_no_species_of_the_trail_is_named(
    hole_mm: float, message: str | None
) -> None:
    empty = [seen(f"{year}-05-01", **EMPTY) for year in (2025, 2026)]
    boxes = [facts(hole_mm=hole_mm), facts("B1")]
    unused = listed(*empty, *fledged(2026, "B1"), boxes=boxes)["A1"].unused
    assert unused is not None
    if message is None:
        assert unused.likely == ()
        return
    (why,) = unused.likely
    assert why.about == "hole"
    assert message in why.text
    assert "38" in why.text
    assert "Fish and Wildlife Service" in why.sources[0]


def test_a_used_box_too_near_for_the_species_in_it_is_named() -> None:
    empty = [seen(f"{year}-05-01", **EMPTY) for year in (2025, 2026)]
    visits = (*empty, *fledged(2025, "B1"), *fledged(2026, "B1"))

    def unused(distance_m: float, **more: Any) -> Winter:
        boxes = [facts(**more), facts("B1")]
        near = {"A1": [Neighbour("B1", distance_m)]}
        return listed(*visits, boxes=boxes, neighbours=near)["A1"]

    close = unused(40.0)
    assert close.unused is not None
    (why,) = close.unused.likely
    assert why.about == "spacing"
    assert why.text.startswith("Box B1, 40 m away, held eastern bluebird in 2 of these 2 seasons")
    assert kinds(close) == ["move"]
    for fine in (unused(100.0), unused(40.0, pair="1")):
        assert fine.unused is not None
        assert fine.unused.likely == ()


def test_a_habitat_is_named_only_where_chance_hardly_explains_it() -> None:
    def likely(fields: int, woods: int) -> list[str]:
        boxes = [
            *(facts(f"F{i}", habitat="field") for i in range(fields)),
            *(facts(f"W{i}", habitat="wood") for i in range(woods)),
        ]
        visits = [
            seen(f"{year}-05-01", box=f"F{i}", **EMPTY)
            for year in (2025, 2026)
            for i in range(fields)
        ]
        visits += [visit for i in range(woods) for visit in fledged(2026, f"W{i}")]
        unused = listed(*visits, boxes=boxes)["F0"].unused
        assert unused is not None
        return [why.text for why in unused.likely if why.about == "habitat"]

    # Fisher's exact test by hand: 1 / C(4, 2) = 0.17, and 1 / C(8, 4) = 0.014.
    assert likely(2, 2) == []
    (message,) = likely(4, 4)
    assert "0 of 4 boxes in field were used, 4 of 4 elsewhere" in message
    assert "p = 0.014" in message


def test_other_animals_and_wet_are_named() -> None:
    empty = [seen(f"{year}-05-01", **EMPTY, signs="mouse;wet") for year in (2025, 2026)]
    box = listed(*empty)["A1"]
    assert box.unused is not None
    assert [(why.about, why.text) for why in box.unused.likely] == [
        ("animal", "Met in it: mouse, on two visits."),
        ("wet", "Found wet inside on two visits."),
    ]


def test_boxes_that_no_longer_stand_are_not_listed() -> None:
    service = Service.from_days([None, None], [None, "2026-09-01"])
    boxes = [facts(), facts("B1")]
    found = listed(seen("2026-05-01", **EMPTY), boxes=boxes, service=service)
    assert list(found) == ["A1"]


def test_later_visits_are_not_looked_at() -> None:
    visits = (*fledged(2026), seen("2027-03-01", actions="cleaned"))
    assert kinds(listed(*visits)["A1"]) == ["clean"]
    assert kinds(listed(*visits, on=dt.date(2027, 3, 2))["A1"]) == ["look"]


def test_jobs_come_in_the_order_of_the_list_and_no_trail_is_no_list() -> None:
    losses = [visit for year in (2024, 2025, 2026) for visit in lost(year)]
    found = kinds(listed(*losses, seen("2026-05-20", nest="loose material", signs="wet"))["A1"])
    assert found == sorted(found, key=JOBS.index)
    assert len(found) == 4
    assert listed(boxes=[]) == {}


def test_nothing_is_to_be_done_in_the_closed_days_of_a_nest_that_no_one_saw_over() -> None:
    """It may have outlasted what its last visit speaks for."""
    nest = tuple(
        seen(f"2026-05-{day}", species="great tit", nest="lined cup", eggs=1, signs="wet")
        for day in ("01", "08")
    )
    histories = histories_of(*nest)
    closed = date_attempts(histories).of(0).closed
    assert closed is not None
    assert closed[1] > day_of(histories.rows[0, c.LAPSES])
    for day in range((closed[1] - closed[0]).days + 1):
        box = listed(*nest, on=closed[0] + dt.timedelta(days=day))["A1"]
        assert (box.waits, box.jobs) == (True, ())
    after = listed(*nest, on=closed[1] + dt.timedelta(days=1))["A1"]
    assert kinds(after) == ["clean", "repair"]


def test_one_loss_among_several_nests_is_no_guard_job() -> None:
    fine = (*fledged(2024), *fledged(2025))
    assert "guard" not in kinds(listed(*fine, *lost(2026))["A1"])
    assert "guard" in kinds(listed(*fledged(2024), *lost(2025), *lost(2026))["A1"])


def test_a_guard_job_names_the_rest_of_the_trail_and_what_fits_the_mount() -> None:
    def text(mount: str) -> str:
        boxes = [facts(guards="", mount=mount), facts("B1")]
        found = listed(*lost(2026), *fledged(2026, "B1"), boxes=boxes)
        return next(job.text for job in found["A1"].jobs if job.kind == "guard")

    assert "Elsewhere on the trail: 0 of 1. On its metal pole a cone" in text("metal pole")
    assert "On its mount (oak tree) a cone or a stovepipe holds little off" in text("oak tree")


def test_house_sparrows_and_nests_taken_over_are_rivals() -> None:
    sparrow = [
        seen(f"2026-05-{day}", species="house sparrow", nest="loose material", eggs=4)
        for day in ("01", "08")
    ]
    bluebird = fledged(2026, "B1")
    boxes = [facts(), facts("B1")]
    (job,) = (
        one for one in listed(*sparrow, *bluebird, boxes=boxes)["A1"].jobs if one.kind == "rival"
    )
    assert job.text.startswith("House sparrows laid in it in 2026")
    taken = (
        seen("2026-05-01", species=BLUEBIRD, nest="lined cup", eggs=4, eggs_warm="yes"),
        seen("2026-05-08", species="tree swallow", nest="lined cup", eggs=3, signs="feathers"),
    )
    rows = histories_of(*taken).rows
    assert c.TAKEN_OVER in rows[:, c.CAUSE]
    assert "rival" in kinds(listed(*taken, on=dt.date(2026, 12, 1))["A1"])


@pytest.mark.parametrize(
    ("note", "part"),
    [
        ("Roof leaks at the back", "the roof"),
        ("hinge broken", "the door"),
        ("hole enlarged by a woodpecker", "the hole"),
        ("proof of nothing, outdoors", None),
    ],
)
def test_notes_of_worn_parts_are_repairs_until_one_is_recorded(note: str, part: str | None) -> None:
    visit = seen("2026-05-01", **EMPTY)
    notes = {"A1": [(day_number("2026-05-01"), note)]}
    found = [job for job in listed(visit, notes=notes)["A1"].jobs if job.kind == "repair"]
    assert [f"Look at {part}:" in job.text and note in job.text for job in found] == (
        [True] if part else []
    )
    mended = seen("2026-06-01", **EMPTY, actions="repaired")
    assert kinds(listed(visit, mended, notes=notes)["A1"]) == []
    long_ago = {"A1": [(day_number("2024-05-01"), note)]}
    assert kinds(listed(visit, notes=long_ago)["A1"]) == []


def test_a_box_is_not_moved_while_its_hole_serves_another_species_of_the_trail() -> None:
    empty = [seen(f"{year}-05-01", **EMPTY) for year in (2025, 2026)]
    swallow = [
        seen(f"2026-05-{day}", box="C1", species="tree swallow", nest="lined cup", eggs=4)
        for day in ("01", "08")
    ]
    boxes = [facts(hole_mm=38.0), facts("B1"), facts("C1")]
    near = {"A1": [Neighbour("B1", 40.0)]}
    bluebirds = (*fledged(2025, "B1"), *fledged(2026, "B1"))
    assert kinds(listed(*empty, *bluebirds, boxes=boxes, neighbours=near)["A1"]) == ["move"]
    both = listed(*empty, *bluebirds, *swallow, boxes=boxes, neighbours=near)["A1"]
    assert both.unused is not None
    assert both.unused.may_serve == ("tree swallow",)
    assert "move" not in kinds(both)


def test_a_box_with_no_job_is_listed_for_what_every_box_needs() -> None:
    box = listed(*fledged(2026), seen("2026-08-01", actions="cleaned"))["A1"]
    assert box.jobs == ()
    assert box.routine
    assert not listed(*fledged(2026))["A1"].routine
