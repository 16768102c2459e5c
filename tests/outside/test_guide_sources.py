"""The numbers of the guide against the published tables they come from.

The tables are typed here once more, row by row, so that a slip in the guide shows. Where
a table is said to be from memory it is no check of the birds, only of what the guide
says about itself.
"""

from __future__ import annotations

import math
import tomllib
from importlib import resources
from typing import Any

import pytest

from layers.nesting.guide import Span, Species, standard_guide
from layers.nesting.guide.species import BOUNDS

GUIDE = standard_guide()
FILES: dict[str, Any] = {
    name: table
    for file in ("north_america.toml", "europe.toml", "both_continents.toml")
    for name, table in tomllib.loads(
        resources.files("layers.nesting.guide").joinpath(file).read_text(encoding="utf-8")
    )["species"].items()
}
MILLIMETRES_PER_INCH = 25.4
METRES_PER_FOOT = 0.3048
METRES_PER_YARD = 0.9144
METRES_PER_MILE = 1609.344
SQUARE_METRES_PER_ACRE = 4046.8564224


def rows(table: str) -> list[list[str]]:
    return [[cell.strip() for cell in line.split("|")] for line in table.strip().splitlines()]


def span(name: str, field: str) -> Span:
    value = getattr(GUIDE.find(name), field)
    assert isinstance(value, Span), f"{name} has no {field}"
    return value


def ends(name: str, field: str) -> tuple[float, float]:
    found = span(name, field)
    return found.low, found.high


def holds(name: str, field: str, value: str, source: str) -> None:
    """The file has the printed value ("14", "12-14"; "" is a gap), and the span takes it in."""
    if not value:
        return
    low, _, high = value.partition("-")
    parts = FILES[name][field]
    assert any(
        part["source"] == source
        and ("low" in part if high else "low" not in part)
        and part.get("low", part.get("usual")) == float(low)
        and part.get("high", part.get("usual")) == float(high or low)
        for part in (parts if isinstance(parts, list) else [parts])
    ), (name, field)
    found = span(name, field)
    assert found.low <= float(low) <= float(high or low) <= found.high, (name, field)
    assert source in found.sources, (name, field)


# Myhrvold, N. P. et al. 2015. Ecology 96:3109 (compiled means): common name | scientific name |
# clutch | clutches a year | incubation, days | fledging age, days. The fledging age of the
# wood duck there (61.5) is its age of flight, not its stay in the box, and is left out.
MYHRVOLD_2015 = """
eastern bluebird | Sialia sialis | 4.41 | 2 | 14.1 | 18.15
western bluebird | Sialia mexicana | 5 | 2 | 13.8 | 21
mountain bluebird | Sialia currucoides | 5.25 | 2 | 13 | 22.5
tree swallow | Tachycineta bicolor | 5 | 1 | 14.5 | 20
violet-green swallow | Tachycineta thalassina | 4.5 | 1 | 13.75 | 24
black-capped chickadee | Poecile atricapillus | 6.95 | 1 | 12 | 16.5
carolina chickadee | Poecile carolinensis | 6 | 1 | 13 | 16.7
mountain chickadee | Poecile gambeli | 7.03 | 1.5 | 14 | 20
tufted titmouse | Baeolophus bicolor | 5.95 | 1.5 | 13.5 | 17.5
house wren | Troglodytes aedon | 6.3 | 2 | 14 | 16.5
carolina wren | Thryothorus ludovicianus | 4.435 | 1.75 | 14 | 13.5
bewick's wren | Thryomanes bewickii | 5.82 | 2.25 | 14 | 14
prothonotary warbler | Protonotaria citrea | 4.95 | 1.5 | 13 | 11.25
great crested flycatcher | Myiarchus crinitus | 5 | 1 | 14 | 15
ash-throated flycatcher | Myiarchus cinerascens | 4.4 | 1.5 | 15 | 16.5
white-breasted nuthatch | Sitta carolinensis | 8 | 1 | 12 | 14.5
red-breasted nuthatch | Sitta canadensis | 5.5 | 1 | 12 | 19.5
pygmy nuthatch | Sitta pygmaea | 7 | 1 | 15.8 | 21.5
brown-headed nuthatch | Sitta pusilla | 5.07 | 1 | 14 | 18
american kestrel | Falco sparverius | 4.6 | 1.25 | 29 | 30
eastern screech-owl | Megascops asio | 4.25 | 1 | 26 | 28
western screech-owl | Megascops kennicottii | 4.25 | 1 | 26 | 28
wood duck | Aix sponsa | 11.8 | 1.5 | 30 |
purple martin | Progne subis | 4.79 | 1 | 15.5 | 28
northern flicker | Colaptes auratus | 6.6 | 1 | 12 | 28
house sparrow | Passer domesticus | 4.35 | 3.25 | 11.75 | 15
european starling | Sturnus vulgaris | 5 | 2 | 12 | 21
"""

