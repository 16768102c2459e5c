"""The guide: names, what a trail may change in it, and how faults are told."""

from __future__ import annotations

import dataclasses
import math
import re
import statistics
from collections.abc import Iterable

import pytest

from layers.errors import BadValue, Refused
from layers.nesting.guide import Guide, Span, Species, guide_with, standard_guide
from layers.nesting.guide.entries import CLOSED_SHARE, LONGEST_SHARE, SHORTEST_SHARE
from layers.nesting.guide.species import BOUNDS, REQUIRED

NEW_SPECIES = """
[species."Alderbeck Tit"]
scientific = "Parus alderbeckensis"
clutch = { low = 6, high = 8, usual = 7.2 }
laying_interval_days = { usual = 1 }
incubation_days = { low = 13, high = 15 }
nestling_days = { low = 18, high = 21 }
broods = { usual = 1.5 }
"""


def spans(species: Species) -> Iterable[Span]:
    return (span for name in BOUNDS if (span := getattr(species, name)) is not None)


def closed_from(species: Species) -> float:
    assert species.closed_from_day is not None
    return species.closed_from_day.low


def faults(text: str) -> list[str]:
    with pytest.raises(Refused, match=r"Nothing of the trail's own guide was taken") as refused:
        guide_with(text)
    return [str(fault) for fault in refused.value.faults]


# Names


@pytest.mark.parametrize(
    ("typed", "common"),
    [
        ("Eastern Bluebird", "eastern bluebird"),
        ("  SIALIA  sialis ", "eastern bluebird"),
        ("Bewicks wren", "bewick's wren"),
        ("Bewick’s Wren", "bewick's wren"),
        ("Bewick wren", "bewick's wren"),
        ("black capped chickadee", "black-capped chickadee"),
        ("Eastern Screech Owl", "eastern screech-owl"),
        ("eastern screechowl", "eastern screech-owl"),
        ("swift", "common swift"),
        ("Starling", "european starling"),
        ("unknown", "unknown species"),
    ],
)
def test_a_species_is_found_however_its_name_is_written(typed: str, common: str) -> None:
    assert standard_guide().find(typed).common == common


def test_every_name_of_a_species_finds_it() -> None:
    guide = standard_guide()
    for species in guide.species:
        assert {guide.find(name) for name in species.names} == {species}


def test_a_misspelt_name_is_refused_and_the_nearest_named() -> None:
    with pytest.raises(BadValue, match=r"nearest: eastern bluebird.*got 'eastern blubird'"):
        standard_guide().find("eastern blubird")
    with pytest.raises(BadValue, match="nearest: Sialia sialis"):
        standard_guide().find("Sialia sialus")


def test_half_a_name_that_several_species_share_is_refused_and_all_are_named() -> None:
    with pytest.raises(BadValue, match="nearest: american kestrel, common kestrel"):
        standard_guide().find("Kestrel")


def test_a_name_like_no_other_is_refused_without_a_guess() -> None:
    with pytest.raises(BadValue, match=r"^Expected a species of the guide, got 'zzzz', column"):
        standard_guide().find("zzzz")
    with pytest.raises(BadValue, match=r"^Expected a species of the guide, got ''"):
        standard_guide().find("")


def test_get_gives_none_where_find_would_refuse() -> None:
    guide = standard_guide()
    assert (guide.get("kestrel"), guide.get(""), guide.get("'-")) == (None, None, None)
    assert guide.get("tree swallow") is guide.find("Tachycineta bicolor")


# The standard guide


def test_the_bounds_name_every_span_of_a_species() -> None:
    annotated = [field.name for field in dataclasses.fields(Species) if "Span" in str(field.type)]
    assert list(BOUNDS) == annotated


def test_the_guide_is_sorted_and_cannot_be_changed() -> None:
    guide = standard_guide()
    assert [one.common for one in guide.species] == sorted(one.common for one in guide.species)
    assert standard_guide() is guide
    with pytest.raises(dataclasses.FrozenInstanceError, match="species"):
        guide.species = ()  # type: ignore[misc]
    with pytest.raises(TypeError, match="item assignment"):
        guide.sources["mine"] = guide.sources["computed"]  # type: ignore[index]


