"""Paths through keep-out zones: no round leads over them, and the reason names the zone."""

from __future__ import annotations

import pytest

from layers.walking.network.barriers import Barrier
from layers.walking.network.build import build_network
from layers.walking.network.closures import outside_zones
from layers.walking.network.open_ground import OpenGround
from layers.walking.pace import Flat
from layers.walking.round import RoundProblem, StopRequest, plan
from tests.walking.parks import line, site, square

HERONS = Barrier("Heron Bank", "keep_out", square(200, 0, 40))
RIDE = line((0, 0), (400, 0), name="Ride", heights=[0.0, 40.0])


def test_the_stretch_of_a_path_inside_a_zone_is_left_out_with_its_length() -> None:
    kept, barred, by = outside_zones([RIDE], [HERONS])
    network, _ = build_network(kept)
    # The zone is 40 m wide, and 3 m at either side count as its edge.
    assert network.length_m.sum() == pytest.approx(400.0 - 34.0, abs=0.01)
    assert [part.height_m.tolist() for part in kept] == [
        pytest.approx([0.0, 18.3], abs=0.01),
        pytest.approx([21.7, 40.0], abs=0.01),
    ]
    assert barred[0].reason == "34 m of it lead through keep-out zone (Heron Bank)"
    assert by == ("keep-out zone (Heron Bank)",)


@pytest.mark.parametrize(
    "barrier",
    [
        Barrier("Mill Pond", "water", square(200, 0, 40)),  # a bridge
        Barrier("Barn", "building", square(200, 0, 40)),  # a passage
        Barrier("Heron Bank", "keep_out", square(200, 22, 40)),  # along its edge
        Barrier("Heron Bank", "keep_out", square(200, 90, 40)),
    ],
)
def test_other_paths_stay_as_they_are(barrier: Barrier) -> None:
    assert outside_zones([RIDE], [barrier]) == ((RIDE,), (), ())


def test_a_path_that_crosses_itself_stays_whole_outside_of_the_zone() -> None:
    eight = line((0, 0), (100, 100), (100, 0), (0, 100), (300, 200), (300, 0), (100, -50))
    kept, _, _ = outside_zones([eight], [Barrier("", "keep_out", square(300, 100, 40))])
    assert [len(part.lon) for part in kept] == [6, 3]


@pytest.mark.parametrize("reach_m", [0.0, 250.0])
def test_a_box_behind_a_zone_is_left_out_and_the_reason_names_the_zone(reach_m: float) -> None:
    kept, _, by = outside_zones([RIDE], [HERONS])
    near, far = site(100, 3, "B1"), site(395, 3, "B2")
    problem = RoundProblem(
        build_network(kept)[0],
        tuple(StopRequest(one.name, one.lon, one.lat) for one in (near, far)),
        site(0, 0, "Gate"),
        barriers=(HERONS,),
        open_ground=OpenGround(reach_m),
        barred_by=by,
    )
    found = plan(problem, pace=Flat())
    assert [stop.boxes for stop in found.walks[0].stops] == [("B1",)]
    assert [left.reason for left in found.left_out] == [
        "Ride, the path nearest to it, does not connect with the start: paths through keep-out"
        " zone (Heron Bank) are barred"
    ]
