"""Boxes tied to the paths, and what stands in the way."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from layers.errors import BadValue
from layers.walking.distances import Walking
from layers.walking.network.attach import Site, attach
from layers.walking.network.barriers import Barrier, barriers_from
from layers.walking.network.build import build_network
from layers.walking.network.snaps import FARTHEST_M
from layers.walking.pace import Flat
from tests.walking.parks import PLANE, line, make_park, site, square

PATH = build_network([line((-200, 0), (200, 0))])[0]
POND = Barrier("Mill Pond", "water", square(0, 10, 12))


def legs_of(sites: list[Site], barriers: list[Barrier]) -> list[shapely.LineString]:
    """The legs off the path in metres."""
    tied = attach(PATH, sites, barriers=barriers)
    legs = []
    for one, node in zip(tied.sites, tied.node.tolist(), strict=True):
        if node >= 0:
            ends = [one.lon, tied.network.lon[node]], [one.lat, tied.network.lat[node]]
            legs.append(shapely.LineString(PLANE.xy(*ends)))
    return legs


def test_a_box_is_tied_to_the_nearest_point_of_the_path_which_is_cut_there() -> None:
    tied = attach(PATH, [site(37, 12)])
    assert (tied.network.nodes, tied.network.edges) == (3, 2)
    node = int(tied.node[0])
    assert PLANE.xy(tied.network.lon[node], tied.network.lat[node])[0] == pytest.approx(
        [37.0, 0.0], abs=1e-3
    )
    assert tied.off_path_m.tolist() == pytest.approx([12.0], abs=1e-3)
    assert tied.network.length_m.sum() == pytest.approx(PATH.length_m.sum(), abs=1e-6)


def test_boxes_opposite_each_other_leave_the_path_at_one_node() -> None:
    tied = attach(PATH, [site(37, 12, "B1"), site(37, -5, "B2"), site(-250, 0, "B3")])
    assert tied.node[0] == tied.node[1]
    assert tied.node[2] in (0, 1)
    assert tied.network.nodes == 3


def test_a_leg_goes_around_a_pond_to_the_nearest_point_in_the_clear() -> None:
    tied = attach(PATH, [site(0, 20)], barriers=[POND])
    # Past the corner at 6, 16 a straight leg comes down to the path at 30, 0.
    shortest_m = np.hypot(30, 20)
    assert shortest_m <= tied.off_path_m[0] < shortest_m + 5.0
    (leg,) = legs_of([site(0, 20)], [POND])
    assert not leg.crosses(shapely.box(-5.9, 4.1, 5.9, 15.9))


def test_no_leg_off_the_path_crosses_water_a_building_or_a_keep_out_zone() -> None:
    rng = np.random.default_rng(4)
    barriers = [
        Barrier(f"zone {number}", kind, square(x, y, 14.0))
        for number, (x, y, kind) in enumerate(
            zip(
                rng.uniform(-180, 180, 25),
                rng.uniform(8, 30, 25),
                rng.choice(["water", "building", "keep_out"], 25),
                strict=True,
            )
        )
    ]
    sites = [site(x, y, f"B{x:.0f}") for x, y in rng.uniform([-180, 1], [180, 45], (80, 2))]
    inner = [shapely.transform(b.shape, lambda at: PLANE.xy(*at.T)).buffer(-0.1) for b in barriers]
    legs = legs_of(sites, barriers)
    assert len(legs) > 30
    assert not any(leg.intersects(shape) for leg in legs for shape in inner)


@pytest.mark.parametrize(
    ("kind", "words"),
    [("keep_out", "keep-out zone"), ("water", "water"), ("building", "building")],
)
def test_a_box_that_stands_in_a_zone_cannot_be_reached(kind: str, words: str) -> None:
    tied = attach(PATH, [site(0, 10)], barriers=[Barrier("Heron Bank", kind, square(0, 10, 8))])
    assert tied.reasons == (f"it stands in {words} (Heron Bank)",)
    assert tied.node.tolist() == [-1]


def test_a_box_that_is_only_looked_at_may_stand_in_water() -> None:
    tied = attach(PATH, [site(0, 10, watch_only=True)], barriers=[POND])
    assert tied.reasons == ("",)
    assert tied.off_path_m.tolist() == [0.0]
    assert tied.away_m.tolist() == pytest.approx([10.0], abs=1e-3)


def test_a_box_walled_in_on_every_side_cannot_be_reached() -> None:
    ring = Barrier("Moat", "water", shapely.difference(square(0, 30, 40), square(0, 30, 20)))
    tied = attach(PATH, [site(0, 30)], barriers=[ring])
    assert tied.reasons == (
        "every straight way to it from the paths is barred, the nearest by water (Moat)",
    )


def test_a_box_far_from_every_path_cannot_be_reached() -> None:
    tied = attach(PATH, [site(0, FARTHEST_M + 5)])
    assert tied.reasons == ("it is more than 500 m from every path",)


def test_a_box_by_a_path_apart_from_the_start_cannot_be_reached() -> None:
    apart = build_network([line((-200, 0), (200, 0)), line((0, 300), (50, 300), name="Islet")])[0]
    tied = attach(apart, [site(0, 5, "Car Park"), site(10, 310)])
    assert tied.reasons[1] == "Islet, the path nearest to it, does not connect with the start"


def test_a_start_by_a_scrap_of_path_is_tied_to_the_main_paths_close_by() -> None:
    scraps = build_network([line((-200, 0), (200, 0)), line((0, 40), (5, 40), name="scrap")])[0]
    tied = attach(scraps, [site(0, 41, "Car Park"), site(100, 3)])
    assert tied.reasons == ("", "")


def test_a_start_on_an_island_of_its_own_has_its_boxes_there() -> None:
    apart = build_network([line((-200, 0), (200, 0)), line((0, 400), (90, 400), name="Islet")])[0]
    tied = attach(apart, [site(0, 405, "Jetty"), site(80, 402, "B1"), site(0, 5, "B2")])
    assert (tied.reasons[1], "Pond Loop" in tied.reasons[2]) == ("", True)


def test_without_paths_legs_are_straight_and_go_around_barriers() -> None:
    nothing = build_network([])[0]
    tied = attach(nothing, [site(0, -20), site(0, 40)], barriers=[POND])
    assert tied.straight
    walking = Walking(tied, Flat(5.0))
    shortest_m = np.hypot(7, 23) + 14.0 + np.hypot(7, 23)  # around two corners, 1 m off
    assert 60.0 < walking.length_m[0, 1] <= shortest_m + 0.2
    way = walking.way(0, 1)
    leg = shapely.LineString(PLANE.xy(way.lon, way.lat))
    assert not leg.intersects(shapely.box(-5.9, 4.1, 5.9, 15.9))
    # Straight legs are off the path: six tenths of the speed (Tobler 1993).
    assert walking.minutes[0, 1] == pytest.approx(walking.length_m[0, 1] * 0.06 / 3.0)


def test_without_paths_and_barriers_legs_are_the_straight_distance() -> None:
    tied = attach(build_network([])[0], [site(0, 0), site(30, 40), site(-9, 4)])
    assert Walking(tied, Flat()).length_m[0].tolist() == pytest.approx(
        [0.0, 50.0, np.hypot(9, 4)], abs=1e-4
    )


def test_nothing_to_attach_leaves_the_network_as_it_is() -> None:
    tied = attach(PATH, [])
    assert (tied.network.edges, tied.reasons) == (PATH.edges, ())


def test_heights_are_read_where_a_box_is_tied() -> None:
    slope = build_network([line((0, 0), (200, 0), heights=[0.0, 20.0])])[0]
    tied = attach(slope, [site(50, 3)])
    assert tied.network.height_m[tied.node[0]] == pytest.approx(5.0, abs=1e-3)
    assert tied.network.up_m.sum() == pytest.approx(20.0)


def test_only_zones_that_bar_the_way_are_barriers() -> None:
    shape = square(0, 0, 5)
    rows: list[dict[str, Any]] = [
        {"name": "Oak Wood", "kind": "habitat", "geometry": shape},
        {"name": None, "kind": "water", "geometry": shape},
        {"name": "x", "kind": "keep_out", "geometry": None},
        {"name": "Barn", "kind": "building", "geometry": shape},
    ]
    assert [barrier.words for barrier in barriers_from(rows)] == ["water", "building (Barn)"]


def test_a_spot_that_is_nowhere_is_refused() -> None:
    with pytest.raises(BadValue, match="a place on earth for Car Park"):
        Site("Car Park", float("nan"), 3.0)


def test_every_box_of_a_park_is_tied_within_reach() -> None:
    park = make_park(1, boxes=30)
    tied = attach(build_network(park.lines())[0], park.sites())
    assert set(tied.reasons) == {""}
    assert tied.off_path_m.max() < 20.0