# Ehrlich, P. R., Dobkin, D. S. & Wheye, D. 1988. The Birder's Handbook: common name | usual
# clutch | smallest to largest | incubation | nestling days | broods | egg length, mm.
# Cells that the book marks with a question mark alone are left out.
EHRLICH_1988 = """
western bluebird | 4-6 | 3-8 | | | | 21
tree swallow | 4-6 | | 13-16 | 16-24 | 1-2 | 19
violet-green swallow | 4-6 | | 13-14 | 16-24 | 1 | 19
house wren | 6-8 | 5-12 | 13 | 12-18 | 2-3 | 16
bewick's wren | 5-7 | 4-11 | 12-14 | 14 | | 17
ash-throated flycatcher | 4-5 | 3-7 | 15 | 14-16 | | 22
white-breasted nuthatch | 5-8 | 3-10 | 12 | 14 | | 19
american kestrel | 4-5 | 3-7 | 29-31 | 30-31 | 1-2 | 35
"""

# Storchová, L. & Hořák, D. 2018. Global Ecology and Biogeography 27:400-406: common name |
# scientific name | clutch, least to most | mean | broods | incubation | nestling days |
# fledging days | egg length | egg width, mm. Swift: the "nestling" value 21 is left out, see
# the test on it. Goldeneye: flies at 62 days, leaves the box at once.
STORCHOVA_HORAK_2018 = """
great tit | Parus major | 3-18 | 10.0 | 1.5 | 14 | 19 | 19 | 17.8 | 13.6
blue tit | Cyanistes caeruleus | 6-16 | 11.0 | 1 | 14 | 18 | 19 | 15.6 | 11.9
coal tit | Periparus ater | 5-13 | 8.5 | 1.5 | 15 | 19 | 19 | 15.3 | 11.7
marsh tit | Poecile palustris | 3-12 | 8.5 | 1 | 14 | 18 | 19 | 15.9 | 12.2
willow tit | Poecile montanus | 4-11 | 7.5 | 1 | 14 | 19 | 19 | 15.7 | 12.3
crested tit | Lophophanes cristatus | 6-7 | 6.5 | 1 | 15 | 18 | 20 | 16.3 | 12.6
pied flycatcher | Ficedula hypoleuca | 5-8 | 6.5 | 1 | 14 | 16 | 16 | 17.4 | 13.4
collared flycatcher | Ficedula albicollis | 5-9 | 6.0 | 1 | 13 | 17 | 17 | 17.4 | 13.2
common redstart | Phoenicurus phoenicurus | 3-10 | 6.0 | 2 | 13 | 14 | 15 | 18.7 | 13.8
eurasian nuthatch | Sitta europaea | 5-12 | 7.0 | 1 | 15 | | 24 | 19.4 | 14.6
tree sparrow | Passer montanus | 1-8 | 5.0 | 2.5 | 13 | 18 | 18 | 18.9 | 14.0
house sparrow | Passer domesticus | 2-7 | 4.5 | 3 | 13 | 14 | 14 | 22.2 | 15.7
european starling | Sturnus vulgaris | 4-7 | 5.0 | 1.5 | 12 | 21 | 21 | 29.7 | 21.2
eurasian wren | Troglodytes troglodytes | 3-9 | 6.5 | 2 | 16 | 17 | 17 | 16.4 | 12.6
eurasian treecreeper | Certhia familiaris | 3-9 | 5.5 | 1.5 | 15 | 15 | 15 | 15.9 | 12.05
wryneck | Jynx torquilla | 5-12 | 8.5 | 1 | 13 | 20 | 20 | 21 | 15
common swift | Apus apus | 1-4 | 2.5 | 1 | 21 | | 43 | 25 | 16
common kestrel | Falco tinnunculus | 1-9 | 4.5 | 1 | 28 | 27 | 30 | 39 | 31
tawny owl | Strix aluco | 1-6 | 3.5 | 1 | 29 | 28 | 35 | 47 | 39
barn owl | Tyto alba | 2-14 | 5.5 | 1.5 | 31 | 53 | 56 | 41 | 32
little owl | Athene noctua | 1-7 | 3.5 | 1 | 28 | 30 | 33 | 35 | 29
stock dove | Columba oenas | 1-2 | 2.0 | 3 | 17 | 26 | 29 | 38 | 29
hoopoe | Upupa epops | 4-10 | 7.5 | 1 | 16 | 28 | 28 | 26 | 18
common goldeneye | Bucephala clangula | 5-13 | 9.5 | 1 | 30 | | | 59 | 43
"""

