"""What a place is for a box: room by the guide, what to mind, and what the trail's nests tell."""

import datetime as dt
from typing import Any

import pytest

from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories
from layers.nesting.siting import (
    BoxNear,
    Fit,
    PathNear,
    Place,
    Siting,
    ZoneHere,
    expected_species,
    habitat_use,
    nested,
    rivals,
    siting,
)
from layers.trail.settings import Settings
from tests.nesting.notebook import BLUEBIRD, SWALLOW, read, seen

SETTINGS = Settings("Alderbeck", "America/New_York")
US = Settings("Alderbeck", "America/New_York", units="us")
ON = dt.date(2026, 12, 1)
GUIDE = standard_guide()
# The guide: eastern bluebirds 91 to 137 m apart, in a hole of 38 mm.
BOXES = ("A1", "A2", "A3")
NOTHING = read(boxes=BOXES)


def near(box: str, distance_m: float, **facts: Any) -> BoxNear:
    known = {"box": box, "hole_mm": 38.0, "guards": None, "habitat": None}
    return BoxNear(box, distance_m, known | facts)


def nest(box: str, year: int, *, species: str = BLUEBIRD, end: str = "") -> list[dict[str, Any]]:
    """Four eggs, and an end: fledged, robbed or not seen."""
    visits = [
        seen(f"{year}-05-01", box=box, species=species, nest="lined cup", eggs=4, eggs_warm="yes"),
        seen(f"{year}-05-08", box=box, species=species, nest="lined cup", eggs=4, eggs_warm="yes"),
    ]
    if end == "robbed":
        visits.append(seen(f"{year}-05-15", box=box, nest="none", eggs=0, young=0, signs="hair"))
        visits[-1]["signs"] = "nest torn;hair"
    if end == "fledged":
        visits += [
            seen(f"{year}-05-20", box=box, species=species, eggs=0, young=4, young_days=4),
            seen(f"{year}-06-03", box=box, species=species, eggs=0, young=4, young_days=18),
            seen(f"{year}-06-10", box=box, nest="lined cup", eggs=0, young=0, signs="droppings"),
        ]
    return visits


def judged(
    place: Place,
    histories: Histories = NOTHING,
    *,
    settings: Settings = SETTINGS,
    on: dt.date = ON,
    habitats: dict[str, str] | None = None,
) -> Siting:
    return siting(histories, place, habitats=habitats or {}, on=on, settings=settings)


def of(found: Siting, species: str = BLUEBIRD) -> Fit:
    (one,) = (one for one in found.species if one.species == species)
    return one


def at(*boxes: BoxNear, **more: Any) -> Place:
    return Place(-77.9, 42.6, boxes=boxes, **more)


@pytest.mark.parametrize(
    ("distance_m", "room"),
    [(90.9, "too close"), (91.0, "close"), (136.9, "close"), (137.0, "room"), (None, "room")],
)
def test_room_is_judged_by_the_distances_of_the_guide(distance_m: float | None, room: str) -> None:
    place = at() if distance_m is None else at(near("A1", distance_m))
    assert of(judged(place)).room == room


def test_a_box_counts_whose_hole_fits_or_that_no_one_measured_or_that_held_the_species() -> None:
    boxes: list[dict[str, object]] = [
        {"box": "A1", "hole_mm": 39.0},  # 1 mm wider: sixteenths of an inch are not finer
        {"box": "A2", "hole_mm": 76.0},
        {"box": "A3", "hole_mm": None},
    ]
    bluebird = GUIDE.find(BLUEBIRD)
    assert rivals({}, boxes, bluebird) == ["A1", "A3"]
    held = read(*nest("A2", 2025), boxes=BOXES)
    assert rivals(nested(held), boxes, bluebird) == ["A1", "A2", "A3"]


