"""What is taken away leaves no trace: the view is that of a trail that never had it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.nesting import attempt_columns as c
from layers.nesting.histories import read_histories
from layers.publishing.cells import cell_of
from layers.publishing.nests import published_until, release_day, use_known_until, withheld_attempts
from layers.publishing.values import PublicView
from layers.trail.coding import day_number
from layers.trail.public_rules import CELLS_DEG, PublicRules
from tests.publishing.planted import WORDS, moved, planted, watched_by

TRAIL = planted()
VISITS = TRAIL.histories.visits
SPECIES = ("eastern bluebird", "tree swallow", "house wren", "black-capped chickadee")

days = st.dates(dt.date(2025, 3, 1), dt.date(2027, 1, 31))
words = st.lists(st.sampled_from(WORDS), min_size=len(TRAIL.boxes), max_size=len(TRAIL.boxes))
some_species = st.lists(st.sampled_from(SPECIES), max_size=2, unique=True).map(tuple)


@st.composite
def any_rules(draw: st.DrawFn) -> PublicRules:
    cell, coarse = sorted(draw(st.tuples(st.sampled_from(CELLS_DEG), st.sampled_from(CELLS_DEG))))
    return PublicRules(
        cell=cell,
        coarse_cell=coarse,
        unmarked=draw(st.sampled_from(("shown", "coarse", "hidden"))),
        delay_days=draw(st.integers(0, 90)),
        ongoing=draw(st.sampled_from(("withheld", "in use"))),
        coarse_species=draw(some_species),
        withheld_species=draw(some_species),
    )


def ongoing_kept_back(rules: PublicRules) -> PublicRules:
    return replace(rules, ongoing="withheld")


def of_boxes(mask: np.ndarray) -> np.ndarray:
    """For each visit whether its box is one of a mask over the boxes."""
    return np.asarray(mask)[VISITS.box]


@settings(max_examples=60)
@given(words=words, rules=any_rules(), on=days)
def test_hidden_boxes_leave_no_trace(
    words: list[str | None], rules: PublicRules, on: dt.date
) -> None:
    boxes = TRAIL.marked(words)
    hidden = np.array([(word or rules.unmarked) == "hidden" for word in words])
    without = TRAIL.view(on, rules, boxes=boxes[~hidden], visits=TRAIL.without(of_boxes(hidden)))
    assert TRAIL.view(on, rules, boxes=boxes) == without


@settings(max_examples=60)
@given(words=words, rules=any_rules(), on=days)
def test_visits_after_the_last_published_month_leave_no_trace(
    words: list[str | None], rules: PublicRules, on: dt.date
) -> None:
    rules, boxes = ongoing_kept_back(rules), TRAIL.marked(words)
    later = VISITS.day > day_number(published_until(on, delay_days=rules.delay_days))
    assert TRAIL.view(on, rules, boxes=boxes) == TRAIL.view(
        on, rules, boxes=boxes, visits=TRAIL.without(later)
    )


@settings(max_examples=60)
@given(words=words, rules=any_rules(), on=days)
def test_nests_that_are_not_over_leave_no_trace(
    words: list[str | None], rules: PublicRules, on: dt.date
) -> None:
    rules, boxes = ongoing_kept_back(rules), TRAIL.marked(words)
    until = published_until(on, delay_days=rules.delay_days)
    known = read_histories(
        TRAIL.without(VISITS.day > day_number(until)), TRAIL.histories.guide, season_starts="01-01"
    )
    ongoing = np.append(known.fates(until) == c.ONGOING, False)[known.visit_attempt]
    assert TRAIL.view(on, rules, boxes=boxes) == TRAIL.view(
        on, rules, boxes=boxes, visits=known.visits.take(~ongoing)
    )


@settings(max_examples=40)
@given(rules=any_rules(), on=days)
def test_nests_of_withheld_species_leave_no_trace(rules: PublicRules, on: dt.date) -> None:
    rules = ongoing_kept_back(rules)
    until = published_until(on, delay_days=rules.delay_days)
    known = read_histories(
        TRAIL.without(VISITS.day > day_number(until)), TRAIL.histories.guide, season_starts="01-01"
    )
    withheld = np.append(withheld_attempts(known, rules), False)[known.visit_attempt]
    view = TRAIL.view(on, rules)
    assert view == TRAIL.view(on, rules, visits=known.visits.take(~withheld))
    named = {nest.species for nest in view.nests}.union(*(cell.species for cell in view.cells))
    assert not named & set(rules.withheld_species)


@settings(max_examples=40)
@given(rules=any_rules(), on=days, seed=st.integers(0, 9))
def test_where_in_its_cell_a_box_is_makes_no_difference(
    rules: PublicRules, on: dt.date, seed: int
) -> None:
    dice = np.random.default_rng(seed)

    def elsewhere(point: shapely.Point) -> shapely.Point:
        cell = cell_of(point.x, point.y, size_deg=rules.cell)
        lon, lat = dice.uniform(-0.49, 0.49, 2) * rules.cell
        return shapely.Point(cell.lon + lon, cell.lat + lat)

    there, here = TRAIL.view(on, rules, boxes=moved(TRAIL.boxes, elsewhere)), TRAIL.view(on, rules)
    # How far the trail reaches, in round classes, may differ: it is the same wherever it is.
    if there.reach_m == here.reach_m:
        assert there == here


def test_where_in_its_coarse_cell_a_coarse_box_is_makes_no_difference() -> None:
    dice = np.random.default_rng(1)
    coarse = TRAIL.boxes.assign(public="coarse")
    extent = shapely.box(*coarse.total_bounds)

    def elsewhere(point: shapely.Point) -> shapely.Point:
        cell = cell_of(point.x, point.y, size_deg=0.1)
        square = shapely.box(cell.lon - 0.049, cell.lat - 0.049, cell.lon + 0.049, cell.lat + 0.049)
        west, south, east, north = shapely.intersection(square, extent).bounds
        return shapely.Point(dice.uniform(west, east), dice.uniform(south, north))

    on = dt.date(2026, 12, 1)
    assert TRAIL.view(on, boxes=moved(coarse, elsewhere)) == TRAIL.view(on, boxes=coarse)


@settings(max_examples=20)
@given(rules=any_rules(), on=days)
def test_who_visited_and_when_it_was_written_down_makes_no_difference(
    rules: PublicRules, on: dt.date
) -> None:
    other = watched_by(VISITS, "Somebody Else")
    assert TRAIL.view(on, rules, visits=other) == TRAIL.view(on, rules)


@settings(max_examples=20)
@given(rules=any_rules(), on=days)
def test_ids_names_notes_and_the_order_of_boxes_make_no_difference(
    rules: PublicRules, on: dt.date
) -> None:
    back = TRAIL.boxes.iloc[::-1].assign(name="x", section="y", note="z", habitat="w")
    renamed = back.assign(box=[f"other {box}" for box in back["box"]])
    visits = replace(VISITS, boxes=tuple(f"other {box}" for box in VISITS.boxes))
    assert TRAIL.view(on, rules, boxes=renamed, visits=visits) == TRAIL.view(on, rules)


@settings(max_examples=40)
@given(words=words, rules=any_rules(), on=days)
def test_every_day_of_a_month_shows_the_same(
    words: list[str | None], rules: PublicRules, on: dt.date
) -> None:
    boxes = TRAIL.marked(words)
    assert TRAIL.view(on, rules, boxes=boxes) == TRAIL.view(release_day(on), rules, boxes=boxes)


@settings(max_examples=20)
@given(rules=any_rules(), on=days)
def test_a_box_installed_this_month_changes_no_count(rules: PublicRules, on: dt.date) -> None:
    new = TRAIL.boxes["box"].isin(TRAIL.boxes["box"][:5])
    later = np.where(new, release_day(on).replace(day=2).isoformat(), TRAIL.boxes["installed_on"])
    with_new = TRAIL.boxes.assign(public="shown", installed_on=later)
    visits = TRAIL.without(of_boxes(new.to_numpy()))
    assert TRAIL.view(on, rules, boxes=with_new) == TRAIL.view(
        on, rules, boxes=with_new[~new], visits=visits
    )


def without_use(view: PublicView) -> PublicView:
    cells = [replace(cell, in_use=None) for cell in view.cells]
    told = [cell for cell in cells if cell.boxes or cell.nests]
    return replace(view, cells=tuple(told), generalised=(), withheld=())


@settings(max_examples=40)
@given(words=words, rules=any_rules(), on=days)
def test_calling_boxes_in_use_adds_nothing_but_their_number(
    words: list[str | None], rules: PublicRules, on: dt.date
) -> None:
    boxes = TRAIL.marked(words)
    used = TRAIL.view(on, replace(rules, ongoing="in use"), boxes=boxes)
    kept_back = TRAIL.view(on, ongoing_kept_back(rules), boxes=boxes)
    assert without_use(used) == without_use(kept_back)


@settings(max_examples=40)
@given(rules=any_rules(), on=days)
def test_boxes_in_use_are_published_as_of_the_month_before(rules: PublicRules, on: dt.date) -> None:
    rules = replace(rules, ongoing="in use")
    later = VISITS.day > day_number(use_known_until(on))
    until = day_number(published_until(on, delay_days=rules.delay_days))
    if day_number(use_known_until(on)) >= until:
        assert TRAIL.view(on, rules) == TRAIL.view(on, rules, visits=TRAIL.without(later))


def test_some_box_is_called_in_use_in_june() -> None:
    view = TRAIL.view(dt.date(2026, 6, 3), PublicRules(ongoing="in use"))
    assert sum(cell.in_use or 0 for cell in view.cells) > 5


@settings(max_examples=30)
@given(words=words, rules=any_rules(), on=days)
def test_one_trail_has_one_grid_by_its_strictest_mark(
    words: list[str | None], rules: PublicRules, on: dt.date
) -> None:
    view = TRAIL.view(on, rules, boxes=TRAIL.marked(words))
    marks = {word or rules.unmarked for word in words}
    strict = "coarse" in marks or rules.coarse_species
    if marks != {"hidden"}:
        assert view.cell_deg == (rules.coarse_cell if strict else rules.cell)
    assert {cell.size_deg for cell in view.cells} <= {view.cell_deg}


def test_a_month_is_published_once_its_delay_is_over() -> None:
    assert published_until(dt.date(2026, 6, 30), delay_days=30) == dt.date(2026, 4, 30)
    assert published_until(dt.date(2026, 7, 1), delay_days=30) == dt.date(2026, 5, 31)
    assert published_until(dt.date(2026, 7, 1), delay_days=31) == dt.date(2026, 5, 31)
    assert published_until(dt.date(2026, 7, 1), delay_days=32) == dt.date(2026, 4, 30)
    assert published_until(dt.date(2026, 6, 1), delay_days=1) == dt.date(2026, 5, 31)


@given(rules=any_rules(), on=days)
def test_the_day_itself_is_never_published(rules: PublicRules, on: dt.date) -> None:
    assert published_until(on, delay_days=rules.delay_days) < on
    assert use_known_until(on) < release_day(on) <= on


def test_without_a_delay_a_month_is_published_on_the_day_after_it() -> None:
    assert published_until(dt.date(2026, 6, 1), delay_days=0) == dt.date(2026, 5, 31)
    assert published_until(dt.date(2026, 5, 31), delay_days=0) == dt.date(2026, 4, 30)


@settings(max_examples=40)
@given(words=words, rules=any_rules(), on=days)
def test_visits_of_the_month_itself_change_nothing(
    words: list[str | None], rules: PublicRules, on: dt.date
) -> None:
    boxes = TRAIL.marked(words)
    today = VISITS.day >= day_number(release_day(on))
    assert TRAIL.view(on, rules, boxes=boxes) == TRAIL.view(
        on, rules, boxes=boxes, visits=TRAIL.without(today)
    )
