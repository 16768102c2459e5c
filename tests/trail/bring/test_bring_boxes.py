"""Boxes: from every format into a trail, once and only once."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from layers.errors import BadValue, Refused
from layers.trail.bring.box_row import facing
from layers.trail.bring.feature_intake import near_pairs
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.tables import BOXES
from tests.trail.bring import vector_files
from tests.trail.bring.asking import brought, content, having, written


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Trail]:
    settings = Settings("Alderbeck", "America/New_York")
    with Trail.create(tmp_path / "empty.gpkg", settings) as made:
        yield made


def test_a_list_of_boxes_in_us_units_is_stored_metric(tmp_path: Path, empty: Trail) -> None:
    source = written(
        tmp_path / "boxes.csv",
        "Nest box,Latitude,Longitude,Section,Hole (in),floor in,Depth_cm,height ft,Facing,Guards,"
        "Installed,Public,Notes,Colour\n"
        'A1,42.6,-77.9,Pond,1 1/2,5,25,5,NE,"stovepipe, cone",14 May 2024,coarse,by a gate,red\n'
        "A2,42.61,-77.9,,,,,,,,,,,\n",
    )
    done = brought("boxes", source, empty)
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
    assert brought("boxes", source, empty).notes == ("encoding utf-8-sig, delimiter ;",)
    (box,) = empty.boxes().to_dict("records")
    assert (box["geometry"].y, box["hole_mm"]) == (42.6125, 38.5)


def test_degrees_minutes_and_seconds_are_read(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "boxes.csv", "box;lat;lon\nA1;42°36'00\"N;77°54'00\" W\n", "utf-16")
    brought("boxes", source, empty)
    point = empty.boxes().geometry[0]
    assert (point.x, point.y) == pytest.approx((-77.9, 42.6), abs=1e-12)


EAST, NORTH = Transformer.from_crs("EPSG:4326", "EPSG:32618", always_xy=True).transform(-77.9, 42.6)


def test_projected_coordinates_of_a_told_system_are_turned(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", f"box,Easting,Northing\nA1,{EAST},{NORTH}\n")
    done = brought("boxes", source, empty, crs="EPSG:32618")
    point = empty.boxes().geometry[0]
    assert (point.x, point.y) == pytest.approx((-77.9, 42.6), abs=1e-9)
    assert "turned from WGS 84 / UTM zone 18N into longitude and latitude" in done.notes[1]
    assert brought("boxes", source, empty, crs="EPSG:32618").already_there == 1


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
    with pytest.raises(Refused, match="to be told the reference system, like crs EPSG:27700"):
        brought("boxes", written(tmp_path / "b.csv", text), empty)
    assert content(empty) == before


def test_well_known_text_is_read_in_the_told_system(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", 'box,WKT\nA1,"POINT (-77.9 42.6)"\n')
    assert brought("boxes", source, empty, crs="EPSG:4326").added == 1
    source = written(tmp_path / "c.csv", "box,WKT\nA2,POINT (-77.9\n")
    with pytest.raises(Refused, match="a shape like POINT"):
        brought("boxes", source, empty, crs="EPSG:4326")


def test_a_curve_in_well_known_text_is_a_fault(tmp_path: Path, empty: Trail) -> None:
    curve = "CIRCULARSTRING (16 48, 16.1 48.1, 16.2 48)"
    path = written(tmp_path / "b.csv", f'box,geometry\nA1,"{curve}"\n')
    with pytest.raises(Refused, match=having("a shape like POINT (-77.9 42.6), got 'CIRCULAR")):
        brought("boxes", path, empty, crs="EPSG:4326")


def test_places_with_heights_are_longitude_and_latitude_like_others(
    tmp_path: Path, empty: Trail
) -> None:
    point = '{"type": "Point", "coordinates": [-77.9, 42.6, 210.5]}'
    feature = f'{{"type": "Feature", "properties": {{"box": "A1"}}, "geometry": {point}}}'
    path = written(
        tmp_path / "b.geojson", f'{{"type": "FeatureCollection", "features": [{feature}]}}'
    )
    found = brought("boxes", path, empty)
    assert found.notes == ()
    assert empty.boxes().geometry[0].wkt == "POINT Z (-77.9 42.6 210.5)"


def test_a_system_that_nearly_agrees_with_longitude_and_latitude_is_turned_and_noted(
    tmp_path: Path, empty: Trail
) -> None:
    path = written(tmp_path / "b.csv", "box,lat,lon\nA1,48.2,16.3\n")
    found = brought("boxes", path, empty, crs="EPSG:4258")
    assert "coordinates turned from ETRS89 into longitude and latitude, within 1 m" in found.notes
    assert empty.boxes().geometry[0].distance(shapely.Point(16.3, 48.2)) < 1e-5


def test_position_columns_that_are_not_used_are_told(tmp_path: Path, empty: Trail) -> None:
    source = written(
        tmp_path / "b.csv", f"box,lat,lon,easting,northing\nA1,42.6,-77.9,{EAST},{NORTH}\n"
    )
    assert brought("boxes", source, empty).ignored == ("easting", "northing")
    done = brought("boxes", source, empty, crs="EPSG:32618", dry_run=True)
    assert (done.ignored, done.already_there) == (("lat", "lon"), 1)


def test_latitude_and_longitude_are_not_read_in_a_projected_system(
    tmp_path: Path, empty: Trail
) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon\nA1,42.6,-77.9\n")
    with pytest.raises(Refused, match="columns x and y, or geometry, got columns box, lat, lon"):
        brought("boxes", source, empty, crs="EPSG:32618")


@pytest.mark.parametrize(
    ("lat", "lon", "expected"),
    [
        ("-77.9", "42.6", "near the time zone America/New_York; latitude and longitude look"),
        ("-97.9", "32.6", "latitude and longitude look swapped"),
        ("77.9 W", "42.6 N", "latitude and longitude look swapped"),
        ("4717000", "262000", "to be told their reference system"),
        ("0", "0", "stands for a missing place"),
        ("", "-77.9", "a place, got ''"),
        ("?", "-77.9", r"a place, got '\?'"),
    ],
)
def test_a_place_that_cannot_be_is_refused(
    tmp_path: Path, empty: Trail, lat: str, lon: str, expected: str
) -> None:
    source = written(tmp_path / "b.csv", f"box,lat,lon\nA1,{lat},{lon}\n")
    with pytest.raises(Refused, match=expected):
        brought("boxes", source, empty)


def test_swapped_coordinates_are_told_against_the_boxes_of_the_trail(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon\nN1,42.62,-77.95\nN2,-77.95,42.62\n")
    with pytest.raises(Refused, match="near the boxes of this trail; latitude") as caught:
        brought("boxes", source, trail)
    assert [(fault.row, fault.column) for fault in caught.value.faults] == [(3, "lat, lon")]


def test_a_box_brought_again_adds_nothing_and_blank_cells_say_nothing(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon,section,note\nA1,42.6,-77.9,,\n")
    before = content(trail)
    done = brought("boxes", source, trail)
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
        brought("boxes", source, trail)
    assert [fault.came for fault in caught.value.faults] == [
        "section 'Hill' instead of 'Pond Meadow', hole_mm 38.0 instead of blank",
        "a place 11.1 m away",
    ]
    assert content(trail) == before


def test_two_boxes_of_one_id_in_a_file_are_refused(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon\nA1,42.6,-77.9\nA1,42.7,-77.9\n")
    with pytest.raises(Refused, match=having("got 'A1', as in row 2 in b.csv row 3, column box")):
        brought("boxes", source, empty)


def test_boxes_at_one_place_are_noted_not_refused(tmp_path: Path, trail: Trail) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon\nN1,42.6,-77.9\nN2,42.6,-77.95\nN3,42.600005,-77.95\nN4,42.6,-77.96\n",
    )
    done = brought("boxes", source, trail)
    assert done.added == 4
    assert done.notes[1:] == (
        "boxes A1 and N1 stand within 1 m of each other",
        "boxes N2 and N3 stand within 1 m of each other",
    )


def test_two_boxes_that_are_a_pair_may_stand_together_without_a_note(
    tmp_path: Path, trail: Trail
) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon,pair\nN1,42.6,-77.9,A1\nN2,42.6,-77.95,N3\nN3,42.6,-77.95,\n",
    )
    assert brought("boxes", source, trail).notes == ("encoding utf-8-sig, delimiter ,",)


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
        brought("boxes", source, trail)
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
        brought("boxes", source, empty)


def test_one_measure_in_two_columns_and_a_box_removed_before_it_stood_are_refused(
    tmp_path: Path, empty: Trail
) -> None:
    source = written(
        tmp_path / "b.csv",
        "box,lat,lon,hole_mm,hole_in,installed_on,removed_on\n"
        "A1,42.6,-77.9,38,1.5,2024-05-01,2024-04-01\n",
    )
    with pytest.raises(Refused) as caught:
        brought("boxes", source, empty)
    assert [str(fault).split(" in b.csv")[0] for fault in caught.value.faults] == [
        "Expected one column of a measure, got hole_mm, hole_in",
        "Expected a day from 2024-05-01 on, when it was installed, got 2024-04-01",
    ]


def test_a_box_that_will_be_installed_may_be_planned(tmp_path: Path, empty: Trail) -> None:
    source = written(tmp_path / "b.csv", "box,lat,lon,installed_on\nA1,42.6,-77.9,2027-03-01\n")
    assert brought("boxes", source, empty).added == 1


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


POINT = shapely.Point(-77.9, 42.6)


@pytest.mark.parametrize("suffix", [".geojson", ".gpkg", ".shp", ".zip"])
def test_boxes_come_from_every_vector_format(tmp_path: Path, empty: Trail, suffix: str) -> None:
    path = tmp_path / f"sites{'.shp' if suffix == '.zip' else suffix}"
    vector_files.by_gdal(
        path,
        [POINT, shapely.Point(-77.91, 42.6)],
        box=["A1", "A2"],
        hole_mm=[38.5, None],
        installed_on=["2024-05-14", None],
        section=["Früh", None],
        ranger=["Ann", None],
    )
    if suffix == ".zip":
        path = vector_files.zipped(path, folder="a folder/")
    done = brought("boxes", path, empty)
    assert (done.added, done.ignored) == (2, ("ranger",))
    one, two = empty.boxes().to_dict("records")
    assert (one["box"], one["hole_mm"], one["installed_on"], one["section"]) == (
        "A1",
        38.5,
        "2024-05-14",
        "Früh",
    )
    assert two["section"] is None
    assert one["geometry"] == POINT
    assert brought("boxes", path, empty).already_there == 2


def test_boxes_of_a_projected_vector_file_are_turned(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.by_gdal(
        tmp_path / "b.gpkg", [shapely.Point(EAST, NORTH)], crs="EPSG:32618", box=["A1"]
    )
    brought("boxes", path, empty)
    point = empty.boxes().geometry[0]
    assert (point.x, point.y) == pytest.approx((-77.9, 42.6), abs=1e-9)


def test_a_shapefile_that_states_no_system_is_asked_for_it(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.by_gdal(
        tmp_path / "b.shp", [shapely.Point(EAST, NORTH)], crs=None, box=["A1"]
    )
    with pytest.raises(
        Refused, match="reference system, like crs EPSG:27700, got a file that does"
    ):
        brought("boxes", path, empty)
    assert brought("boxes", path, empty, crs="EPSG:32618").added == 1


def test_a_told_system_goes_before_the_stated_one_and_is_noted(
    tmp_path: Path, empty: Trail
) -> None:
    point = {"type": "Point", "coordinates": [EAST, NORTH]}
    path = vector_files.geojson(tmp_path / "b.geojson", ({"box": "A1"}, point))
    with pytest.raises(Refused, match="a reference system to be told"):
        brought("boxes", path, empty)
    notes = brought("boxes", path, empty, crs="EPSG:32618").notes
    assert notes[0] == "read as WGS 84 / UTM zone 18N, as told; the file states WGS 84"


def test_waypoints_are_boxes_by_their_names(tmp_path: Path, empty: Trail) -> None:
    points = [
        vector_files.waypoint("A1", -77.9, 42.6, "<desc>by the gate</desc><sym>Flag</sym>"),
        vector_files.waypoint("A2", -77.91, 42.6, "<ele>212.5</ele>"),
    ]
    source = written(tmp_path / "w.gpx", vector_files.GPX.format("".join(points)))
    done = brought("boxes", source, empty)
    assert (done.added, done.columns["box"]) == (2, "name")
    assert sorted(done.ignored) == ["ele", "sym"]
    assert empty.boxes()["note"].tolist() == ["by the gate", None]


def test_placemarks_are_boxes_by_their_names_and_unread_data_is_told(
    tmp_path: Path, empty: Trail
) -> None:
    mark = (
        "<Folder><name>{0}</name><Placemark><name>{0}</name>{1}"
        "<Point><coordinates>-77.9,42.{2}</coordinates></Point></Placemark></Folder>"
    )
    data = '<ExtendedData><Data name="hole_mm"><value>38</value></Data></ExtendedData>'
    text = vector_files.KML.format(mark.format("A1", data, 6) + mark.format("A2", "", 7))
    done = brought("boxes", written(tmp_path / "b.kml", text), empty)
    assert (done.added, done.ignored) == (2, ("ExtendedData",))


def test_a_waypoint_without_a_name_is_a_fault(tmp_path: Path, empty: Trail) -> None:
    text = vector_files.GPX.format('<wpt lat="42.6" lon="-77.9"/>')
    with pytest.raises(Refused, match=having("the id of a box, got nothing in w.gpx row 1")):
        brought("boxes", written(tmp_path / "w.gpx", text), empty)


def test_ids_that_are_numbers_here_and_text_there_are_read(tmp_path: Path, empty: Trail) -> None:
    point = {"type": "Point", "coordinates": [-77.9, 42.6]}
    near = {"type": "Point", "coordinates": [-77.91, 42.6]}
    path = vector_files.geojson(
        tmp_path / "b.geojson", ({"box": 7}, point), ({"box": "7b", "guards": ["cone"]}, near)
    )
    assert brought("boxes", path, empty).added == 2
    boxes = empty.boxes()
    assert boxes["box"].tolist() == ["7", "7b"]
    assert boxes["guards"].tolist() == [None, "cone"]


@pytest.mark.parametrize(
    ("geometry", "came"),
    [
        ({"type": "MultiPoint", "coordinates": [5]}, "whose coordinates are no lists"),
        ({"type": "Point", "coordinates": 5}, "whose coordinates are no lists"),
        ({"type": "Point", "coordinates": ["west", "north"]}, "Expected a point"),
        ({"type": "Point"}, "an empty Point"),
        ({}, "a None"),
    ],
)
def test_unsound_geometry_in_a_file_of_mixed_columns_is_a_fault(
    tmp_path: Path, empty: Trail, geometry: dict[str, object], came: str
) -> None:
    point = {"type": "Point", "coordinates": [-77.9, 42.6]}
    path = vector_files.geojson(
        tmp_path / "b.geojson", ({"box": 7}, point), ({"box": "7b"}, geometry)
    )
    with pytest.raises(Refused, match=came) as caught:
        brought("boxes", path, empty)
    assert [fault.row for fault in caught.value.faults] == [2]


def test_a_trail_file_is_a_file_of_boxes_too(tmp_path: Path, trail: Trail, empty: Trail) -> None:
    # The live file, as another process would read it.
    done = brought("boxes", trail.path, empty)
    assert done.added == 3
    assert empty.boxes()["section"].tolist() == ["Pond Meadow"] * 3
    assert trail.rows("PRAGMA integrity_check") == [("ok",)]


def test_shapes_of_another_kind_and_missing_ones_are_faults(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.geojson(
        tmp_path / "b.geojson",
        ({"box": "A1"}, {"type": "LineString", "coordinates": [[-77.9, 42.6], [-77.8, 42.6]]}),
        ({"box": "A2"}, None),
        ({"box": "A3"}, {"type": "MultiPoint", "coordinates": [[-77.9, 42.6], [-77.8, 42.6]]}),
        ({"box": "A4"}, {"type": "MultiPoint", "coordinates": [[-77.9, 42.6]]}),
    )
    with pytest.raises(Refused) as caught:
        brought("boxes", path, empty)
    assert [(fault.row, fault.came) for fault in caught.value.faults] == [
        (1, "a LineString"),
        (2, "no shape"),
        (3, "2 points"),
    ]


def test_warnings_of_libraries_do_not_reach_the_caller(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.by_gdal(tmp_path / "b.shp", [POINT], box=["A1"])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert brought("boxes", path, empty).added == 1