# Common textbook ranges, FROM MEMORY: common name | usual clutch | smallest to largest |
# incubation | nestling days | broods.
TEXTBOOK_RANGES = """
eastern bluebird | 4-5 | 3-7 | 12-14 | 16-20 | 2-3
mountain bluebird | 5-6 | 4-8 | 13-14 | 18-21 | 1-2
black-capped chickadee | 6-8 | 4-10 | 12-13 | 14-18 | 1
carolina chickadee | 5-7 | 3-9 | 12-15 | 16-19 | 1
tufted titmouse | 5-6 | 3-9 | 12-14 | 15-18 | 1-2
carolina wren | 4-5 | 3-7 | 12-16 | 12-14 | 2-3
prothonotary warbler | 4-6 | 3-8 | 12-14 | 9-11 | 1-2
great crested flycatcher | 5 | 4-8 | 13-15 | 12-18 | 1
red-breasted nuthatch | 5-6 | 4-8 | 12-13 | 18-21 | 1
eastern screech-owl | 3-5 | 2-7 | 26-30 | 25-30 | 1
wood duck | 10-15 | 6-16 | 28-32 | 1-2 | 1-2
purple martin | 4-5 | 3-7 | 15-16 | 26-31 | 1
house sparrow | 4-5 | 1-8 | 10-14 | 14-17 | 2-4
european starling | 4-6 | 2-9 | 11-13 | 20-23 | 1-2
"""

# Of these both ends of the nestling days are printed in a source as well.
PRINTED_TOO = {
    *("eastern bluebird", "black-capped chickadee", "red-breasted nuthatch", "purple martin"),
    "house sparrow",
}

