"""The order that a walker would choose: twelve trails drawn by hand, each with the order that a
walker chose on paper before any of them was planned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet

import numpy as np
import pytest

from layers.walking.network.build import build_network
from layers.walking.pace import Flat
from layers.walking.round import Round, RoundProblem, StopRequest, plan
from tests.walking.parks import line, make_park, site

URGENT, DUE = 27.0, 9.0
LANE = ((0, 0), (500, 0))
LOOP = ((0, 0), (300, 0), (300, 200), (0, 200), (0, 0))
STEM_AND_LOOP = (((0, 0), (200, 0)), ((200, 0), (300, 100), (400, 0), (300, -100), (200, 0)))
STAR = (((0, 0), (0, 300)), ((0, 0), (300, 0)), ((0, 0), (0, -300)))
CROSS = (*STAR, ((0, 0), (-300, 0)))
AROUND = {1: (150, 0), 2: (300, 0), 3: (300, 100), 4: (300, 200), 5: (100, 200), 6: (0, 100)}
ON_LOOP = {3: (250, 50), 4: (300, 100), 5: (400, 0), 6: (300, -100), 7: (250, -50)}
ON_STAR = {1: (0, 150), 2: (0, 300), 3: (150, 0), 4: (300, 0), 5: (0, -150), 6: (0, -300)}
WEST = ((0, 0), (-100, 80), (-200, 0), (-100, -80), (0, 0))
EAST = ((0, 0), (100, 80), (200, 0), (100, -80), (0, 0))

Place = tuple[float, float]
Places = Mapping[int, Place]
Trail = tuple[Sequence[Sequence[Place]], Places, AbstractSet[int], str, list[int]]
NONE: frozenset[int] = frozenset()
TRAILS: Mapping[str, Trail] = {
    "a dead end is visited outward": (
        (LANE,),
        {1: (100, 0), 2: (200, 0), 3: (300, 0), 4: (400, 0)},
        NONE,
        "",
        [1, 2, 3, 4],
    ),
    "a dead end is visited outward against the numbers": (
        (LANE,),
        {4: (100, 3), 3: (200, -3), 2: (300, 3), 1: (400, -3)},
        NONE,
        "",
        [4, 3, 2, 1],
    ),
    "a loop follows the numbers": ((LOOP,), AROUND, NONE, "", [1, 2, 3, 4, 5, 6]),
    "a loop begins with the urgent end": ((LOOP,), AROUND, {5, 6}, "", [6, 5, 4, 3, 2, 1]),
    "one urgent box half way turns no loop": ((LOOP,), AROUND, {4}, "", [1, 2, 3, 4, 5, 6]),
    "a stem before its loop": (
        STEM_AND_LOOP,
        {1: (70, 0), 2: (140, 2), **ON_LOOP},
        NONE,
        "",
        [1, 2, 3, 4, 5, 6, 7],
    ),
    "a spur of the stem on the way back, by its number": (
        (*STEM_AND_LOOP, ((100, 0), (100, 50))),
        {**ON_LOOP, 8: (100, 50)},
        NONE,
        "",
        [3, 4, 5, 6, 7, 8],
    ),
    "spurs of a star by the numbers": (STAR, ON_STAR, NONE, "", [1, 2, 3, 4, 5, 6]),
    "the spur of a star with what is urgent first": (
        STAR,
        ON_STAR,
        {5, 6},
        "",
        [5, 6, 1, 2, 3, 4],
    ),
    "a section is finished before the next": (
        CROSS,
        {1: (0, 200), 2: (200, 0), 3: (0, -200), 4: (-200, 0)},
        NONE,
        "MWWM",
        [1, 4, 2, 3],
    ),
    "a comb tooth by tooth on the way out": (
        (((0, 0), (600, 0)), ((200, 0), (200, 80)), ((400, 0), (400, 80))),
        {1: (100, 0), 2: (200, 80), 3: (300, 0), 4: (400, 80), 5: (500, 0)},
        NONE,
        "",
        [1, 2, 3, 4, 5],
    ),
    "a figure of eight loop by loop": (
        (WEST, EAST),
        {1: (-100, 80), 2: (-200, 0), 3: (-100, -80), 4: (100, 80), 5: (200, 0), 6: (100, -80)},
        NONE,
        "",
        [1, 2, 3, 4, 5, 6],
    ),
}


def requests_at(
    places: Places, urgent: AbstractSet[int] = NONE, sections: str = ""
) -> tuple[StopRequest, ...]:
    requests = []
    for number, box in enumerate(sorted(places)):
        at = site(*places[box], f"B{box}")
        worth, section = URGENT if box in urgent else DUE, sections[number : number + 1]
        requests.append(StopRequest(at.name, at.lon, at.lat, urgency=worth, section=section))
    return tuple(requests)


def boxes_of(found: Round) -> list[int]:
    return [int(box[1:]) for stop in found.walks[0].stops for box in stop.boxes]


@pytest.mark.parametrize("name", TRAILS)
def test_a_round_is_walked_in_the_order_that_a_walker_chose(name: str) -> None:
    paths, places, urgent, sections, chosen = TRAILS[name]
    network, _ = build_network([line(*path, name=f"P{n}") for n, path in enumerate(paths)])
    requests = requests_at(places, urgent, sections)
    found = plan(RoundProblem(network, requests, site(0, 0, "Gate")), pace=Flat(5.0))
    assert boxes_of(found) == chosen
    assert found.proof.optimal


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_no_box_is_walked_past_before_its_visit(seed: int) -> None:
    park = make_park(seed, boxes=30)
    network, _ = build_network(park.lines())
    requests = tuple(StopRequest(at.name, at.lon, at.lat) for at in park.sites())
    found = plan(RoundProblem(network, requests, site(500, 20, "Gate")), pace=Flat(5.0))
    passed = np.empty((0, 2))
    for stop in found.walks[0].stops:
        way = np.column_stack([stop.leg.way.lon, stop.leg.way.lat])
        foot = way[-2] if stop.leg.off_path_m > 0.0 and len(way) > 1 else way[-1]
        assert not (np.abs(passed - foot) < 1e-9).all(axis=1).any(), stop.boxes
        passed = np.concatenate([passed, way[:-2]])


def test_one_box_more_leaves_the_order_as_it_was_and_says_what_that_costs() -> None:
    network, _ = build_network([line(*LOOP)])
    places = AROUND | {7: (150, 60)}  # off the path: a little nearer to the way out
    problem = {"network": network, "start": site(0, 0, "Gate")}
    like = ("B6", "B5", "B4", "B3", "B2", "B1")
    anew, steady = (
        plan(RoundProblem(requests=requests_at(places), like=given, **problem), pace=Flat(5.0))  # type: ignore[arg-type]
        for given in ((), like)
    )
    assert boxes_of(anew) == [1, 7, 2, 3, 4, 5, 6] or boxes_of(anew) == [7, 1, 2, 3, 4, 5, 6]
    assert anew.steady_m is None
    assert [box for box in boxes_of(steady) if box != 7] == [6, 5, 4, 3, 2, 1]
    assert steady.steady_m is not None
    assert steady.steady_m == pytest.approx(steady.length_m - anew.length_m, abs=1e-6)
    assert 0.0 <= steady.steady_m < 0.02 * anew.length_m


def test_an_order_that_costs_much_is_not_walked_again() -> None:
    network, _ = build_network([line(*LOOP)])
    like = ("B2", "B6", "B3", "B5", "B1", "B4")
    problem = RoundProblem(network, requests_at(AROUND), site(0, 0, "Gate"), like=like)
    found = plan(problem, pace=Flat(5.0))
    assert (boxes_of(found), found.steady_m) == ([1, 2, 3, 4, 5, 6], None)
