"""Boxes from lists: into a trail, once and only once."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layers.errors import BadValue, Refused
from layers.trail.importing.cells import facing
from layers.trail.importing.features import near_pairs
from layers.trail.map_schema import BOXES
from layers.trail.store import Trail
from tests.trail.importing.imports import content, having, imported, written
from tests.trail.importing.vector_files import EAST, NORTH


def test_a_list_of_boxes_in_us_units_is_stored_metric(tmp_path: Path, empty: Trail) -> None:
    source = written(
        tmp_path / "boxes.csv",
        "Nest box,Latitude,Longitude,Section,Hole (in),floor in,Depth_cm,height ft,Facing,Guards,"
        "Installed,Public,Notes,Colour\n"
        'A1,42.6,-77.9,Pond,1 1/2,5,25,5,NE,"stovepipe, cone",14 May 2024,coarse,by a gate,red\n'
        "A2,42.61,-77.9,,,,,,,,,,,\n",
    )
    done = imported("boxes", source, empty)
    assert (done.added, done.ignored) == (2, ("Colour",))
    one, two = empty.boxes().to_dict("records")
    assert (one["hole_mm"], one["floor_mm"], one["depth_mm"], one["height_m"]) == (
        38.1,
        127,
        250,
        1.524,
    )
    assert (one["facing_deg"], one["guards"], one["installed_on"], one["public"]) == (
        45,
        "cone;stovepipe",
        "2024-05-14",
        "coarse",
    )
    assert (one["geometry"].x, one["geometry"].y) == (-77.9, 42.6)
    filled = {name for name in BOXES.columns if two[name] == two[name] and two[name] is not None}
    assert filled == {"box"}


def test_a_list_with_semicolons_and_decimal_commas_is_read(tmp_path: Path, empty: Trail) -> None:
    source = written(
        tmp_path / "boxes.csv", "box;lat;lon;hole_mm\nA1;42,6125;-77,9;38,5\n", "cp1252"
    )
    assert imported("boxes", source, empty).notes == ("columns separated by ;",)
    (box,) = empty.boxes().to_dict("records")
    assert (box["geometry"].y, box["hole_mm"]) == (42.6125, 38.5)


def test_degrees_minutes_and_seconds_are_read(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "boxes.csv", "box;lat;lon\nA1;42°36'00\"N;77°54'00\" W\n", "utf-16")
    imported("boxes", source, empty)
    point = empty.boxes().geometry[0]
    assert (point.x, point.y) == pytest.approx((-77.9, 42.6), abs=1e-12)


def test_projected_coordinates_of_a_told_system_are_turned(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", f"box,Easting,Northing\nA1,{EAST},{NORTH}\n")
    done = imported("boxes", source, empty, crs="EPSG:32618")
    point = empty.boxes().geometry[0]
    assert (point.x, point.y) == pytest.approx((-77.9, 42.6), abs=1e-9)
    assert "converted from WGS 84 / UTM zone 18N to longitude and latitude" in done.notes[0]
    assert imported("boxes", source, empty, crs="EPSG:32618").already_there == 1


@pytest.mark.parametrize(
    "text",
    [
        f"box,x,y\nA1,{EAST},{NORTH}\n",
        "box,x,y\nA1,-77.9,42.6\n",
        f"box,geometry\nA1,POINT ({EAST} {NORTH})\n",
    ],
)
def test_coordinates_of_no_known_system_are_asked_for_not_guessed(
    tmp_path: Path, empty: Trail, text: str
) -> None:
    before = content(empty)
    with pytest.raises(Refused, match="the reference system to be given, such as crs EPSG:27700"):
        imported("boxes", written(tmp_path / "b.csv", text), empty)
    assert content(empty) == before


def test_well_known_text_is_read_in_the_told_system(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", 'box,WKT\nA1,"POINT (-77.9 42.6)"\n')
    assert imported("boxes", source, empty, crs="EPSG:4326").added == 1
    source = written(tmp_path / "c.csv", "box,WKT\nA2,POINT (-77.9\n")
    with pytest.raises(Refused, match="a shape like POINT"):
        imported("boxes", source, empty, crs="EPSG:4326")


def test_a_curve_in_well_known_text_is_a_fault(tmp_path: Path, empty: Trail) -> None:
    curve = "CIRCULARSTRING (16 48, 16.1 48.1, 16.2 48)"
    path = written(tmp_path / "b.csv", f'box,geometry\nA1,"{curve}"\n')
    with pytest.raises(Refused, match=having("a shape like POINT (-77.9 42.6), got 'CIRCULAR")):
        imported("boxes", path, empty, crs="EPSG:4326")


def test_places_with_heights_are_longitude_and_latitude_like_others(
    tmp_path: Path, empty: Trail
) -> None:
    point = '{"type": "Point", "coordinates": [-77.9, 42.6, 210.5]}'
    feature = f'{{"type": "Feature", "properties": {{"box": "A1"}}, "geometry": {point}}}'
    path = written(
        tmp_path / "b.geojson", f'{{"type": "FeatureCollection", "features": [{feature}]}}'
    )
    found = imported("boxes", path, empty)
    assert found.notes == ()
    assert empty.boxes().geometry[0].wkt == "POINT Z (-77.9 42.6 210.5)"


def test_a_system_that_nearly_agrees_with_longitude_and_latitude_is_turned_and_noted(
    tmp_path: Path, empty: Trail
) -> None:
    path = written(tmp_path / "b.csv", "box,lat,lon\nA1,48.2,16.3\n")
    found = imported("boxes", path, empty, crs="EPSG:4258", far_is_right=True)
    assert "coordinates converted from ETRS89 to longitude and latitude, within 1 m" in found.notes
    assert empty.boxes().geometry[0].distance(shapely.Point(16.3, 48.2)) < 1e-5


def test_position_columns_that_are_not_used_are_told(tmp_path: Path, empty: Trail) -> None:
    source = written(
        tmp_path / "b.csv", f"box,lat,lon,easting,northing\nA1,42.6,-77.9,{EAST},{NORTH}\n"
    )
    assert imported("boxes", source, empty).ignored == ("easting", "northing")
    done = imported("boxes", source, empty, crs="EPSG:32618", dry_run=True)
    assert (done.ignored, done.already_there) == (("lat", "lon"), 1)


def test_latitude_and_longitude_are_not_read_in_a_projected_system(
    tmp_path: Path, empty: Trail
) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon\nA1,42.6,-77.9\n")
    with pytest.raises(Refused, match="columns x and y, or geometry, got columns box, lat, lon"):
        imported("boxes", source, empty, crs="EPSG:32618")


@pytest.mark.parametrize(
    ("lat", "lon", "expected"),
    [
        ("-77.9", "42.6", "near the time zone America/New_York; latitude and longitude look"),
        ("-97.9", "32.6", "latitude and longitude look swapped"),
        ("77.9 W", "42.6 N", "latitude and longitude look swapped"),
        ("4717000", "262000", "columns x and y and their reference system"),
        ("0", "0", "means a missing place"),
        ("", "-77.9", "a place, got ''"),
        ("?", "-77.9", r"a place, got '\?'"),
    ],
)
def test_a_place_that_cannot_be_is_refused(
    tmp_path: Path, empty: Trail, lat: str, lon: str, expected: str
) -> None:
    source = written(tmp_path / "b.csv", f"box,lat,lon\nA1,{lat},{lon}\n")
    with pytest.raises(Refused, match=expected):
        imported("boxes", source, empty)


def test_swapped_coordinates_are_told_against_the_boxes_of_the_trail(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon\nN1,42.62,-77.95\nN2,-77.95,42.62\n")
    with pytest.raises(Refused, match="near the boxes of this trail; latitude") as caught:
        imported("boxes", source, trail)
    assert [(fault.row, fault.column) for fault in caught.value.faults] == [(3, "lat, lon")]


def test_a_box_brought_again_adds_nothing_and_blank_cells_say_nothing(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon,section,note\nA1,42.6,-77.9,,\n")
    before = content(trail)
    done = imported("boxes", source, trail)
    assert (done.added, done.already_there) == (0, 1)
    assert content(trail) == before


def test_a_known_box_with_another_content_is_refused_naming_the_difference(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon,section,hole_mm\nA1,42.6,-77.9,Hill,38\nA2,42.6001,-77.91,Pond Meadow,\n",
    )
    before = content(trail)
    with pytest.raises(Refused) as caught:
        imported("boxes", source, trail)
    assert [fault.came for fault in caught.value.faults] == [
        "section 'Hill' instead of 'Pond Meadow', hole_mm 38.0 instead of blank",
        "a place 11.1 m away",
    ]
    assert content(trail) == before


def test_two_boxes_of_one_id_in_a_file_are_refused(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon\nA1,42.6,-77.9\nA1,42.7,-77.9\n")
    with pytest.raises(Refused, match=having("got 'A1', as in row 2 in b.csv row 3, column box")):
        imported("boxes", source, empty)


def test_boxes_at_one_place_are_noted_not_refused(tmp_path: Path, trail: Trail) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon\nN1,42.6,-77.9\nN2,42.6,-77.95\nN3,42.600005,-77.95\nN4,42.6,-77.96\n",
    )
    done = imported("boxes", source, trail)
    assert done.added == 4
    assert done.notes == (
        "boxes A1 and N1 are within 1 m of each other",
        "boxes N2 and N3 are within 1 m of each other",
    )


def test_two_boxes_that_are_a_pair_may_stand_together_without_a_note(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon,pair\nN1,42.6,-77.9,A1\nN2,42.6,-77.95,N3\nN3,42.6,-77.95,\n",
    )
    assert imported("boxes", source, trail).notes == ()


def test_a_great_many_boxes_at_one_place_make_one_note_each() -> None:
    places = {str(i): (-77.9, 42.6) for i in range(20_000)}
    assert len(near_pairs(places, among=list(places))) == 19_999


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), min_size=1, max_size=30))
def test_near_pairs_are_those_found_by_comparing_all(steps: list[tuple[int, int]]) -> None:
    # Steps of 0.3 m; no pair is near the limit of 1 m: 3 steps are 0.9 m, 4 are 1.2 m.
    degree_m = 111_195.0
    places = {str(i): (x * 0.3 / degree_m, y * 0.3 / degree_m) for i, (x, y) in enumerate(steps)}
    found = {frozenset(pair) for pair in near_pairs(places, among=list(places))}
    distinct = {place: box for box, place in reversed(places.items())}
    expected = {
        frozenset((one, other))
        for a, one in distinct.items()
        for b, other in distinct.items()
        if a != b and shapely.Point(a).distance(shapely.Point(b)) * degree_m < 1.0
    }
    equal = {frozenset((distinct[place], box)) for box, place in places.items()}
    assert found == expected | {pair for pair in equal if len(pair) == 2}


def test_a_pair_must_name_a_box_of_the_trail_or_the_file(tmp_path: Path, trail: Trail) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon,pair\nN1,42.6,-77.95,N2\nN2,42.6,-77.96,A1\nN3,42.6,-77.97,Z9\n"
        "N4,42.6,-77.98,N4\n",
    )
    with pytest.raises(Refused) as caught:
        imported("boxes", source, trail)
    assert [(fault.row, fault.column, fault.came) for fault in caught.value.faults] == [
        (5, "pair", "'N4'"),
        (4, "pair", "'Z9'"),
    ]


@pytest.mark.parametrize(
    ("column", "cell", "expected"),
    [
        ("hole_mm", "1.5", "10 to 400 mm"),
        ("hole_in", "38", "0.3937 to 15.75 in"),
        ("height_m", "-1", "0 to 60 m"),
        ("facing", "NNNE", "0 to 360 degrees, or a compass word like north-east"),
        ("guards", "moat", "one of cone, stovepipe"),
        ("public", "open", "one of shown, coarse, hidden"),
        ("cleaned_on", "2026-07-01", "a date not after 2026-06-01, today"),
        ("installed_on", "03/04/2024", "day-first or month-first"),
    ],
)
def test_a_cell_of_a_box_that_cannot_be_is_refused(
    tmp_path: Path, empty: Trail, column: str, cell: str, expected: str
) -> None:
    source = written(tmp_path / "b.csv", f"box,lat,lon,{column}\nA1,42.6,-77.9,{cell}\n")
    with pytest.raises(Refused, match=having(expected)):
        imported("boxes", source, empty)


def test_one_measure_in_two_columns_and_a_box_removed_before_it_stood_are_refused(
    tmp_path: Path, empty: Trail
) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon,hole_mm,hole_in,installed_on,removed_on\n"
        "A1,42.6,-77.9,38,1.5,2024-05-01,2024-04-01\n",
    )
    with pytest.raises(Refused) as caught:
        imported("boxes", source, empty)
    assert [str(fault).split(" in b.csv")[0] for fault in caught.value.faults] == [
        "Expected one column of a measure, got hole_mm, hole_in",
        "Expected a day from 2024-05-01 on, when it was installed, got 2024-04-01",
    ]


def test_a_box_that_will_be_installed_may_be_planned(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon,installed_on\nA1,42.6,-77.9,2027-03-01\n")
    assert imported("boxes", source, empty).added == 1


@pytest.mark.parametrize(
    ("cell", "degrees"),
    [
        ("NE", 45),
        ("north-east", 45),
        ("North East", 45),
        ("nnw", 337.5),
        ("south south west", 202.5),
        ("S", 180),
        ("360", 0),
        (90, 90),
        ("22,5", 22.5),
        ("45°", 45),
    ],
)
def test_a_direction_is_read_from_a_number_or_a_compass_word(cell: object, degrees: float) -> None:
    assert facing(cell) == degrees


@pytest.mark.parametrize("cell", ["361", "-1", "uphill", "N45E", True])
def test_what_is_no_direction_is_refused(cell: object) -> None:
    with pytest.raises(BadValue, match="0 to 360 degrees"):
        facing(cell)