# Ranges and means of incubation and of the time in the nest, as each source prints them:
# common name | field | days | source.
PERIODS = """
eastern bluebird | incubation_days | 12-14 | henderson_1995
eastern bluebird | nestling_days | 15-20 | wikipedia
western bluebird | incubation_days | 13-14 | karl_2000
mountain bluebird | incubation_days | 13-14 | karl_2000
violet-green swallow | incubation_days | 13-15 | karl_2000
violet-green swallow | nestling_days | 23-25 | karl_2000
black-capped chickadee | incubation_days | 11-13 | karl_2000
black-capped chickadee | nestling_days | 14-18 | karl_2000
carolina chickadee | incubation_days | 11-13 | alabama_dcnr
white-breasted nuthatch | incubation_days | 12-14 | puget_sound
white-breasted nuthatch | nestling_days | 26 | puget_sound
red-breasted nuthatch | nestling_days | 14-21 | ehrlich_1988
red-breasted nuthatch | incubation_days | 12 | ehrlich_1988
pygmy nuthatch | incubation_days | 15-16 | ehrlich_1988
pygmy nuthatch | nestling_days | 20-22 | ehrlich_1988
house wren | incubation_days | 12-15 | karl_2000
house wren | nestling_days | 12-18 | karl_2000
prothonotary warbler | incubation_days | 12-14 | bent_1953
great crested flycatcher | incubation_days | 13-15 | taylor_kershner_1991
great crested flycatcher | nestling_days | 13-15 | taylor_kershner_1991
house sparrow | incubation_days | 10-13 | karl_2000
house sparrow | nestling_days | 14-17 | karl_2000
european starling | incubation_days | 12-14 | ehrlich_1988
european starling | nestling_days | 18-21 | ehrlich_1988
purple martin | incubation_days | 15-16 | wikipedia
purple martin | nestling_days | 26-32 | missouri_mdc
great tit | incubation_days | 13.9 | gibb_1950
blue tit | incubation_days | 14.2 | gibb_1950
coal tit | incubation_days | 13-15 | kazakhstan_pages
coal tit | nestling_days | 19-20 | kazakhstan_pages
pied flycatcher | incubation_days | 13-15 | swedish_box_book
collared flycatcher | incubation_days | 13.2 | knysh_2003
collared flycatcher | nestling_days | 15 | knysh_2003
common redstart | incubation_days | 12-14 | planet_of_birds
eurasian nuthatch | incubation_days | 13-18 | hbw_2008
eurasian nuthatch | nestling_days | 20-26 | hbw_2008
tree sparrow | incubation_days | 12-13 | wikipedia
tree sparrow | nestling_days | 15-18 | wikipedia
"""

# US Fish and Wildlife Service, For the Birds, March 2001: common name | floor | box height |
# entrance height | entrance diameter, inches | height of placement, feet.
USFWS_2001 = """
eastern bluebird | 5-5 | 8-12 | 6-10 | 1.5 | 4-6
western bluebird | 5-5 | 8-12 | 6-10 | 1.5 | 4-6
mountain bluebird | 5-5 | 8-12 | 6-10 | 1.5 | 4-6
black-capped chickadee | 4-4 | 8-10 | 6-8 | 1.125 | 4-15
carolina chickadee | 4-4 | 8-10 | 6-8 | 1.125 | 4-15
mountain chickadee | 4-4 | 8-10 | 6-8 | 1.125 | 4-15
tufted titmouse | 4-4 | 10-12 | 6-10 | 1.25 | 5-15
ash-throated flycatcher | 6-6 | 8-12 | 6-10 | 1.5 | 5-15
great crested flycatcher | 6-6 | 8-12 | 6-10 | 1.75 | 5-15
brown-headed nuthatch | 4-4 | 8-10 | 6-8 | 1.25 | 5-15
pygmy nuthatch | 4-4 | 8-10 | 6-8 | 1.25 | 5-15
red-breasted nuthatch | 4-4 | 8-10 | 6-8 | 1.25 | 5-15
white-breasted nuthatch | 4-4 | 8-10 | 6-8 | 1.375 | 5-15
prothonotary warbler | 5-5 | 6-6 | 4-5 | 1.125 | 4-8
purple martin | 6-6 | 6-6 | 1-2 | 2.25 | 6-20
tree swallow | 5-5 | 6-8 | 4-6 | 1.5 | 5-15
violet-green swallow | 5-5 | 6-8 | 4-6 | 1.5 | 5-15
bewick's wren | 4-4 | 6-8 | 4-6 | 1.25 | 5-10
house wren | 4-4 | 6-8 | 4-6 | 1.25 | 5-10
carolina wren | 4-4 | 6-8 | 4-6 | 1.5 | 5-10
northern flicker | 7-7 | 16-18 | 14-16 | 2.5 | 6-20
eastern screech-owl | 8-8 | 12-15 | 9-12 | 3 | 10-30
western screech-owl | 8-8 | 12-15 | 9-12 | 3 | 10-30
american kestrel | 8-8 | 12-15 | 9-12 | 3 | 10-30
barn owl | 10-18 | 15-18 | 4-4 | 6 | 12-18
wood duck | 10-18 | 10-24 | | 4 | 10-20
"""

