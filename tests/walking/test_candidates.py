"""Places along paths, the ones farthest from what is taken, and distances to shapes."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod
from shapely import LineString, Point, Polygon

from layers.errors import BadValue
from layers.walking.candidates import Candidates, candidates_along, farthest_first
from layers.walking.nearest import NearestBoxes
from layers.walking.network.plane import away_m

GEOD = Geod(ellps="WGS84")
NONE = NearestBoxes([], [])


def apart_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    return float(GEOD.inv(*a, *b)[2])


def test_spots_stand_evenly_and_at_both_ends() -> None:
    line = LineString([(-77.9, 42.6), (-77.9, 42.601), (-77.898, 42.601)])
    candidates = candidates_along([line], every_m=25.0)
    at = list(zip(candidates.lon.tolist(), candidates.lat.tolist(), strict=True))
    assert at[0] == (-77.9, 42.6)
    assert at[-1] == (-77.898, 42.601)
    steps = [apart_m(a, b) for a, b in itertools.pairwise(at)]
    # 111.07 m north and 164.1 m east (GeographicLib): eleven whole steps, one around the corner.
    assert len(steps) == 12
    straight = [step for i, step in enumerate(steps[:-1]) if i != 4]
    assert straight == pytest.approx([25.0] * 10, abs=0.01)
    assert steps[4] < 25.0
    assert steps[-1] == pytest.approx(275.2 - 275.0, abs=0.5)


def test_each_spot_knows_its_path_and_empty_ones_are_passed_over() -> None:
    lines = [None, LineString(), LineString([(0, 0), (0.001, 0)])]
    candidates = candidates_along(lines, every_m=1000.0)
    assert candidates.path.tolist() == [2, 2]
    assert len(candidates_along([], every_m=10.0)) == 0


def test_heights_do_not_matter() -> None:
    candidates = candidates_along([LineString([(0, 0, 5), (0.001, 0, 900)])], every_m=50.0)
    assert candidates.lat.tolist() == [0.0] * len(candidates)


def test_a_step_of_nothing_is_refused() -> None:
    with pytest.raises(BadValue, match="above 0 m, got 0"):
        candidates_along([], every_m=0.0)


def test_the_first_spot_is_the_one_farthest_from_what_is_taken() -> None:
    candidates = Candidates(np.array([0.0, 0.01, 0.02]), np.zeros(3), np.zeros(3, np.int64))
    ((first, away), *rest) = farthest_first(
        candidates, NearestBoxes([0.021], [0.0]), apart_m=50.0, most=5
    )
    assert first == 0
    assert away == pytest.approx(apart_m((0.0, 0.0), (0.021, 0.0)))
    assert [position for position, _ in rest] == [1, 2]
    assert rest[-1][1] == pytest.approx(apart_m((0.02, 0.0), (0.021, 0.0)))


def test_where_nothing_is_taken_the_first_of_all_begins() -> None:
    candidates = Candidates(np.array([0.0, 0.01]), np.zeros(2), np.zeros(2, np.int64))
    assert farthest_first(candidates, NONE, apart_m=1.0, most=1) == [(0, np.inf)]
    none = Candidates(np.empty(0), np.empty(0), np.empty(0, np.int64))
    assert farthest_first(none, NONE, apart_m=1.0, most=3) == []


PLACES = st.lists(
    st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02)), min_size=1, max_size=25
)


@given(
    places=PLACES,
    taken=st.lists(st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02)), max_size=5),
)
def test_chosen_spots_keep_their_distance_and_none_is_left_with_more(
    places: list[tuple[float, float]], taken: list[tuple[float, float]]
) -> None:
    lon, lat = np.array(places).T
    candidates = Candidates(lon, lat, np.zeros(len(lon), np.int64))
    boxes = NearestBoxes([x for x, _ in taken], [y for _, y in taken])
    chosen = farthest_first(candidates, boxes, apart_m=400.0, most=100)
    held = taken + [places[position] for position, _ in chosen]
    for a, b in itertools.combinations(held[len(taken) :], 2):
        assert apart_m(a, b) >= 400.0 - 1e-6
    for place, box in itertools.product(held[len(taken) :], taken):
        assert apart_m(place, box) >= 400.0 - 1e-6
    distances = [away for _, away in chosen]
    assert distances == sorted(distances, reverse=True)
    for place in places:
        assert min((apart_m(place, other) for other in held), default=np.inf) < 400.0


def test_distances_to_shapes_are_those_of_the_geodesic() -> None:
    here = (-77.9, 42.6)
    square = Polygon([(-77.901, 42.599), (-77.899, 42.599), (-77.899, 42.601), (-77.901, 42.601)])
    away = away_m([Point(-77.89, 42.605), square, None], lon=here[0], lat=here[1])
    assert away[0] == pytest.approx(apart_m(here, (-77.89, 42.605)), rel=1e-6)
    assert away[1] == 0.0
    assert np.isnan(away[2])
    # A line due east: the nearest point is its western end.
    line = LineString([(-77.89, 42.6), (-77.88, 42.6)])
    assert away_m([line], lon=here[0], lat=here[1])[0] == pytest.approx(
        apart_m(here, (-77.89, 42.6)), rel=1e-5
    )
    assert len(away_m([], lon=0.0, lat=0.0)) == 0