def test_a_nearer_box_that_could_not_serve_leaves_room() -> None:
    found = of(judged(at(near("A1", 20.0, hole_mm=76.0), near("A2", 150.0))))
    assert found.room == "room"
    assert "the next, A2, is 150 m away" in found.why.text


def test_the_reason_names_the_box_what_it_held_and_the_source() -> None:
    histories = read(*nest("A1", 2024), *nest("A1", 2025), boxes=BOXES)
    found = of(judged(at(near("A1", 60.0, hole_mm=76.0)), histories))
    assert found.why.text == (
        "Box A1, 60 m away, held it in 2024 and 2025; the guide keeps boxes for it at least "
        "91 m apart."
    )
    assert any("NH-645" in source for source in found.why.sources)
    assert set(found.why.sources) <= set(found.sources)


def test_units_of_the_trail_are_used() -> None:
    found = of(judged(at(near("A1", 60.0)), settings=US))
    assert "197 ft away, has a hole that fits it (1 1/2 in)" in found.why.text
    assert "at least 299 ft apart" in found.why.text
    assert {one.name: one.text for one in found.figures}["hole"] == "1 1/2 in"


def test_visits_after_the_day_are_not_known() -> None:
    histories = read(*nest("A1", 2025), boxes=BOXES)
    before = of(judged(at(near("A1", 60.0, hole_mm=76.0)), histories, on=dt.date(2025, 1, 1)))
    assert before.room == "room"
    assert before.nests == 0


def test_species_that_nested_here_come_first_then_others_of_their_region() -> None:
    histories = read(
        *nest("A1", 2024, species=SWALLOW), *nest("A2", 2024), *nest("A2", 2025), boxes=BOXES
    )
    expected = expected_species(GUIDE, nested(histories))
    assert list(expected.items())[:2] == [(BLUEBIRD, 2), (SWALLOW, 1)]
    assert "prothonotary warbler" in expected
    # Of western North America alone; two of two species nested here live in the east.
    assert "western bluebird" not in expected


def test_before_any_nest_every_species_with_a_box_is_expected() -> None:
    expected = expected_species(GUIDE, {})
    assert {"western bluebird", BLUEBIRD, "wood duck"} <= set(expected)
    assert "house sparrow" not in expected


def test_a_species_without_a_distance_has_no_answer() -> None:
    histories = read(*nest("A1", 2025, species="barn owl"), boxes=BOXES)
    found = of(judged(at(near("A1", 10.0)), histories), "barn owl")
    assert found.room == "not known"


def test_the_habitat_of_the_place_is_compared_with_the_rest_of_the_trail() -> None:
    histories = read(*nest("A1", 2025), *nest("A3", 2025), boxes=BOXES)
    meadow = at(zones=(ZoneHere("habitat", "Long Meadow", "meadow"),))
    habitats = {"A1": "meadow", "A2": "meadow", "A3": "wood"}
    found = of(judged(meadow, histories, habitats=habitats))
    assert found.habitat is not None
    assert found.habitat.text == (
        "It has laid in 1 of the trail's two boxes in meadow (95 % interval 1 % to 99 %), and in 1 "
        "of 1 elsewhere."
    )
    assert of(judged(at(), histories, habitats=habitats)).habitat is None
    only = {"A1": "meadow"}
    assert of(judged(meadow, histories, habitats=only)).habitat is None


@pytest.mark.parametrize(
    ("place", "message"),
    [
        (
            at(zones=(ZoneHere("keep_out", "Bobolink field", None),)),
            "Bobolink field, which is closed to everyone",
        ),
        (at(zones=(ZoneHere("building", None, None),)), "on a building (building)"),
        (at(near("A1", 0.4)), "Box A1 stands there"),
    ],
)
def test_no_box_belongs_where_no_one_goes_or_something_is_built(place: Place, message: str) -> None:
    assert message in judged(place).against[0].text
    assert judged(at(near("A1", 5.0))).against == ()


def minded(place: Place, histories: Histories = NOTHING, **more: Any) -> str:
    return " ".join(one.text for one in judged(place, histories, **more).cautions)