# Days of age from which boxes stay closed. Bluebirds: practice of bluebird keepers, no agency
# or paper found. All others FROM MEMORY, general field practice.
CLOSED_FROM = """
eastern bluebird | 12-13
western bluebird | 12-13
mountain bluebird | 12-13
tree swallow | 12-15
black-capped chickadee | 10-12
carolina chickadee | 10-12
mountain chickadee | 10-12
tufted titmouse | 10-12
house wren | 10-12
prothonotary warbler | 7-8
carolina wren | 9-10
white-breasted nuthatch | 11-12
red-breasted nuthatch | 11-12
pygmy nuthatch | 11-12
brown-headed nuthatch | 11-12
great crested flycatcher | 11-12
ash-throated flycatcher | 11-12
purple martin | 20-22
american kestrel | 21-23
eastern screech-owl | 21-23
western screech-owl | 21-23
great tit | 13-15
blue tit | 13-15
pied flycatcher | 12-12
european starling | 16-16
"""


@pytest.mark.parametrize("row", rows(MYHRVOLD_2015), ids=lambda row: str(row[0]))
def test_means_of_north_american_species(row: list[str]) -> None:
    name, scientific, clutch, broods, incubation, nestling = row
    assert GUIDE.find(name).scientific == scientific
    holds(name, "clutch", clutch, "myhrvold_2015")
    holds(name, "broods", broods, "myhrvold_2015")
    holds(name, "incubation_days", incubation, "myhrvold_2015")
    holds(name, "nestling_days", nestling, "myhrvold_2015")


@pytest.mark.parametrize("row", rows(EHRLICH_1988), ids=lambda row: str(row[0]))
def test_ranges_of_a_handbook(row: list[str]) -> None:
    name, clutch, extremes, incubation, nestling, broods, egg_length = row
    holds(name, "clutch", clutch, "ehrlich_1988")
    holds(name, "clutch_range", extremes, "ehrlich_1988")
    holds(name, "incubation_days", incubation, "ehrlich_1988")
    holds(name, "nestling_days", nestling, "ehrlich_1988")
    holds(name, "broods", broods, "ehrlich_1988")
    holds(name, "egg_length_mm", egg_length, "ehrlich_1988")


@pytest.mark.parametrize("row", rows(PERIODS), ids=lambda row: f"{row[0]}, {row[1]}, {row[3]}")
def test_printed_periods(row: list[str]) -> None:
    name, field, days, source = row
    holds(name, field, days, source)
    assert not GUIDE.sources[source].memory


def test_no_period_of_the_guide_is_a_mean_without_a_range() -> None:
    for one in GUIDE.species:
        for span in (one.incubation_days, one.nestling_days):
            assert span.high > span.low, one.common


@pytest.mark.parametrize("row", rows(STORCHOVA_HORAK_2018), ids=lambda row: str(row[0]))
def test_european_species(row: list[str]) -> None:
    name, scientific, extremes, clutch, broods, incubation, nestling, fledging, length, width = row
    assert GUIDE.find(name).scientific == scientific
    source = "storchova_horak_2018"
    holds(name, "clutch", clutch, source)
    holds(name, "clutch_range", extremes, source)
    holds(name, "broods", broods, source)
    holds(name, "incubation_days", incubation, source)
    holds(name, "nestling_days", nestling, source)
    holds(name, "nestling_days", fledging, source)
    assert ends(name, "egg_length_mm") == (float(length), float(length))
    assert ends(name, "egg_width_mm") == (float(width), float(width))


@pytest.mark.parametrize("row", rows(TEXTBOOK_RANGES), ids=lambda row: str(row[0]))
def test_ranges_from_memory_are_there_and_say_so(row: list[str]) -> None:
    name, clutch, extremes, incubation, nestling, broods = row
    holds(name, "clutch", clutch, "textbook_ranges")
    holds(name, "clutch_range", extremes, "textbook_ranges")
    holds(name, "incubation_days", incubation, "textbook_ranges")
    holds(name, "nestling_days", nestling, "textbook_ranges")
    holds(name, "broods", broods, "textbook_ranges")
    assert GUIDE.sources["textbook_ranges"].memory
    assert span(name, "clutch_range").memory
    assert span(name, "nestling_days").memory is (name not in PRINTED_TOO)


