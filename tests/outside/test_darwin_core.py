"""Darwin Core Archives as python-dwca-reader (BSD) reads them, with terms of the published list."""

from __future__ import annotations

import re
import uuid
import zipfile
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest
import shapely
from dwca.darwincore.terms import TERMS
from dwca.read import DwCAReader

from data_demo.build import build_demo
from layers.trail.exporting import darwin
from layers.trail.store import Trail
from server.command import main

pytestmark = pytest.mark.slow

DWC = "http://rs.tdwg.org/dwc/terms/"

NEWER = {f"{DWC}eventType", f"{DWC}vitality"}
"""Terms younger than the reader's list: github tdwg/dwc @4f1cb23b,
vocabulary/term_versions.csv, 2026-08-15."""

MEASURED = {f"{DWC}measurement{name}" for name in ("ID", "Type", "Value", "Unit", "Method")}
"""Terms of the class MeasurementOrFact, which the reader's list lacks (from memory)."""

REQUIRED = {
    "eventID": "identifies what happened at a place and time, best worldwide",
    "eventType": "the nature of the event",
    "eventDate": "when it was, as ISO 8601-1 has it",
    "datasetID": "identifies the set of data",
    "datasetName": "the name of the set of data",
    "license": "the document that gives permission to use the data",
    "samplingProtocol": "the method used during the event",
    "sampleSizeValue": "how large a sample was, with its unit",
    "sampleSizeUnit": "the unit of that size",
    "locationID": "identifies the place",
    "decimalLatitude": "degrees of latitude",
    "decimalLongitude": "degrees of longitude",
    "geodeticDatum": "the reference system of the coordinates",
    "coordinateUncertaintyInMeters": "radius of the circle that holds the whole place; never 0",
    "dataGeneralizations": "how the data was made less exact than it is known",
    "informationWithheld": "what exists and is not shown",
}
"""Terms of an event, and what they mean in our words: the same file, 2026-08-15 (`license`: Dublin
Core, from memory). Which of them a sampling event needs: common practice of biodiversity
portals, from memory."""

PUBLIC_ONLY = {
    # The trail does not record how exactly a place is known, and full data has no licence.
    *("coordinateUncertaintyInMeters", "license"),
    *("dataGeneralizations", "informationWithheld"),
}

STATUS = {"detected", "notDetected"}
"""Values of occurrenceStatus, from the same file."""


def named(term: str) -> str:
    return darwin.NOT_DARWIN_CORE.get(term, DWC + term)