def test_house_sparrows_are_named_near_their_nests_and_near_buildings() -> None:
    sparrows = read(*nest("A1", 2025, species="house sparrow"), boxes=BOXES)
    assert "House sparrows nested in box A1, 120 m away, in 2025:" in minded(
        at(near("A1", 120.0)), sparrows
    )
    assert "sparrow" not in minded(at(near("A1", 301.0)), sparrows)
    # Three seasons back and no further.
    assert "sparrow" not in minded(at(near("A1", 120.0)), sparrows, on=dt.date(2028, 6, 1))
    assert "A building stands 40 m away" in minded(at(building_m=40.0))
    assert minded(at(building_m=101.0)) == ""


def test_losses_to_predators_are_counted_with_and_without_a_guard() -> None:
    histories = read(
        *nest("A1", 2025, end="robbed"),
        *nest("A1", 2026, end="fledged"),
        *nest("A2", 2025, end="fledged"),
        *nest("A3", 2026),
        boxes=BOXES,
    )
    place = at(near("A1", 50.0, guards=""), near("A2", 80.0, guards="cone"), near("A3", 90.0))
    assert minded(place, histories) == (
        "Predators took 1 of 2 in boxes without a guard and 0 of 1 in boxes with a guard, of "
        "nests whose end is known since 2024 in the two boxes nearest (up to 80 m away): fit a "
        "guard from the start."
    )
    assert minded(place, histories, on=dt.date(2029, 1, 1)) == ""
    guarded = at(near("A1", 50.0, guards="cone"))
    assert minded(guarded, histories).endswith("(up to 50 m away).")


@pytest.mark.parametrize(
    ("path", "message"),
    [
        (PathNear("Pond Loop", "all", 8.0), "open to all, passes 8 m away: people will come"),
        (PathNear("Pond Loop", "team", 8.0), "The nearest path, Pond Loop, passes 8 m away."),
        (PathNear(None, None, 250.0), "a path without a name, is 250 m away: every visit"),
    ],
)
def test_the_nearest_path_is_named(path: PathNear, message: str) -> None:
    assert message in minded(at(path=path))


def test_over_water_a_box_needs_a_pole() -> None:
    assert "over water (Alder Pond)" in minded(at(zones=(ZoneHere("water", "Alder Pond", None),)))


def test_use_by_habitat_has_its_interval() -> None:
    habitats = {"A1": "field", "A2": "field", "A3": "wood"}
    laid = nested(read(*nest("A1", 2025), *nest("A2", 2026), boxes=BOXES))
    use = habitat_use(laid, GUIDE.find(BLUEBIRD), habitats)
    assert {name: (one.used, one.boxes) for name, one in use.items()} == {
        "field": (2, 2),
        "wood": (0, 1),
    }
    # Exact binomial: both ends of 2 of 2 follow from 0.025 = p**2.
    assert use["field"].interval.low == pytest.approx(0.025**0.5)
    assert use["field"].interval.high == 1
    assert "(95 % interval 16 % to 100 %)" in use["field"].text


def test_a_pair_is_suggested_where_one_box_serves_swallows_and_bluebirds() -> None:
    both = read(*nest("A1", 2025), *nest("A1", 2026, species=SWALLOW), boxes=BOXES)

    def suggested(histories: Histories, *boxes: BoxNear) -> list[str]:
        found = judged(Place(-77.9, 42.6, boxes=boxes), histories)
        return [one.text for one in found.cautions if "back to back" in one.text]

    (text,) = suggested(both, near("A1", 40.0))
    assert "Swallows (2026) and bluebirds (2025) both laid in box A1" in text
    assert suggested(both, near("A1", 200.0)) == []
    assert suggested(both, near("A1", 40.0, pair="A2")) == []
    assert suggested(read(*nest("A1", 2025), boxes=BOXES), near("A1", 40.0)) == []