@pytest.mark.parametrize("row", rows(USFWS_2001), ids=lambda row: str(row[0]))
def test_box_measures_are_the_printed_inches_and_feet(row: list[str]) -> None:
    name, floor, depth, entrance, hole, placement = row
    printed = {"floor_mm": floor, "depth_mm": depth, "entrance_height_mm": entrance}
    for field, inches in printed.items():
        if inches:
            low, high = (round(float(end) * MILLIMETRES_PER_INCH) for end in inches.split("-"))
            assert ends(name, field) == (low, high), field
            assert span(name, field).sources == ("usfws_2001",)
    assert span(name, "hole_mm").low == round(float(hole) * MILLIMETRES_PER_INCH)
    assert span(name, "hole_mm").sources[0] == "usfws_2001"
    lowest, highest = (round(float(end) * METRES_PER_FOOT, 1) for end in placement.split("-"))
    assert ends(name, "height_m") == (lowest, highest)


@pytest.mark.parametrize("row", rows(CLOSED_FROM), ids=lambda row: str(row[0]))
def test_days_after_which_a_box_stays_closed(row: list[str]) -> None:
    name, days = row
    low, high = days.split("-")
    assert ends(name, "closed_from_day") == (float(low), float(high))
    bluebird = name.endswith("bluebird")
    assert span(name, "closed_from_day").memory is not bluebird
    assert span(name, "closed_from_day").sources == (
        ("bluebird_practice",) if bluebird else ("field_practice",)
    )


def test_other_days_closed_are_worked_out_as_0_68_of_the_shortest_stay() -> None:
    listed = {row[0] for row in rows(CLOSED_FROM)}
    others = [one for one in GUIDE.species if one.common not in listed and not one.leaves_at_once]
    assert len(others) == 22
    for one in others:
        day = math.floor(0.68 * one.nestling_days.low)
        assert ends(one.common, "closed_from_day") == (day, day)
        assert span(one.common, "closed_from_day").sources == ("computed",)


