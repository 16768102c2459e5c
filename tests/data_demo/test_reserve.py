"""The invented reserve: a map worth walking, with the faults of lines drawn by hand."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from pyproj import Geod

from data_demo.reserve import BOXES_A_SECTION, SECTIONS, Reserve, read_reserve
from layers.trail import words

GEOD = Geod(ellps="WGS84")
CENTRE = np.array([-77.9, 42.6])
METRES_A_DEGREE = np.array([111_320 * np.cos(np.radians(CENTRE[1])), 111_080])


@pytest.fixture(scope="module")
def reserve() -> Reserve:
    return read_reserve()


@pytest.fixture(scope="module")
def lines(reserve: Reserve) -> dict[str, shapely.LineString]:
    """The paths in metres."""
    return {path["name"]: metres(path["geometry"]) for path in reserve.paths}


def metres(shape: Any) -> Any:
    """A shape of the reserve in metres about its middle, good to a few centimetres."""

    def moved(lonlat: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([(lonlat[:, :2] - CENTRE) * METRES_A_DEGREE, lonlat[:, 2:]])

    return shapely.transform(shape, moved, include_z=shape.has_z)


def test_sixty_boxes_stand_in_four_sections(reserve: Reserve) -> None:
    sections = [box["section"] for box in reserve.boxes]
    assert {name: sections.count(name) for name in sections} == {
        section.name: BOXES_A_SECTION for section in SECTIONS
    }
    assert len({box["box"] for box in reserve.boxes}) == 60


def test_boxes_stand_by_the_paths_and_not_in_water_or_buildings(reserve: Reserve) -> None:
    paths = shapely.union_all([metres(path["geometry"]) for path in reserve.paths])
    no_box = [
        metres(zone["geometry"]) for zone in reserve.zones if zone["kind"] in ("water", "building")
    ]
    for box in reserve.boxes:
        point = metres(box["geometry"])
        assert 1.9 <= shapely.distance(point, paths) <= 25.1
        assert not any(shapely.intersects(point, no_box))


def test_two_pairs_stand_side_by_side(reserve: Reserve) -> None:
    by_id = {box["box"]: box for box in reserve.boxes}
    paired = [box for box in reserve.boxes if box.get("pair")]
    assert len(paired) == 4
    for box in paired:
        partner = by_id[box["pair"]]
        assert partner["pair"] == box["box"]
        here, there = box["geometry"], partner["geometry"]
        assert GEOD.inv(here.x, here.y, there.x, there.y)[2] < 10


def test_boxes_are_set_up_in_words_that_a_trail_knows(reserve: Reserve) -> None:
    for box in reserve.boxes:
        assert set((box["guards"] or "cone").split(";")) <= set(words.GUARDS)
        assert box["public"] in words.PUBLIC
        assert 0 <= box["facing_deg"] < 360
        assert box["removed_on"] is None or box["removed_on"] > box["installed_on"]
    assert sum(box["removed_on"] is not None for box in reserve.boxes) == 2


def test_paths_carry_heights_no_path_is_too_steep_to_walk(reserve: Reserve) -> None:
    for path in reserve.paths:
        lon, lat, height = shapely.get_coordinates(path["geometry"], include_z=True).T
        length_m = GEOD.line_lengths(lon, lat)
        assert np.all(np.isfinite(height))
        assert np.abs(np.diff(height)).max() < 4
        assert np.ptp(height) / np.sum(length_m) < 0.25


def test_some_ends_stop_half_a_metre_to_three_metres_short(
    lines: dict[str, shapely.LineString],
) -> None:
    gaps = [
        min(end.distance(other) for other in lines.values() if other is not line)
        for line in lines.values()
        for end in shapely.get_point(line, [0, -1])
    ]
    assert sum(0.48 <= gap_m <= 3.02 for gap_m in gaps) >= 10


def test_the_footbridge_passes_over_the_lane(
    reserve: Reserve, lines: dict[str, shapely.LineString]
) -> None:
    level = {path["name"]: path["level"] for path in reserve.paths}
    bridge, lane = lines["Footbridge"], lines["Hollow Lane"]
    crossing = bridge.intersection(lane)
    assert isinstance(crossing, shapely.Point)
    assert level["Footbridge"] == level["Hollow Lane"] + 1
    heights = [
        line.interpolate(line.project(shapely.Point(crossing.x, crossing.y))).z
        for line in (bridge, lane)
    ]
    assert heights[0] - heights[1] > 2


def test_the_footbridge_continues_the_hedge_walk(lines: dict[str, shapely.LineString]) -> None:
    west, bridge, east = (
        lines[name].coords for name in ("Hedge Walk West", "Footbridge", "Hedge Walk East")
    )
    assert west[-1] == bridge[0]
    assert bridge[-1] == east[0]


def test_paths_cross_where_neither_has_a_point(lines: dict[str, shapely.LineString]) -> None:
    row, loop = lines["Orchard Row"], lines["Orchard Loop"]
    crossings = shapely.get_parts(row.intersection(loop))
    assert len(crossings) == 2
    corners = shapely.multipoints(
        np.vstack(
            [
                shapely.get_coordinates(row, include_z=False),
                shapely.get_coordinates(loop, include_z=False),
            ]
        )
    )
    assert all(point.distance(corners) > 0.05 for point in crossings)


def test_one_path_loops_back_onto_itself(lines: dict[str, shapely.LineString]) -> None:
    coords = lines["Mill Wood Round"].coords
    end = shapely.Point(coords[-1])
    stem = shapely.LineString(coords[: len(coords) // 2])
    assert end.distance(stem) < 3
    assert end.distance(shapely.Point(coords[0])) > 100


def test_lines_look_drawn_by_hand(lines: dict[str, shapely.LineString]) -> None:
    for line in lines.values():
        steps = [np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(line.coords)]
        assert max(steps) < 25
        assert len(set(np.round(steps, 3))) > 1


def test_zones_and_places_are_of_known_kinds_and_valid(reserve: Reserve) -> None:
    assert {zone["kind"] for zone in reserve.zones} == set(words.ZONE_KINDS)
    assert {place["kind"] for place in reserve.places} == set(words.PLACE_KINDS)
    assert sum(place["kind"] == "start" for place in reserve.places) == 2
    for zone in reserve.zones:
        assert zone["geometry"].geom_type == "Polygon"
        assert zone["geometry"].is_valid
