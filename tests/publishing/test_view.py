"""What the public view holds, and what it says."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layers.nesting import attempt_columns as c
from layers.publishing.view import MIN_NESTS
from layers.trail.coding import day_number
from layers.trail.public_rules import PublicRules
from tests.publishing.planted import GROUND, PERSON, planted

TRAIL = planted()
AFTER = dt.date(2026, 12, 1)
SHOWN = PublicRules(unmarked="shown")


def test_boxes_of_a_cell_are_one_symbol_with_their_count() -> None:
    everyone = TRAIL.marked(["shown"] * len(TRAIL.boxes))
    view = TRAIL.view(AFTER, PublicRules(cell=0.1), boxes=everyone)
    assert sum(cell.boxes for cell in view.cells) == len(TRAIL.boxes)
    assert len({cell.cell for cell in view.cells}) == len(view.cells) <= 4


def test_a_box_is_published_by_the_middle_of_its_cell() -> None:
    one = TRAIL.boxes.iloc[:1].assign(public="shown")
    (cell,) = TRAIL.view(AFTER, PublicRules(cell=0.01), boxes=one).cells
    place = one.geometry.iloc[0]
    assert cell.footprint.contains(place)
    assert (cell.lon, cell.lat) == pytest.approx(cell.footprint.centroid.coords[0])
    assert cell.size_deg == 0.01


def test_a_coarse_box_is_published_by_a_coarse_cell_alone() -> None:
    view = TRAIL.view(AFTER, boxes=TRAIL.marked(["coarse"] * len(TRAIL.boxes)))
    (cell,) = view.cells
    assert (cell.size_deg, cell.boxes, view.reach_m) == (0.1, len(TRAIL.boxes), 10_000)


def test_one_coarse_box_makes_the_whole_trail_coarse() -> None:
    words = ["shown"] * len(TRAIL.boxes)
    assert {cell.size_deg for cell in TRAIL.view(AFTER, boxes=TRAIL.marked(words)).cells} == {0.01}
    mixed = TRAIL.marked(["coarse", *words[1:]])
    assert {cell.size_deg for cell in TRAIL.view(AFTER, boxes=mixed).cells} == {0.1}
    species = replace(SHOWN, coarse_species=("house wren",))
    view = TRAIL.view(AFTER, species, boxes=TRAIL.marked(words))
    assert {cell.size_deg for cell in view.cells} == {0.1}


def test_the_one_square_of_a_trail_stays_while_a_box_is_in_it() -> None:
    coarse = TRAIL.marked(["coarse"] * len(TRAIL.boxes))
    first = TRAIL.view(AFTER, boxes=coarse)
    square = shapely.box(*first.cells[0].bounds)
    inside = [square.contains(point) for point in TRAIL.boxes.geometry]
    assert 1 < sum(inside) < len(inside)
    keep = [i for i, one in enumerate(inside) if not one] + [inside.index(True)]
    rest = coarse.iloc[keep]
    assert TRAIL.view(AFTER, boxes=rest).cells[0].cell != first.cells[0].cell
    settled = TRAIL.view(AFTER, boxes=rest, before=first)
    assert settled.cells[0].cell == first.cells[0].cell
    gone = TRAIL.view(AFTER, boxes=coarse.iloc[keep[:-1]], before=first)
    assert gone.cells[0].cell != first.cells[0].cell


def test_a_box_that_bears_no_word_is_shown_as_the_trail_says() -> None:
    unmarked = TRAIL.marked([None] * len(TRAIL.boxes))
    assert {cell.size_deg for cell in TRAIL.view(AFTER, boxes=unmarked).cells} == {0.1}
    assert {cell.size_deg for cell in TRAIL.view(AFTER, SHOWN, boxes=unmarked).cells} == {0.01}
    hidden = PublicRules(unmarked="hidden")
    assert TRAIL.view(AFTER, hidden, boxes=unmarked).cells == ()


def test_a_word_that_no_one_knows_hides_the_box() -> None:
    view = TRAIL.view(AFTER, SHOWN, boxes=TRAIL.marked(["secret"] * len(TRAIL.boxes)))
    assert not (view.cells or view.nests)


def test_a_box_without_a_place_is_not_published() -> None:
    unplaced = TRAIL.boxes.assign(public="shown", geometry=[None] * len(TRAIL.boxes))
    assert TRAIL.view(AFTER, boxes=unplaced).cells == ()


def test_a_box_counts_while_in_place_and_its_nests_stay_published() -> None:
    one = TRAIL.boxes.iloc[:10].assign(public="shown", removed_on="2026-11-30")
    gone = TRAIL.view(AFTER, boxes=one)
    assert {cell.boxes for cell in gone.cells} == {0}
    assert gone.nests == TRAIL.view(AFTER, boxes=one.assign(removed_on=None)).nests != ()
    assert TRAIL.view(AFTER, boxes=one.assign(installed_on="2026-12-02")).cells == ()
    assert sum(c.boxes for c in TRAIL.view(dt.date(2026, 11, 29), boxes=one).cells) == 10


def test_every_nest_is_over_and_of_a_published_month_and_cell() -> None:
    for on in (dt.date(2025, 7, 1), dt.date(2026, 6, 3), AFTER):
        view = TRAIL.view(on, SHOWN)
        assert view.nests
        cells = {cell.cell: cell for cell in view.cells}
        assert all(nest.fate in ("fledged", "failed", "unknown") for nest in view.nests)
        assert all(nest.ended <= f"{view.published_until:%Y-%m}" for nest in view.nests)
        assert Counter(nest.cell for nest in view.nests) == {
            name: cell.nests for name, cell in cells.items() if cell.nests
        }


def test_in_the_end_every_nest_with_eggs_of_a_shown_box_is_published() -> None:
    everyone = TRAIL.marked(["shown"] * len(TRAIL.boxes))
    view = TRAIL.view(dt.date(2027, 6, 1), boxes=everyone)
    assert len(view.nests) == np.count_nonzero(TRAIL.histories.rows[:, c.PHASE] >= c.EGGS)


def test_nested_counts_boxes_of_this_season_only() -> None:
    everyone = TRAIL.marked(["shown"] * len(TRAIL.boxes))
    view = TRAIL.view(AFTER, boxes=everyone)
    boxes = {
        int(row[c.BOX])
        for row in TRAIL.histories.rows
        if row[c.SEASON] == 2026 and row[c.PHASE] >= c.EGGS
    }
    assert sum(cell.nested for cell in view.cells) == len(boxes)
    assert not any(cell.nested for cell in TRAIL.view(dt.date(2027, 2, 1)).cells)


def test_numbers_are_published_only_where_a_cell_has_enough_nests() -> None:
    everyone = TRAIL.marked(["shown"] * len(TRAIL.boxes))
    view = TRAIL.view(AFTER, PublicRules(cell=0.001), boxes=everyone)
    together = Counter((nest.cell, nest.season) for nest in view.nests)
    few = [n for n in view.nests if together[n.cell, n.season] < MIN_NESTS]
    many = [n for n in view.nests if together[n.cell, n.season] >= MIN_NESTS]
    assert few
    assert many
    assert all(nest.eggs is nest.young is nest.fledged is None for nest in few)
    assert any(nest.eggs is not None for nest in many)


def test_a_species_that_the_guide_does_not_have_is_free_text_and_not_published() -> None:
    visits = TRAIL.histories.visits
    strange = replace(visits, species_names=tuple(f"{PERSON}'s bird" for _ in visits.species_names))
    view = TRAIL.view(AFTER, SHOWN, visits=strange)
    assert {nest.species for nest in view.nests} == {None}
    guarded = replace(SHOWN, withheld_species=("barn swallow",))
    assert TRAIL.view(AFTER, guarded, visits=strange).nests == ()


def test_a_withheld_species_is_known_by_any_of_its_names() -> None:
    by_scientific = replace(SHOWN, withheld_species=("Sialia sialis",))
    named = {nest.species for nest in TRAIL.view(AFTER, by_scientific).nests}
    assert "tree swallow" in named
    assert "eastern bluebird" not in named


def test_a_nest_that_one_visit_calls_a_withheld_species_is_withheld() -> None:
    rules = replace(SHOWN, withheld_species=("house wren",))
    visits = TRAIL.histories.visits
    names = (*visits.species_names, "house wren")
    code = names.index("house wren")
    told = TRAIL.view(AFTER, rules).nests
    bluebird = visits.species_names.index("eastern bluebird")
    every_tenth = (visits.species == bluebird) & (np.arange(len(visits)) % 10 == 0)
    slips = replace(
        visits,
        species_names=names,
        species=np.where(every_tenth, code, visits.species).astype(np.int16),
    )
    assert len(TRAIL.view(AFTER, rules, visits=slips).nests) < len(told)


def test_the_ground_is_withheld_until_it_is_released() -> None:
    view = TRAIL.view(AFTER)
    assert not (view.paths or view.places or view.zones)
    assert "Withheld from the map: all paths, all places and all zones." in view.withheld


def test_released_ground_leaves_out_what_is_not_for_all() -> None:
    rules = PublicRules(unmarked="shown", released=("paths", "places", "zones"))
    shown = TRAIL.marked(["shown"] * len(TRAIL.boxes))
    coarse = TRAIL.view(AFTER, rules, boxes=TRAIL.marked(["coarse"] * len(TRAIL.boxes)))
    assert not (coarse.paths or coarse.places or coarse.zones)
    view = TRAIL.view(AFTER, rules, boxes=shown)
    assert [path.name for path in view.paths] == ["Mill lane"]
    assert [place.name for place in view.places] == ["Gate", "Tower"]
    assert [zone.name for zone in view.zones] == ["Meadow", "Pond"]
    assert view.paths[0].line.distance(GROUND["paths"][0]["geometry"]) < 2e-5
    assert shapely.get_num_coordinates(view.zones[0].area) == 5


def test_a_closed_trail_publishes_nothing_and_says_so() -> None:
    view = TRAIL.view(AFTER, PublicRules(open="no", released=("paths",), ongoing="in use"))
    assert not (view.cells or view.nests or view.paths)
    assert view.statements == ("The keepers of this trail show nothing of it to the public.",)


def test_the_sentences_follow_from_the_rules_and_the_size_of_squares_alone() -> None:
    rules = PublicRules(ongoing="in use", coarse_species=("house wren",))
    view = TRAIL.view(AFTER, rules)
    shown = TRAIL.boxes["public"] != "hidden"
    other = TRAIL.boxes.assign(public=np.where(shown, "shown", "hidden"), removed_on="2026-01-01")
    visits = TRAIL.without(np.ones(len(TRAIL.histories.visits), bool))
    assert TRAIL.view(AFTER, rules, boxes=other, visits=visits).statements == view.statements


def test_what_is_generalised_and_withheld_is_stated_with_its_measures() -> None:
    rules = PublicRules(
        cell=0.001,
        coarse_cell=1.0,
        delay_days=1,
        coarse_species=("house wren", "tree swallow"),
        withheld_species=("barred owl",),
    )
    view = TRAIL.view(dt.date(2026, 7, 1), rules)
    message = " ".join(view.generalised)
    assert "one square of a fixed geographic grid, 1° wide and high" in message
    assert "No two boxes are more than 10\u00a0km apart" in message
    assert "the release on the first day of a month" in message
    assert "1 day after that month" in message
    assert "up to 30 June 2026" in message
    # A withheld species is not even named.
    assert "owl" not in " ".join(view.statements)
    assert any("some species are withheld" in sentence for sentence in view.withheld)


def test_the_licence_is_the_keepers_or_none() -> None:
    assert TRAIL.view(AFTER).licence is None
    assert TRAIL.view(AFTER, PublicRules(licence="CC BY 4.0")).licence == "CC BY 4.0"


def test_a_trail_without_visits_shows_its_boxes() -> None:
    none = TRAIL.without(np.ones(len(TRAIL.histories.visits), bool))
    view = TRAIL.view(AFTER, SHOWN, visits=none)
    assert view.nests == ()
    assert sum(cell.boxes for cell in view.cells) > 20
    assert day_number(view.published_until) < day_number(AFTER)