# Spans as shipped, worked out by hand from the tables above.
@pytest.mark.parametrize(
    ("name", "field", "low", "high", "usual"),
    [
        # 15-20 (Wikipedia), memory 16-20, mean 18.15 (Myhrvold et al. 2015).
        ("eastern bluebird", "nestling_days", 15, 20, 18.15),
        # Memory 12-14, mean 14.1 (Myhrvold et al. 2015) widened to 14-15.
        ("eastern bluebird", "incubation_days", 12, 15, 14.1),
        # 16-24, usually 20 (Ehrlich et al. 1988).
        ("tree swallow", "nestling_days", 16, 24, 20),
        # 12-18 (Ehrlich et al. 1988), mean 16.5 (Myhrvold et al. 2015).
        ("house wren", "nestling_days", 12, 18, 16.5),
        # 10-11 (general accounts), memory 9-11, mean 11.25 widened to 11-12.
        ("prothonotary warbler", "nestling_days", 9, 12, 11.25),
        # 14 (Ehrlich et al. 1988), mean 14.5, "other sources to 26".
        ("white-breasted nuthatch", "nestling_days", 14, 26, 14),
        # 13 and mean 14 (Ehrlich et al. 1988, Myhrvold et al. 2015), 12-15 (Karl 2000).
        ("house wren", "incubation_days", 12, 15, 13),
        # Mean 13.8, 13-14 (Karl 2000), memory 12-17.
        ("western bluebird", "incubation_days", 12, 17, 13.8),
        # Mean 15.8, 15-16 (Ehrlich et al. 1988).
        ("pygmy nuthatch", "incubation_days", 15, 16, 15.8),
        # Mean 14 alone (Myhrvold et al. 2015): a day to each side.
        ("brown-headed nuthatch", "incubation_days", 13, 15, 14),
        # Mean 13.75, 13-15 (Karl 2000).
        ("violet-green swallow", "incubation_days", 13, 15, 13.75),
        # 31 alone (Storchová & Hořák 2018): a twentieth to each side, in whole days outwards.
        ("barn owl", "incubation_days", 29, 33, 31),
        # Mean 18 alone: 0.85 to 1.1 of it.
        ("brown-headed nuthatch", "nestling_days", 15, 20, 18),
        # 18 (Storchová & Hořák 2018), 13 (Myhrvold et al. 2015), 15-18 (Wikipedia).
        ("tree sparrow", "nestling_days", 13, 18, 18),
        # 10.0 (Storchová & Hořák 2018), 8.6 (Myhrvold et al. 2015).
        ("great tit", "clutch", 8, 10, 10.0),
        # Fledging age 43, not the "nestling" 21 (Storchová & Hořák 2018): 0.85 to 1.1 of 43.
        ("common swift", "nestling_days", 36, 48, 43),
        # In the nest 28, flying at 35 (Storchová & Hořák 2018): 0.85 of 28 to 1.1 of 35.
        ("tawny owl", "nestling_days", 23, 39, 28),
        # 14 and 14 (Storchová & Hořák 2018), 15 (Myhrvold et al. 2015), memory 14-17.
        ("house sparrow", "nestling_days", 14, 17, 14),
        # 13 (Storchová & Hořák 2018), 11.75 (Myhrvold et al. 2015), memory 10-14.
        ("house sparrow", "incubation_days", 10, 14, 13),
        # 9-14 (Polk SWCD 2010), mean 11.8, memory 10-15.
        ("wood duck", "clutch", 9, 15, 11.8),
        # Dump nests to 40 (Polk SWCD 2010), memory 6-16.
        ("wood duck", "clutch_range", 6, 40, None),
        # The young leave about a day after hatching: memory.
        ("wood duck", "nestling_days", 1, 2, None),
        ("common goldeneye", "nestling_days", 1, 2, None),
        # To banding at about day 10 (Radunzel et al. 1997).
        ("eastern bluebird", "banding_days", 10, 10, 10),
        # Ringed at 7 to 10 days, later they may burst out (Newbury Ringing Group 2016).
        ("great tit", "banding_days", 7, 10, None),
        ("eurasian nuthatch", "banding_days", 7, 10, None),
        # 17 to 20 mm, usually 18.5 (Bent 1953).
        ("prothonotary warbler", "egg_length_mm", 17, 20, 18.5),
        # USDA Farmers' Bulletin 609 (1914), 7/8 inch; RSPB, 25 mm; 40 mm lets starlings in.
        ("house wren", "least_hole_mm", 22, 22, 22),
        ("blue tit", "least_hole_mm", 25, 25, 25),
        ("european starling", "least_hole_mm", 40, 40, 40),
        # 1 1/2 inch (US Fish and Wildlife Service 2001), memory 1 9/16 inch.
        ("mountain bluebird", "hole_mm", 38, 40, 38),
    ],
)
def test_a_span_takes_in_every_source(
    name: str, field: str, low: float, high: float, usual: float | None
) -> None:
    found = span(name, field)
    assert (found.low, found.high, found.usual) == (low, high, usual)


@pytest.mark.parametrize(
    ("name", "low_m", "high_m", "source", "memory"),
    [
        # At least 600 ft: Polk SWCD 2010.
        ("wood duck", 600 * METRES_PER_FOOT, 600 * METRES_PER_FOOT, "polk_swcd_2010", False),
        # At least 100 yd: USDA-NRCS NH-645, all boxes.
        ("carolina wren", 100 * METRES_PER_YARD, 100 * METRES_PER_YARD, "usda_nrcs_nh_645", False),
        # Rules of thumb, FROM MEMORY: 100-150 yd; 35-100 ft; 100-200 yd; half a mile;
        # 200-300 ft; one in 6 acres as a square.
        ("eastern bluebird", 100 * METRES_PER_YARD, 150 * METRES_PER_YARD, "rule_of_thumb", True),
        ("tree swallow", 35 * METRES_PER_FOOT, 100 * METRES_PER_FOOT, "rule_of_thumb", True),
        ("carolina chickadee", 100 * METRES_PER_YARD, 200 * METRES_PER_YARD, "rule_of_thumb", True),
        ("american kestrel", METRES_PER_MILE / 2, METRES_PER_MILE / 2, "rule_of_thumb", True),
        (
            "prothonotary warbler",
            200 * METRES_PER_FOOT,
            300 * METRES_PER_FOOT,
            "rule_of_thumb",
            True,
        ),
        (
            "great crested flycatcher",
            math.sqrt(6 * SQUARE_METRES_PER_ACRE),
            math.sqrt(6 * SQUARE_METRES_PER_ACRE),
            "rule_of_thumb",
            True,
        ),
        # At least 100 ft; one in 10 acres as a square.
        (
            "eastern screech-owl",
            100 * METRES_PER_FOOT,
            math.sqrt(10 * SQUARE_METRES_PER_ACRE),
            "rule_of_thumb",
            True,
        ),
    ],
)
def test_spacing(name: str, low_m: float, high_m: float, source: str, memory: bool) -> None:
    found = span(name, "spacing_m")
    assert (found.low, found.high) == (round(low_m), round(high_m))
    assert source in found.sources
    assert found.memory is memory