def test_every_span_is_in_order_and_has_citations() -> None:
    guide = standard_guide()
    for species in (*guide.species, guide.unknown):
        for span in spans(species):
            assert span.low <= (span.low if span.usual is None else span.usual) <= span.high
            assert len(guide.citations(span.sources)) == len(set(span.sources)) > 0


def test_a_box_is_closed_before_the_first_young_can_leave() -> None:
    for species in standard_guide().species:
        if species.leaves_at_once:
            assert species.closed_from_day is None
        else:
            assert closed_from(species) <= species.nestling_days.low - 1


def test_every_entrance_fits_its_box() -> None:
    with_box = [one for one in standard_guide().species if one.depth_mm and one.entrance_height_mm]
    assert len(with_box) > 20
    for species in with_box:
        assert species.depth_mm is not None
        assert species.entrance_height_mm is not None
        assert species.entrance_height_mm.low < species.depth_mm.low
        assert species.entrance_height_mm.high < species.depth_mm.high


def test_days_closed_that_no_source_gives_follow_the_stated_share() -> None:
    violet_green = standard_guide().find("violet-green swallow")
    assert violet_green.closed_from_day == Span(
        low=int(CLOSED_SHARE * 16), high=int(CLOSED_SHARE * 16), usual=None,
        sources=("computed",), memory=False,
    )  # fmt: skip


def test_a_shortest_stay_is_worked_out_only_where_no_range_is_published() -> None:
    guide = standard_guide()
    brown_headed = guide.find("brown-headed nuthatch").nestling_days  # one published mean, 18
    assert (brown_headed.low, brown_headed.high) == (int(SHORTEST_SHARE * 18), 20)
    assert math.ceil(LONGEST_SHARE * 18) == 20
    assert "computed" in brown_headed.sources
    assert "computed" not in guide.find("eastern bluebird").nestling_days.sources


def test_the_share_of_a_shortest_stay_is_on_the_safe_side_of_the_published_ones() -> None:
    published = [
        span.low / span.usual
        for species in standard_guide().species
        if "computed" not in (span := species.nestling_days).sources and span.usual
    ]
    assert len(published) > 25
    assert statistics.median(published) == pytest.approx(0.853, abs=0.001)
    assert statistics.median(published) > SHORTEST_SHARE


def test_the_share_of_a_longest_stay_is_on_the_safe_side_of_the_published_ones() -> None:
    published = [
        span.high / span.usual
        for species in standard_guide().species
        if "computed" not in (span := species.nestling_days).sources and span.usual
    ]
    assert statistics.median(published) == pytest.approx(1.091, abs=0.001)
    assert statistics.median(published) < LONGEST_SHARE


def test_an_unknown_species_spans_the_small_songbirds() -> None:
    guide = standard_guide()
    unknown = guide.unknown
    assert unknown.nestling_days.low == guide.find("prothonotary warbler").nestling_days.low == 9
    assert (
        unknown.nestling_days.high == guide.find("white-breasted nuthatch").nestling_days.high == 26
    )
    assert unknown.incubation_days.low == guide.find("house sparrow").incubation_days.low == 10
    assert (
        unknown.incubation_days.high == guide.find("eurasian nuthatch").incubation_days.high == 18
    )
    assert closed_from(unknown) == 7
    assert unknown.hole_mm is None
    assert unknown not in guide.species


# A trail's own guide


def test_no_text_is_the_standard_guide() -> None:
    assert guide_with(None) is guide_with(" \n") is standard_guide()


def test_a_trail_changes_one_value_and_keeps_the_rest() -> None:
    own = guide_with('[species."Eastern Bluebird"]\nincubation_days = { low = 13, high = 16 }')
    changed, before = own.find("eastern bluebird"), standard_guide().find("eastern bluebird")
    assert changed.incubation_days == Span(13, 16, None, ("this_trail",), memory=False)
    assert dataclasses.replace(changed, incubation_days=before.incubation_days) == before


def test_a_trails_own_guide_leaves_the_standard_one_alone() -> None:
    guide_with('[species."house wren"]\nbroods = { usual = 4 }')
    assert standard_guide().find("house wren").broods.high == 3


