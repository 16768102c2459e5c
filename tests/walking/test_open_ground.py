"""Legs over open ground: how near they come to the best, and that they cross no barrier."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from layers.walking.distances import Walking
from layers.walking.network.attach import Attached, attach
from layers.walking.network.barriers import Barrier
from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.network.lines import OFF_PATH
from layers.walking.network.open_ground import ROUGH_FACTOR, GroundArea, OpenGround
from layers.walking.pace import OFF_PATH_FACTOR, Flat
from layers.walking.round import Round, RoundProblem, StopRequest, plan
from layers.walking.round.legs import instruction
from tests.walking.parks import PLANE, line, make_park, site, square

TRACK = build_network([line((-200, 0), (200, 0))])[0]
OPEN = OpenGround(250.0)
PACE = Flat(5.0)
MINUTES_PER_M = 0.06 / 5.0


def off_path(tied: Attached) -> list[shapely.LineString]:
    """The legs off the path, in metres."""
    network = tied.network
    edges = [e for e in range(network.edges) if network.lines[network.line[e]].kind == OFF_PATH]
    return [shapely.LineString(PLANE.xy(*network.vertices(edge)[:2])) for edge in edges]


def walk(network: Network, places: list[tuple[float, float]], **given: Any) -> Walking:
    sites = [site(x, y, f"B{number}") for number, (x, y) in enumerate(places)]
    return Walking(attach(network, sites, **({"open_ground": OPEN} | given)), PACE)


def in_a_row() -> Round:
    """Ten boxes 40 m apart in a wood, 200 m from the track."""
    requests = []
    for number in range(10):
        at = site(-180 + 40 * number, 200, f"B{number}")
        requests.append(StopRequest(at.name, at.lon, at.lat))
    problem = RoundProblem(TRACK, tuple(requests), site(-180, 0, "Gate"), open_ground=OPEN)
    return plan(problem, pace=PACE)


def test_a_row_in_the_wood_is_walked_along_and_not_there_and_back() -> None:
    found = in_a_row()
    # By hand: out to one end, along the row, back to the path where light would be bent to.
    out_m, row_m = 200.0, 360.0
    bend_m = 200.0 / math.sqrt(1.0 - OFF_PATH_FACTOR**2)
    path_m = 360.0 - 200.0 * OFF_PATH_FACTOR / math.sqrt(1.0 - OFF_PATH_FACTOR**2)
    by_hand = ((out_m + row_m + bend_m) / OFF_PATH_FACTOR + path_m) * MINUTES_PER_M
    walked = found.minutes - 10 * 5.0
    assert walked == pytest.approx(by_hand, rel=1e-3)
    assert found.length_m < 1_100.0
    order = [stop.boxes[0] for stop in found.walks[0].stops]
    assert order in ([f"B{n}" for n in range(10)], [f"B{n}" for n in range(9, -1, -1)])
    said = instruction(found.walks[0].stops[1].leg)
    assert said in ("walk straight east 40 m; B1", "walk straight west 40 m; B8")


@pytest.mark.parametrize("ahead", [-120.0, -40.0, 0.0, 30.0, 90.0])
def test_a_walker_leaves_the_path_where_the_whole_way_is_quickest(ahead: float) -> None:
    walking = walk(TRACK, [(-150, 0), (ahead, 60)])
    x = np.linspace(-150.0, 200.0, 35_001)
    ways = np.abs(x + 150.0) + np.hypot(x - ahead, 60.0) / OFF_PATH_FACTOR
    assert walking.minutes[0, 1] == pytest.approx(ways.min() * MINUTES_PER_M, rel=1e-6)


def test_no_leg_of_a_thousand_boxes_crosses_a_barrier() -> None:
    rng = np.random.default_rng(5)
    park = make_park(2, boxes=2)
    shapes = [
        shapely.Point(x, y).buffer(r, quad_segs=3)
        for x, y, r in zip(*rng.uniform(-450, 450, (2, 40)), rng.uniform(8, 40, 40), strict=True)
    ]
    barriers = [
        Barrier(
            "", "water", shapely.transform(shape, lambda at: np.column_stack(PLANE.lonlat(*at.T)))
        )
        for shape in shapes
    ]
    places = [(x, y) for x, y in rng.uniform(-450, 450, (40, 2))]
    sites = [site(x, y, f"B{number}") for number, (x, y) in enumerate(places)]
    tied = attach(build_network(park.lines())[0], sites, barriers=barriers, open_ground=OPEN)
    legs = off_path(tied)
    assert len(legs) > 10_000
    some = rng.choice(len(legs), 10_000, replace=False)
    water = shapely.union_all(shapes).buffer(-0.1)
    shapely.prepare(water)
    assert not shapely.intersects(water, np.array(legs)[some]).any()


def test_rough_ground_is_walked_at_its_own_pace() -> None:
    scrub = GroundArea("Thicket", "rough", square(0, 150, 40))
    walking = walk(TRACK, [(-100, 150), (100, 150)], open_ground=OpenGround(250.0, (scrub,)))
    through = (160.0 / OFF_PATH_FACTOR + 40.0 / ROUGH_FACTOR) * MINUTES_PER_M
    assert walking.minutes[0, 1] == pytest.approx(through, rel=1e-4)


def test_in_a_zone_of_paths_only_a_box_is_reached_from_the_nearest_point_of_a_path() -> None:
    meadow = GroundArea("Orchid Meadow", "paths only", square(0, 100, 190))
    walking = walk(TRACK, [(-50, 60), (50, 60)], open_ground=OpenGround(250.0, (meadow,)))
    there_and_back = (2 * 60.0 / OFF_PATH_FACTOR + 100.0) * MINUTES_PER_M
    assert walking.minutes[0, 1] == pytest.approx(there_and_back, rel=1e-4)


def test_a_leg_goes_around_a_pond_by_its_corners() -> None:
    pond = Barrier("Mill Pond", "water", square(0, 150, 40))
    walking = walk(TRACK, [(-60, 150), (60, 150)], barriers=[pond])
    around_m = 2 * math.hypot(40.0, 20.0) + 40.0
    assert around_m <= walking.length_m[0, 1] < around_m + 5.0
