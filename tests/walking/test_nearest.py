"""Nearest boxes: the same answer as measuring every box, wherever on earth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.walking.nearest import POINTS, WGS84, NearestBoxes, _on_unit_sphere, compass

Floats = NDArray[np.float64]


def measure_all(
    lon: float, lat: float, box_lon: Floats, box_lat: Floats, *, k: int
) -> tuple[list[int], list[float]]:
    """The slow way: every distance, sorted by distance and then by position."""
    here = np.full(len(box_lon), lon), np.full(len(box_lon), lat)
    distance = WGS84.inv(*here, box_lon, box_lat)[2]
    order = np.lexsort((np.arange(len(distance)), distance))[:k]
    return order.tolist(), distance[order].tolist()


def whole_earth(rng: np.random.Generator, size: int) -> tuple[Floats, Floats]:
    """Even over the earth, with extra points at the poles, the antimeridian and 0 E."""
    lon = rng.uniform(-180.0, 180.0, size)
    lat = np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, size)))
    edges = size // 8
    lat[:edges] = rng.choice([-1.0, 1.0], edges) * (90.0 - rng.exponential(1e-3, edges))
    lat[: edges // 4] = np.sign(lat[: edges // 4]) * 90.0
    antimeridian = slice(edges, 2 * edges)
    lon[antimeridian] = rng.choice([-180.0, 180.0], edges)
    lon[antimeridian] += rng.choice([0.0, 1e-9, 1e-3], edges) * -np.sign(lon[antimeridian])
    lon[2 * edges : 3 * edges] = rng.normal(0.0, 1e-6, edges)
    return lon, lat


def test_the_answer_is_that_of_measuring_every_box_anywhere_on_earth() -> None:
    rng = np.random.default_rng(20260514)
    box_lon, box_lat = whole_earth(rng, 400)
    boxes = NearestBoxes(box_lon, box_lat)
    places = list(zip(*whole_earth(rng, 1000), strict=True))
    places += [(-180.0, 0.0), (180.0, 0.0), (0.0, 90.0), (77.0, 90.0), (0.0, -90.0)]
    for number, (lon, lat) in enumerate(places):
        k = 1 + number % 9
        found = boxes.query(lon, lat, k=k)
        assert (found.position.tolist(), found.distance_m.tolist()) == measure_all(
            lon, lat, box_lon, box_lat, k=k
        ), (lon, lat, k)


def test_the_answer_is_right_from_the_other_side_of_the_earth() -> None:
    rng = np.random.default_rng(3)
    box_lon, box_lat = rng.normal(-1.1, 0.05, 300), rng.normal(54.2, 0.05, 300)
    boxes = NearestBoxes(box_lon, box_lat)
    near_antipodes = zip(
        178.9 + rng.normal(0.0, 0.3, 200), -54.2 + rng.normal(0.0, 0.3, 200), strict=True
    )
    for lon, lat in near_antipodes:
        found = boxes.query(lon, lat, k=5)
        assert (found.position.tolist(), found.distance_m.tolist()) == measure_all(
            lon, lat, box_lon, box_lat, k=5
        ), (lon, lat)


def test_the_answer_is_right_within_one_trail_and_from_some_way_off() -> None:
    rng = np.random.default_rng(4)
    box_lon, box_lat = rng.uniform(-1.2, -1.1, 500), rng.uniform(54.1, 54.2, 500)
    boxes = NearestBoxes(box_lon, box_lat)
    places = zip(rng.normal(-1.15, 0.3, 300), rng.normal(54.15, 0.3, 300), strict=True)
    for lon, lat in places:
        found = boxes.query(lon, lat, k=7)
        assert (found.position.tolist(), found.distance_m.tolist()) == measure_all(
            lon, lat, box_lon, box_lat, k=7
        ), (lon, lat)


def test_the_geodesic_lies_between_the_two_bounds() -> None:
    rng = np.random.default_rng(5)
    first, second = whole_earth(rng, 4000), whole_earth(rng, 4000)
    chord = np.linalg.norm(_on_unit_sphere(*first) - _on_unit_sphere(*second), axis=1)
    sigma = 2.0 * np.arcsin(np.minimum(chord / 2.0, 1.0))
    geodesic = WGS84.inv(*first, *second)[2]
    # 0.2 m: near the antipodes the angle of a chord is only good to 3e-8 radians.
    assert np.all(WGS84.b * sigma <= geodesic + 0.2)
    assert np.all(geodesic <= WGS84.a * sigma + 0.2)


def test_boxes_at_one_place_come_in_the_order_they_were_given() -> None:
    boxes = NearestBoxes([-1.0] + [-1.1] * 50, [54.0] + [54.1] * 50)
    found = boxes.query(-1.1, 54.1001, k=4)
    assert found.position.tolist() == [1, 2, 3, 4]


def test_more_boxes_wanted_than_there_are_gives_all() -> None:
    boxes = NearestBoxes([0.0, 0.2, 0.1], [0.0, 0.0, 0.0])
    assert boxes.query(-0.1, 0.0, k=99).position.tolist() == [0, 2, 1]


def test_no_boxes_gives_nothing() -> None:
    found = NearestBoxes([], []).query(-1.1, 54.2, k=3)
    assert (len(found), found.direction) == (0, ())


def test_a_largest_distance_leaves_out_what_lies_beyond() -> None:
    # One degree of longitude on the equator is a * pi / 180 = 111319.49 m.
    boxes = NearestBoxes([1.0, 2.0, 3.0, 4.0], [0.0] * 4)
    one_degree_m = WGS84.a * math.pi / 180.0
    assert boxes.query(0.0, 0.0, k=4, max_distance_m=2.5 * one_degree_m).position.tolist() == [0, 1]
    assert len(boxes.query(0.0, 0.0, k=4, max_distance_m=0.9 * one_degree_m)) == 0
    assert len(boxes.query(0.0, 0.0, k=2, max_distance_m=math.inf)) == 2


def test_a_box_exactly_at_the_largest_distance_is_kept() -> None:
    rng = np.random.default_rng(6)
    boxes = NearestBoxes(*whole_earth(rng, 200))
    for lon, lat in zip(*whole_earth(rng, 200), strict=True):
        third = boxes.query(lon, lat, k=3).distance_m[2]
        within = boxes.query(lon, lat, k=200, max_distance_m=third)
        assert len(within) >= 3
        assert within.distance_m[-1] == third


def test_longitudes_beyond_180_wrap() -> None:
    boxes = NearestBoxes([181.0, -178.0], [10.0, 10.0])
    found = boxes.query(-179.0, 10.0, k=2)
    assert found.position.tolist() == [0, 1]
    assert found.distance_m[0] == 0.0


@pytest.mark.parametrize(
    ("lon", "lat", "bearing", "word"),
    [
        (0.0, 1.0, 0.0, "north"),
        (1.0, 0.0, 90.0, "east"),
        (0.0, -1.0, 180.0, "south"),
        (-1.0, 0.0, 270.0, "west"),
    ],
)
def test_the_bearing_points_from_the_place_to_the_box(
    lon: float, lat: float, bearing: float, word: str
) -> None:
    found = NearestBoxes([lon], [lat]).query(0.0, 0.0, k=1)
    assert found.bearing_deg[0] == pytest.approx(bearing)
    assert found.direction == (word,)


def test_a_bearing_a_hair_west_of_north_stays_below_360() -> None:
    bearing = NearestBoxes([-1e-16], [1.0]).query(0.0, 0.0, k=1).bearing_deg[0]
    assert 0.0 <= bearing < 360.0


def test_a_box_at_the_very_place_has_no_bearing() -> None:
    found = NearestBoxes([-1.1], [54.2]).query(-1.1, 54.2, k=1)
    assert math.isnan(found.bearing_deg[0])
    assert found.direction == ("here",)


@pytest.mark.parametrize(
    ("lon", "lat", "message"),
    [
        (361.0, 0.0, r"longitude from -360 to 360 degrees, got 361\.0"),
        (math.nan, 0.0, r"longitude from -360 to 360 degrees, got nan"),
        (0.0, 90.5, r"latitude from -90 to 90 degrees, got 90\.5"),
        (0.0, -math.inf, r"latitude from -90 to 90 degrees, got -inf"),
    ],
)
def test_a_place_off_the_earth_is_refused(lon: float, lat: float, message: str) -> None:
    with pytest.raises(BadValue, match=message):
        NearestBoxes([0.0], [0.0]).query(lon, lat, k=1)


def test_a_box_off_the_earth_is_refused_and_named() -> None:
    with pytest.raises(BadValue, match=r"latitude .* box at position 1, got 91\.0"):
        NearestBoxes([0.0, 0.0, 0.0], [0.0, 91.0, 92.0])
    with pytest.raises(BadValue, match=r"longitude .* box at position 0, got nan"):
        NearestBoxes([math.nan], [0.0])


def test_unequal_or_nested_arrays_are_refused() -> None:
    with pytest.raises(BadValue, match="2 longitudes and 1 latitudes"):
        NearestBoxes([0.0, 1.0], [0.0])
    with pytest.raises(BadValue, match=r"one longitude per box, got an array of shape \(1, 2\)"):
        NearestBoxes([[0.0, 1.0]], [[0.0, 1.0]])


def test_wanting_no_box_or_a_negative_distance_is_refused() -> None:
    boxes = NearestBoxes([0.0], [0.0])
    with pytest.raises(BadValue, match="at least 1 box to look for, got 0"):
        boxes.query(0.0, 0.0, k=0)
    with pytest.raises(BadValue, match=r"0 m or more, got -1\.0"):
        boxes.query(0.0, 0.0, k=1, max_distance_m=-1.0)
    with pytest.raises(BadValue, match="0 m or more, got nan"):
        boxes.query(0.0, 0.0, k=1, max_distance_m=math.nan)


def test_changing_the_arrays_afterwards_changes_no_answer() -> None:
    lon = np.array([0.0, 5.0])
    boxes = NearestBoxes(lon, np.array([0.0, 0.0]))
    before = boxes.query(1.0, 0.0, k=1).distance_m[0]
    lon[:] = 100.0
    assert boxes.query(1.0, 0.0, k=1).distance_m[0] == before


def test_each_compass_word_stands_for_an_eighth_of_the_circle() -> None:
    for number, word in enumerate(POINTS):
        middle = 45.0 * number
        assert compass(middle - 22.4) == compass(middle) == compass(middle + 22.4) == word
    assert compass(22.5) == "north-east"


def test_a_bearing_outside_0_to_360_wraps() -> None:
    assert (compass(-90.0), compass(450.0), compass(359.99)) == ("west", "east", "north")


def test_a_bearing_that_is_no_number_is_refused() -> None:
    with pytest.raises(BadValue, match="a bearing in degrees, got nan"):
        compass(math.nan)
