"""Identifiers last, are unique among all trails, and give away nothing."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from data_demo.build import build_demo
from data_demo.demo import make_demo
from layers.nesting import attempt_columns as c
from layers.publishing.identifiers import Identifiers
from layers.trail.identity import Identity
from layers.trail.store import Trail
from server.live.contents import Contents
from server.live.public_views import public_view_of
from tests.nesting.season.reports import SETTINGS, SPECIES, fledged, looks, lost
from tests.publishing.planted import planted
from tests.sampling import one_in

ON = dt.date(2026, 12, 1)
Names = dict[tuple[str, int], tuple[str, str]]


@pytest.fixture
def trail(tmp_path: Path) -> Iterator[Trail]:
    with Trail.create(tmp_path / "trail.gpkg", SETTINGS) as made:
        made.add_rows("visits", [*fledged("A1"), *lost("A2"), *fledged("A3"), *lost("A4")])
        yield made


def named(trail: Trail) -> Names:
    """What each nest is called for the team and for the public, by box and number."""
    histories = Contents.read(trail).histories
    names = Identifiers(trail.identity(), trail.first_entries)
    boxes = [histories.visits.boxes[code] for code in histories.rows[:, c.BOX]]
    keys = zip(boxes, histories.numbers.tolist(), strict=True)
    both = zip(names.nests(histories), names.public_nests(histories), strict=True)
    return dict(zip(keys, both, strict=True))


def test_a_visit_added_or_corrected_changes_no_name(trail: Trail) -> None:
    before = named(trail)
    assert len({name for both in before.values() for name in both}) == 2 * len(before) == 8
    trail.add_rows("visits", looks("A2", ("06-20", {"eggs": 3, "species": SPECIES})))
    corrected = looks("A3", ("04-14", {"nest": "lined cup", "species": SPECIES}))[0]
    first = trail.visit_rows("A3")[0]["visit_id"]
    trail.add_rows("visits", [corrected | {"replaces": first}])
    after = named(trail)
    assert before.items() <= after.items()
    assert after.keys() - before.keys() == {("A2", 2)}


def test_two_trails_of_equal_visits_share_no_name(trail: Trail, tmp_path: Path) -> None:
    with Trail.create(tmp_path / "other.gpkg", SETTINGS) as other:
        other.add_rows("visits", trail.visit_rows())
        first, second = (
            {name for both in named(one).values() for name in both} for one in (trail, other)
        )
        assert not first & second
        names = [Identifiers(one.identity(), one.first_entries) for one in (trail, other)]
    assert (
        len({name for one in names for name in (one.trail, one.public_trail, one.box("A1"))}) == 6
    )


def test_who_knows_the_team_s_names_cannot_match_them_with_the_public_s(trail: Trail) -> None:
    identity = trail.identity()
    guessed = Identifiers(Identity(identity.trail_id, uuid.uuid4()), trail.first_entries)
    histories = Contents.read(trail).histories
    right = Identifiers(identity, trail.first_entries)
    assert guessed.nests(histories) == right.nests(histories)
    assert not set(guessed.public_nests(histories)) & set(right.public_nests(histories))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Trail, Contents]]:
    path = tmp_path_factory.mktemp("demo") / "demo.gpkg"
    build_demo(path)
    with Trail.open(path) as trail:
        yield trail, Contents.read(trail)


@pytest.mark.parametrize("box", one_in(15, [row["box"] for row in make_demo().reserve.boxes]))
def test_a_box_hidden_changes_the_name_of_no_other_nest(
    demo: tuple[Trail, Contents], box: str
) -> None:
    trail, contents = demo
    boxes = contents.ground.boxes

    def published(hidden: str | None) -> dict[str, tuple[Any, ...]]:
        marks = ["hidden" if one == hidden else "shown" for one in boxes["box"]]
        ground = replace(contents.ground, boxes=boxes.assign(public=marks))
        view = public_view_of(trail, replace(contents, ground=ground), ON)
        return {nest.nest: (nest.season, nest.ended, nest.species) for nest in view.nests}

    whole, without = published(None), published(box)
    assert without.items() <= whole.items()
    own = contents.histories.attempts_of(box)
    laid = sum(contents.histories.rows[at, c.PHASE] >= c.EGGS for at in own)
    assert len(whole) - len(without) == laid


def test_a_public_name_shows_neither_place_nor_order() -> None:
    nests = planted().view(ON).nests
    versions = {uuid.UUID(nest.nest).version for nest in nests}
    assert len({nest.nest for nest in nests}) == len(nests) > 20
    assert versions == {5}
    assert sorted(nest.nest for nest in nests) != [nest.nest for nest in nests]