def test_birds_that_like_company_have_no_spacing() -> None:
    # "Only purple martins like sharing": USDA-NRCS NH-645.
    assert GUIDE.find("purple martin").spacing_m is None


def test_the_printed_entrance_of_the_wood_duck_is_not_shipped() -> None:
    # Entrance 12-16 in above the floor of a box 10-24 in high: US Fish and Wildlife Service
    # 2001. The entrance would lie above the roof of the lowest box.
    assert GUIDE.find("wood duck").entrance_height_mm is None


def test_eggs_are_laid_daily_by_songbirds_and_more_slowly_by_owls_and_kestrels() -> None:
    # One egg a day: general accounts of the prothonotary warbler; for others FROM MEMORY.
    assert ends("prothonotary warbler", "laying_interval_days") == (1, 1)
    assert not span("prothonotary warbler", "laying_interval_days").memory
    assert ends("eastern bluebird", "laying_interval_days") == (1, 1)
    assert span("eastern bluebird", "laying_interval_days").memory
    # Every second day FROM MEMORY; "at 2 to 3 day intervals": a note without references.
    assert ends("american kestrel", "laying_interval_days") == (2, 3)
    assert ends("eastern screech-owl", "laying_interval_days") == (2, 2)


def test_species_of_both_continents_cite_both() -> None:
    for name in ("house sparrow", "european starling"):
        assert {"myhrvold_2015", "storchova_horak_2018"} <= set(span(name, "clutch").sources)
        assert GUIDE.find(name).regions == (
            "eastern North America",
            "western North America",
            "Europe",
        )


def test_the_tables_are_the_whole_guide() -> None:
    tabled = {row[0] for row in rows(MYHRVOLD_2015) + rows(STORCHOVA_HORAK_2018)}
    assert {species.common for species in GUIDE.species} == tabled


def test_no_shipped_number_or_description_is_without_a_source() -> None:
    for species in GUIDE.species:
        assert (species.nest, species.eggs) != (None, None)
        cited = [species.look_sources]
        cited += [value.sources for field in BOUNDS if (value := getattr(species, field))]
        assert all(cited), species.common
        assert not any("this_trail" in keys for keys in cited), species.common


def sources_of(species: Species) -> set[str]:
    values = [getattr(species, field) for field in BOUNDS]
    return {key for value in values if value for key in value.sources} | set(species.look_sources)


def test_every_source_is_used_and_memory_is_marked_where_it_is_memory() -> None:
    used = {key for species in GUIDE.species for key in sources_of(species)}
    assert used | {"this_trail"} == set(GUIDE.sources)
    from_memory = {key for key, source in GUIDE.sources.items() if "memory" in source.citation}
    assert from_memory == {key for key, source in GUIDE.sources.items() if source.memory}
    assert from_memory == {"textbook_ranges", "rule_of_thumb", "field_practice", "later_box_tables"}


def test_no_species_needs_a_wider_hole_than_boxes_meant_for_it_have() -> None:
    for one in GUIDE.species:
        assert one.least_hole_mm is not None
        if one.hole_mm is not None:
            assert one.least_hole_mm.low <= one.hole_mm.low, one.common
