"""Telling who it is."""

import datetime as dt

import pytest

from layers.errors import BadValue
from layers.nesting.guide import guide_with, standard_guide
from layers.nesting.key import Identification, Seen, identify, region_at
from layers.nesting.key.traits import count_chances, ground_chances, length_chance, mark_chances
from tests.nesting.notebook import BLUEBIRD, SWALLOW, WREN, read, seen

GUIDE = standard_guide()
EAST = "eastern North America"


def told(**what: object) -> Identification:
    return identify(GUIDE, Seen(region=EAST, **what))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("what", "species"),
    [
        (
            {"materials": ("grass",), "ground": "blue", "marks": "plain", "egg_length_mm": 21},
            BLUEBIRD,
        ),
        ({"materials": ("twigs",), "ground": "white", "marks": "spotted", "eggs": 7}, WREN),
        (
            {"materials": ("leaves", "snakeskin"), "ground": "cream", "marks": "scrawled"},
            "great crested flycatcher",
        ),
        (
            {"materials": ("grass", "mud"), "ground": "white", "marks": "plain", "eggs": 5},
            "purple martin",
        ),
    ],
)
def test_nests_that_look_like_one_species_are_named(what: dict[str, object], species: str) -> None:
    answer = told(**what)
    assert answer.species == species
    assert answer.candidates[0].species == species
    assert species in answer.said


def test_not_sure_is_an_answer_and_says_what_it_may_be() -> None:
    answer = told(ground="white", marks="spotted")
    assert answer.species is None
    assert answer.said.startswith("Not sure: it may be ")
    assert len(answer.candidates) > 3


def test_blue_eggs_in_grass_may_be_a_starlings_until_they_are_measured() -> None:
    answer = told(materials=("grass",), ground="blue", marks="plain", eggs=5)
    assert answer.species is None
    assert [one.species for one in answer.candidates] == [BLUEBIRD, "european starling"]
    assert answer.look_next == ("the length of an egg", "the bird itself, from a distance")


def test_nothing_seen_identifies_nothing_and_says_where_to_look() -> None:
    answer = identify(GUIDE, Seen())
    assert answer.species is None
    assert answer.candidates == ()
    assert "what the nest is made of" in answer.look_next


def test_one_trait_alone_never_names_a_species() -> None:
    assert told(marks="scrawled").species is None


def test_chances_are_ranked_and_reasons_say_what_fits_and_what_does_not() -> None:
    answer = told(materials=("grass", "feathers"), ground="white", marks="plain")
    chances = [one.chance for one in answer.candidates]
    assert chances == sorted(chances, reverse=True)
    swallow = next(one for one in answer.candidates if one.species == SWALLOW)
    assert "fits: nest of grass, nest of feathers" in swallow.reasons[0]
    assert any(reason.startswith("guide, eggs: plain white") for reason in swallow.reasons)
    moss = told(materials=("moss", "grass"), ground="white", marks="spotted")
    chickadee = next(one for one in moss.candidates if one.species == "black-capped chickadee")
    assert "does not fit: nest of grass" in chickadee.reasons


def test_what_to_look_at_next_is_what_distinguishes_the_candidates() -> None:
    # Moss nests of chickadees have spotted eggs, those of the warbler too: their ground differs.
    answer = told(materials=("moss",))
    assert answer.look_next
    assert "what the nest is made of" not in answer.look_next
    assert "the colour of the eggs, apart from marks" in answer.look_next


def test_more_eggs_than_a_species_lays_speak_against_it() -> None:
    kestrel = GUIDE.find("american kestrel")
    chances = count_chances(kestrel)
    assert chances[9] < chances[6] < chances[4]


def test_an_egg_too_long_for_a_species_speaks_against_it() -> None:
    wren = GUIDE.find(WREN)
    assert length_chance(wren, 16) > 0.3
    assert length_chance(wren, 22) < 0.01


def test_rare_white_eggs_of_bluebirds_are_known_of() -> None:
    chances = ground_chances(GUIDE.find(BLUEBIRD))
    assert chances["blue"] > 0.7
    assert 0.05 < chances["white"] < chances["blue"]
    assert mark_chances(GUIDE.find(BLUEBIRD))["plain"] > 0.8


def test_other_regions_are_left_out() -> None:
    answer = identify(GUIDE, Seen(ground="blue", marks="plain", region="Europe"))
    assert all("bluebird" not in one.species for one in answer.candidates)


def test_the_trails_own_nests_at_that_time_of_the_year_count() -> None:
    rows = [
        seen(f"2025-05-{day:02d}", species=SWALLOW, eggs=5, young=0) | {"box": f"B{day}"}
        for day in range(10, 20)
    ]
    trail = read(*rows)
    what = Seen(materials=("grass",), ground="white", marks="plain", region=EAST)
    may = identify(GUIDE, what, trail=trail, on=dt.date(2026, 5, 15))
    august = identify(GUIDE, what, trail=trail, on=dt.date(2026, 8, 15))
    assert may.species == SWALLOW
    assert may.candidates[0].chance > august.candidates[0].chance
    assert "ten nests begun here at this time of the year" in may.candidates[0].reasons