def test_a_trail_adds_a_species_and_gaps_are_filled_by_the_rules() -> None:
    own = guide_with(NEW_SPECIES)
    tit = own.find("alderbeck tit")
    assert tit is own.find("Parus alderbeckensis")
    assert (tit.clutch.low, tit.clutch.usual, tit.clutch.high) == (6, 7.2, 8)
    assert (tit.clutch_range.low, tit.clutch_range.high) == (3, 12)
    assert tit.clutch_range.sources == ("computed",)
    assert (tit.broods.low, tit.broods.high) == (1, 2)
    assert closed_from(tit) == 12
    assert (tit.nest, tit.hole_mm, tit.parasites) == (None, None, None)
    assert tit.banding_days is not None
    assert (tit.banding_days.low, tit.banding_days.high, tit.banding_days.memory) == (9, 11, True)
    assert len(own.species) == len(standard_guide().species) + 1


def test_a_measure_keeps_its_fraction_where_a_mean_of_days_is_widened() -> None:
    text = NEW_SPECIES + "height_m = { usual = 1.5 }\nbanding_days = { usual = 9.4 }"
    tit = guide_with(text).find("alderbeck tit")
    assert tit.height_m is not None
    assert tit.banding_days is not None
    assert (tit.height_m.low, tit.height_m.high) == (1.5, 1.5)
    assert (tit.banding_days.low, tit.banding_days.high) == (9, 10)


def test_a_trail_brings_its_own_sources_and_each_is_listed() -> None:
    own = guide_with("""
        [sources.our_notebook]
        citation = "Notebook of Alderbeck Reserve, 2019 to 2025."
        [sources.ida]
        citation = "As Ida remembers it."
        memory = true
        [species."tree swallow"]
        eggs = { words = "plain white", source = "our_notebook" }
        clutch = [{ low = 5, high = 6, source = "our_notebook" }, { usual = 4.5, source = "ida" }]
    """)
    clutch = own.find("tree swallow").clutch
    assert (clutch.low, clutch.high, clutch.usual) == (4, 6, 4.5)
    assert own.citations(clutch.sources) == (
        "Notebook of Alderbeck Reserve, 2019 to 2025.",
        "As Ida remembers it.",
    )
    assert clutch.memory
    assert own.find("tree swallow").look_sources == ("ehrlich_1988", "our_notebook")


def test_a_range_rests_on_memory_only_if_an_end_does() -> None:
    text = """
        [sources.notes]
        citation = "Notes."
        [species."tree swallow"]
        clutch = [{ low = 4, high = 7, source = "notes" }, { low = 5, high = 7, source = "%s" }]
    """
    assert not guide_with(text % "textbook_ranges").find("tree swallow").clutch.memory
    wider = text.replace("low = 5, high = 7", "low = 5, high = 8")
    assert guide_with(wider % "textbook_ranges").find("tree swallow").clutch.memory


def test_an_unknown_species_follows_the_trails_own_numbers() -> None:
    own = guide_with('[species."great tit"]\nnestling_days = { low = 16, high = 30 }')
    assert own.unknown.nestling_days.high == 30