@pytest.fixture(scope="module")
def trail(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("darwin") / "demo.gpkg"
    build_demo(path)
    return path


@pytest.fixture(scope="module", params=["full", "public"])
def archive(request: pytest.FixtureRequest, trail: Path) -> Path:
    path = trail.with_name(f"{request.param}.zip")
    asked = ["export", str(trail), f"--{request.param}", "-o", str(path), "--on", "2026-06-03"]
    assert main(asked) == 0
    return path


def test_every_id_is_unique_and_no_occurrence_is_an_orphan(archive: Path) -> None:
    with DwCAReader(str(archive)) as read:
        events = list(read)
        ids = Counter(event.data[f"{DWC}eventID"] for event in events)
        extensions = [one for event in events for one in event.extensions]
        occurrences = [one for one in extensions if str(one.rowtype) == f"{DWC}Occurrence"]
        named = Counter(one.data[f"{DWC}occurrenceID"] for one in occurrences)
        assert max(ids.values()) == max(named.values()) == 1
        assert not read.orphaned_extension_rows()["occurrence.csv"]
        assert len(events) > 100
        assert len(occurrences) > 100


def test_every_term_is_on_the_list(archive: Path) -> None:
    with DwCAReader(str(archive)) as read:
        described = [read.descriptor.core, *read.descriptor.extensions]
        used = {str(one["term"]) for part in described for one in part.fields}
        types = {str(part.type) for part in described}
    assert used <= set(TERMS) | NEWER | MEASURED
    assert types == {f"{DWC}Event", f"{DWC}Occurrence", f"{DWC}MeasurementOrFact"}


@pytest.mark.parametrize("term", REQUIRED)
def test_every_event_has_the_terms_that_pooling_needs(archive: Path, term: str) -> None:
    public = archive.name.startswith("public")
    with DwCAReader(str(archive)) as read:
        empty = [event.data[f"{DWC}eventType"] for event in read if not event.data[named(term)]]
    if term in PUBLIC_ONLY and not public:
        assert empty, "the trail does not record it"
    else:
        assert empty == []


def test_times_carry_their_offset_from_utc(trail: Path) -> None:
    path = trail.with_name("times.zip")
    assert main(["export", str(trail), "--full", "-o", str(path)]) == 0
    with Trail.open(trail) as opened:
        timed = {row["visit_id"]: row["seen_at"] for row in opened.visit_rows() if row["seen_at"]}
    with DwCAReader(str(path)) as read:
        dates = {one.data[f"{DWC}eventID"]: one.data[f"{DWC}eventDate"] for one in read}
    assert len(timed) > 100
    for visit, moment in timed.items():
        written = datetime.fromisoformat(dates[visit])
        assert written.utcoffset() in (timedelta(hours=-4), timedelta(hours=-5))
        assert abs(written - datetime.fromisoformat(moment)) < timedelta(minutes=1)


def test_values_are_of_the_vocabularies(archive: Path) -> None:
    with DwCAReader(str(archive)) as read:
        for event in read:
            when = event.data[f"{DWC}eventDate"]
            day = r"\d{4}-\d\d(-\d\d(T\d\d:\d\d[+-]\d\d:\d\d)?)?"
            assert re.fullmatch(rf"{day}(/{day})?", when), when
            located = event.data[f"{DWC}decimalLatitude"] != ""
            assert event.data[f"{DWC}geodeticDatum"] == ("EPSG:4326" if located else "")
            # 0 is no uncertainty; where it is not known the cell is empty.
            assert event.data[f"{DWC}coordinateUncertaintyInMeters"] != "0"
            for one in event.extensions:
                if str(one.rowtype) != f"{DWC}Occurrence":
                    continue
                assert one.data[f"{DWC}occurrenceStatus"] in STATUS
                assert one.data[f"{DWC}basisOfRecord"] == "HumanObservation"
                assert one.data[f"{DWC}scientificName"]


def test_full_archives_hold_every_visit_and_count(trail: Path) -> None:
    path = trail.with_name("counted.zip")
    assert main(["export", str(trail), "--full", "-o", str(path)]) == 0
    with Trail.open(trail) as opened:
        rows = opened.visit_rows()
    with DwCAReader(str(path)) as read:
        events = {
            event.data[f"{DWC}eventID"]: [one.data for one in event.extensions] for event in read
        }
    assert events.keys() >= {row["visit_id"] for row in rows}
    for row in rows:
        found = {
            one[f"{DWC}occurrenceID"].rpartition(":")[2]: one for one in events[row["visit_id"]]
        }
        for column in ("eggs", "young", "dead_young"):
            told = found.get(column, {}).get(f"{DWC}individualCount")
            assert told == (str(row[column]) if row[column] else None)
        assert ("adult" in found) == (row["adult"] not in (None, "none"))


def test_attempts_are_events_with_their_visits_below_and_their_measures_beside(trail: Path) -> None:
    path = trail.with_name("nests.zip")
    assert main(["export", str(trail), "--full", "-o", str(path)]) == 0
    with DwCAReader(str(path)) as read:
        events = {event.data[f"{DWC}eventID"]: event.data for event in read}
        kinds = Counter(
            one.data[f"{DWC}measurementType"]
            for event in read
            for one in event.extensions
            if str(one.rowtype) == f"{DWC}MeasurementOrFact"
        )
    nests = {key for key, event in events.items() if event[f"{DWC}eventType"] == "nesting attempt"}
    boxes = {key for key, event in events.items() if event[f"{DWC}eventType"] == "nest box"}
    assert len(nests) > 30
    assert all(uuid.UUID(key).version == 5 for key in nests | boxes)
    parents = {key: event[f"{DWC}parentEventID"] for key, event in events.items()}
    assert {parents[key] for key in boxes} == {""}
    assert {parents[key] for key in nests} <= boxes
    visits = {parents[key] for key in events.keys() - nests - boxes}
    assert nests < visits <= nests | boxes, "each attempt has visits, which are of it or of a box"
    for key in nests:
        assert events[key][f"{DWC}locationID"] == parents[key]
        assert re.fullmatch(r"\d+ visits in \d+ days", events[key][f"{DWC}samplingEffort"])
    assert kinds["day of first egg"] > 30
    assert {"clutch size (most eggs counted)", "day of hatching"} <= set(kinds)
    assert {event[f"{DWC}datasetName"] for event in events.values()} == {"Alderbeck Reserve"}


def test_public_archives_hold_cells_with_what_was_generalised_and_withheld(trail: Path) -> None:
    path = trail.with_name("told.zip")
    assert main(["export", str(trail), "--public", "-o", str(path), "--on", "2026-06-03"]) == 0
    with DwCAReader(str(path)) as read:
        events = [event.data for event in read]
        extensions = [one.data for event in read for one in event.extensions]
    observers = {one.get(f"{DWC}recordedBy", "") for one in extensions}
    assert observers == {""}
    kinds = {one.get(f"{DWC}measurementType") for one in extensions}
    assert "clutch size (most eggs counted)" in kinds
    with Trail.open(trail) as opened:
        private = str(opened.identity().trail_id), str(opened.identity().secret_id)
    for event in events:
        assert event[f"{DWC}datasetID"] not in ("", *private)
        cell = shapely.from_wkt(event[f"{DWC}footprintWKT"])
        lon, lat = (float(event[f"{DWC}decimal{name}"]) for name in ("Longitude", "Latitude"))
        assert cell.centroid.distance(shapely.Point(lon, lat)) < 1e-9
        assert float(event[f"{DWC}coordinateUncertaintyInMeters"]) > 500
        assert float(event[f"{DWC}coordinatePrecision"]) >= 0.01
        assert "grid square" in event[f"{DWC}dataGeneralizations"]
        assert "Withheld" in event[f"{DWC}informationWithheld"]


def test_line_ends_and_quotes_in_notes_do_not_break_rows(tmp_path: Path) -> None:
    path = tmp_path / "odd.zip"
    about = darwin.About(
        identifier="odd",
        title="A & <b>",
        statement="said",
        licence=None,
        published_on="2026-06-03",
        bounds=None,
        first=None,
        last=None,
        methods=(),
    )
    note = 'one\r\ntwo, "three"\tœ 巣箱'
    darwin.write_archive(
        path,
        about,
        events=[{"eventID": "1", "eventRemarks": note}, {"eventID": "2"}],
        occurrences=[{"eventID": "2", "occurrenceID": "2:eggs"}],
    )
    with DwCAReader(str(path)) as read:
        rows = list(read)
        assert [len(row.extensions) for row in rows] == [0, 1]
        assert rows[0].data[f"{DWC}eventRemarks"] == 'one  two, "three" œ 巣箱'
        assert read.metadata.find("dataset/title").text == "A & <b>"


def test_the_metadata_is_well_formed_and_names_the_terms_of_use(archive: Path) -> None:
    with zipfile.ZipFile(archive) as opened:
        root = ElementTree.fromstring(opened.read("eml.xml"))
    assert root.tag == "{https://eml.ecoinformatics.org/eml-2.2.0}eml"
    assert root.findtext("dataset/title") == "Alderbeck Reserve"
    edges = root.find("dataset/coverage/geographicCoverage/boundingCoordinates")
    assert edges is not None
    west, east, north, south = (float(edge.text or "nan") for edge in edges)
    # A cell of a tenth of a degree at the most lies round each box of the demo.
    assert -78.1 < west < east < -77.7
    assert 42.4 < south < north < 42.8