@pytest.mark.parametrize(("on", "counted"), [("2026-06-09", True), ("2026-06-12", False)])
def test_nests_of_long_ago_count_by_their_day_of_the_year(on: str, counted: bool) -> None:
    trail = read(seen("1996-05-11", species=SWALLOW, eggs=5, young=0))
    what = Seen(materials=("grass",), ground="white", marks="plain", region=EAST)
    answer = identify(GUIDE, what, trail=trail, on=dt.date.fromisoformat(on))
    swallow = next(one for one in answer.candidates if one.species == SWALLOW)
    assert any("begun here" in reason for reason in swallow.reasons) is counted


def test_a_species_that_a_trail_adds_takes_part() -> None:
    own = guide_with(
        """
        [species."reed piper"]
        scientific = "Fistula arundinis"
        regions = ["eastern North America"]
        nest = { words = "mud and rootlets" }
        eggs = { words = "grey with scrawls" }
        clutch = { low = 4, high = 5 }
        laying_interval_days = { usual = 1 }
        incubation_days = { low = 13, high = 14 }
        nestling_days = { low = 16, high = 20 }
        broods = { usual = 1 }
        """
    )
    what = Seen(materials=("mud", "rootlets"), marks="scrawled", region=EAST)
    assert identify(own, what).species == "reed piper"


def test_a_word_not_on_the_list_is_refused_with_the_nearest() -> None:
    with pytest.raises(BadValue, match="nearest: feathers"):
        Seen(materials=("feather",))


def test_no_eggs_yet_is_no_trait() -> None:
    assert identify(GUIDE, Seen(eggs=0)).said.startswith("Not sure: nothing was seen")
    one, both = Seen(materials=("snakeskin",)), Seen(materials=("snakeskin",), eggs=0)
    assert identify(GUIDE, one) == identify(GUIDE, both)


def test_where_very_many_species_fit_alike_all_of_them_are_named() -> None:
    more = "\n".join(
        f"""[species."piper {letter}"]
        scientific = "Fistula {letter}"
        regions = ["Reedland"]
        clutch = {{ low = 4, high = 5 }}
        laying_interval_days = {{ usual = 1 }}
        incubation_days = {{ low = 13, high = 14 }}
        nestling_days = {{ low = 16, high = 20 }}
        broods = {{ usual = 1 }}"""
        for letter in (f"{first}{second}" for first in "abcdef" for second in "ghijklmnop")
    )
    answer = identify(guide_with(more), Seen(eggs=1, region="Reedland"))
    assert len(answer.candidates) == 60
    assert {round(one.chance, 6) for one in answer.candidates} == {round(1 / 60, 6)}
    assert answer.said.startswith("Not sure: it may be piper ag")


@pytest.mark.parametrize(
    ("what", "first"),
    [
        # What every keeper of boxes in the region knows; from memory.
        ({"materials": ("grass",), "form": "open cup", "ground": "blue"}, BLUEBIRD),
        ({"materials": ("grass", "feathers"), "ground": "white", "marks": "plain"}, SWALLOW),
        ({"materials": ("moss", "hair"), "marks": "spotted"}, "black-capped chickadee"),
        (
            {"materials": ("leaves", "moss", "hair"), "ground": "white", "egg_length_mm": 19},
            "tufted titmouse",
        ),
        ({"materials": ("leaves", "bark"), "form": "domed"}, "carolina wren"),
        ({"materials": ("twigs",), "form": "heap of twigs"}, WREN),
        ({"materials": ("moss", "rootlets"), "ground": "cream"}, "prothonotary warbler"),
    ],
)
def test_what_practitioners_know_comes_first(what: dict[str, object], first: str) -> None:
    assert told(**what).candidates[0].species == first


def test_either_chickadee_is_an_answer() -> None:
    answer = told(materials=("moss", "plant down", "hair"), ground="white", marks="spotted", eggs=7)
    assert answer.species is None
    assert answer.either == ("black-capped chickadee", "carolina chickadee")
    chances = [one.chance for one in answer.candidates[:2]]
    assert chances[0] == pytest.approx(chances[1], rel=0.2)
    assert max(chances) < 0.6
    assert answer.said.endswith("nest and eggs do not distinguish them.")
    west = Seen(materials=("moss", "hair"), ground="white", marks="spotted", region="Europe")
    assert not any("chickadee" in one.species for one in identify(GUIDE, west).candidates)


def test_a_species_that_does_not_pass_the_hole_is_left_out() -> None:
    what = {"materials": ("grass",), "ground": "blue", "marks": "plain"}
    assert "european starling" in [one.species for one in told(**what).candidates]
    small = told(**what, hole_mm=38)
    assert small.species == BLUEBIRD
    assert "european starling" not in [one.species for one in small.candidates]
    assert told(**what, hole_mm=15).said == "Not sure: none passes such a hole."


def test_the_bird_itself_shows_what_nest_and_eggs_do_not() -> None:
    answer = told(materials=("leaves", "bark"), adult="wren")
    assert answer.candidates[0].species == "carolina wren"
    assert "bird: wren" in answer.candidates[0].reasons[0]


@pytest.mark.parametrize(
    ("lon", "lat", "region"),
    [
        (-77.9, 42.6, EAST),
        (-117.0, 46.7, "western North America"),
        (10.7, 59.9, "Europe"),
        (151.2, -33.9, None),
    ],
)
def test_the_region_follows_from_the_place(lon: float, lat: float, region: str | None) -> None:
    assert region_at(lon, lat) == region