# Faults


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("cluch = { usual = 5 }", r"one of scientific.*nearest: clutch.*got 'cluch'.*column great"),
        ("clutch = { lo = 4, high = 5 }", r"nearest: low.*got 'lo'.*column great tit, clutch"),
        ("clutch = { low = 4 }", "low and high, or usual, or all three, got low"),
        ("clutch = { source = 'computed' }", "low and high, or usual, or all three, got source"),
        ("clutch = {}", "low and high, or usual, or all three, got nothing"),
        ("clutch = []", "at least one value, got an empty list"),
        ("clutch = 5", r"a table like \{ low = 12, high = 14 \}, got 5"),
        ("clutch = { low = 6, high = 5 }", "low, usual and high in rising order, got"),
        ("clutch = { low = 4, high = 5, usual = 6 }", "low, usual and high in rising order"),
        ("clutch = { usual = -2 }", "usual from 1 to 40, got -2"),
        ("clutch = { usual = nan }", "usual from 1 to 40, got nan"),
        ("clutch = { usual = true }", "usual from 1 to 40, got True"),
        ("clutch = { usual = '5' }", "usual from 1 to 40, got '5'"),
        ("clutch = { usual = 5, source = 'comptued' }", r"lists \(nearest: computed\), got 'compt"),
        ("clutch = { usual = 5, source = 3 }", "a source that the guide lists, got 3"),
        ("clutch = { usual = 30 }", "a range that holds the usual clutch, 30 to 30, got 3 to 18"),
        ("hole_mm = { usual = 1.25 }", r"usual from 15 to 500, got 1\.25"),
        ("nestling_days = { usual = 12 }", "not after the shortest nestling period, 10, got 13"),
        ("scientific = 3", "a scientific name, got 3"),
        ("scientific = ' '", "a name with letters, got ' '"),
        ("also = 'tit'", "a list of names, got 'tit'"),
        ("also = ['--']", "a name with letters, got '--'"),
        ("also = ['Blue Tit']", "one species only, got 'blue tit' for great tit and for blue tit"),
        (
            "also = ['unknown']",
            "one species only, got 'unknown' for unknown species and for great tit",
        ),
        ("leaves_at_once = 1", "true or false, got 1"),
        ("nest = 'moss'", r"a table like \{ words = .moss cup. \}, got 'moss'"),
        ("nest = { words = 'moss', form = 'cup' }", "one of words, source, got 'form'"),
    ],
)
def test_a_value_that_cannot_be_used_is_named_with_its_place(line: str, fault: str) -> None:
    told = "\n".join(faults(f'[species."great tit"]\n{line}'))
    assert re.search(fault, told)
    assert "in the trail's own guide" in told


def test_an_entrance_higher_than_the_lowest_box_is_refused() -> None:
    # The printed table of the wood duck: entrance 12 to 16 inches up a box of 10 to 24 inches.
    told = faults('[species."wood duck"]\nentrance_height_mm = { low = 305, high = 406 }')
    assert len(told) == 1
    assert "an entrance within a box 254 to 610 mm deep, got 305 to 406 mm" in told[0]


@pytest.mark.parametrize("missing", ["scientific", *REQUIRED])
def test_a_new_species_needs_what_an_attempt_is_dated_by(missing: str) -> None:
    text = "\n".join(line for line in NEW_SPECIES.split("\n") if not line.startswith(missing))
    assert f"or {missing} of a new one, got 'Alderbeck Tit'" in faults(text)[0]


def test_a_misspelt_species_is_not_taken_for_a_new_one() -> None:
    told = faults('[species."great tti"]\nbroods = { usual = 2 }')
    assert "a species of the guide (nearest: great tit" in told[0]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("[species.a]\nb = = 1", r"valid TOML, got a slip: .* row 2"),
        ("x = " + "[" * 5000, "valid TOML"),
        ("[specise.a]", r"one of species, sources \(nearest: species\), got 'specise'"),
        ("species = 3", "a table, got 3"),
        ("[species]\nwren = 3", "a table of values, got 3"),
        ("[species.'-']", "the name of a species"),
        ("[species.unknown]", "a species of the guide"),
        ("[sources]\nnotes = 'x'", "a table with citation"),
        ("[sources.notes]\ncitation = 'x'\nyear = 2019", "one of citation, memory, got 'year'"),
        ("[sources.notes]\ncitation = 'x'\nmemory = 'yes'", "memory as true or false, got 'yes'"),
        ("[sources.computed]\ncitation = 'x'", "a source name that the guide does not use"),
    ],
)
def test_a_text_of_another_form_is_refused(text: str, fault: str) -> None:
    assert re.search(fault, faults(text)[0])


def test_one_species_under_two_spellings_is_refused() -> None:
    told = faults('[species."Great Tit"]\n[species."great-tit"]')
    assert "each species once, got 'great-tit'" in told[0]


def test_every_fault_is_named_at_once() -> None:
    told = faults("""
        surprise = 1
        [species."great tit"]
        clutch = { low = 9, high = 4 }
        hole_mm = { usual = 32, source = "hearsay" }
        [species."blue tit"]
        broods = { usual = "one" }
        also = ["Coal Tit"]
    """)
    assert len(told) == 5


def test_a_guide_is_a_key_of_its_own() -> None:
    own: Guide = guide_with(NEW_SPECIES)
    assert len({own, standard_guide(), guide_with(NEW_SPECIES)}) == 3
