"""A Darwin Core Archive: events as the core, occurrences as its extension.

After the Darwin Core text guide and terms (TDWG, https://dwc.tdwg.org/text/ and
https://dwc.tdwg.org/list/) and the Ecological Metadata Language 2.2.0
(https://eml.ecoinformatics.org).
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree.ElementTree import Element, tostring

from layers.trail.exporting.collection import Box
from layers.trail.exporting.xml_text import child, plain

TERMS = "http://rs.tdwg.org/dwc/terms/"

EVENT_TERMS = (
    *("eventID", "parentEventID", "eventType", "datasetID", "datasetName", "license", "eventDate"),
    *("samplingProtocol", "samplingEffort", "sampleSizeValue", "sampleSizeUnit", "eventRemarks"),
    *("locationID", "locality", "habitat", "decimalLatitude", "decimalLongitude", "geodeticDatum"),
    *("coordinateUncertaintyInMeters", "coordinatePrecision", "footprintWKT"),
    *("dataGeneralizations", "informationWithheld", "dynamicProperties"),
)
OCCURRENCE_TERMS = (
    *("eventID", "occurrenceID", "basisOfRecord", "occurrenceStatus", "scientificName"),
    *("vernacularName", "individualCount", "lifeStage", "vitality", "behavior"),
    *("reproductiveCondition", "recordedBy"),
)

MEASUREMENT_TERMS = (
    "eventID",
    "measurementID",
    "measurementType",
    "measurementValue",
    "measurementUnit",
    "measurementMethod",
)
VISIT_EVENT = "siteVisit"
BOX_EVENT = "nest box"
"""Types of events in which `dynamicProperties` holds all that the trail stores."""

NOT_DARWIN_CORE = {"license": "http://purl.org/dc/terms/license"}
"""Terms that Darwin Core takes from Dublin Core."""

Term = str
Cells = Mapping[Term, object]
_EML = "https://eml.ecoinformatics.org/eml-2.2.0"
_BLANKS = str.maketrans({"\r": " ", "\n": " ", "\t": " "})


@dataclass(frozen=True)
class About:
    """What the archive says of itself.

    `first` and `last` are ISO days or months, None where there is no event.
    """

    identifier: str
    title: str
    statement: str
    licence: str | None
    published_on: str  # ISO day
    bounds: Box | None
    first: str | None
    last: str | None
    methods: Sequence[str]


def write_archive(
    path: Path,
    about: About,
    *,
    events: Iterable[Cells],
    occurrences: Iterable[Cells],
    measurements: Iterable[Cells] = (),
) -> None:
    """Write the archive; a term that a row lacks is left empty.

    Parameters
    ----------
    events, occurrences, measurements
        Rows by term; each occurrence and measurement names an event by its `eventID`.
    """
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("meta.xml", _meta())
        archive.writestr("eml.xml", _eml(about))
        for name, terms, rows in (
            ("event.csv", EVENT_TERMS, events),
            ("occurrence.csv", OCCURRENCE_TERMS, occurrences),
            ("measurement.csv", MEASUREMENT_TERMS, measurements),
        ):
            with archive.open(name, "w") as raw, io.TextIOWrapper(raw, "utf-8", newline="") as file:
                writer = csv.writer(file, lineterminator="\n")
                writer.writerow(terms)
                writer.writerows([_cell(row.get(term)) for term in terms] for row in rows)


def _cell(value: object) -> str:
    # Readers split the file at line ends before they look at quotes.
    return "" if value is None else str(value).translate(_BLANKS)


def _meta() -> str:
    root = Element("archive", xmlns="http://rs.tdwg.org/dwc/text/", metadata="eml.xml")
    for tag, name, row_type, terms in (
        ("core", "event.csv", "Event", EVENT_TERMS),
        ("extension", "occurrence.csv", "Occurrence", OCCURRENCE_TERMS),
        ("extension", "measurement.csv", "MeasurementOrFact", MEASUREMENT_TERMS),
    ):
        table = child(
            root,
            tag,
            attributes={
                "encoding": "UTF-8",
                "fieldsTerminatedBy": ",",
                "linesTerminatedBy": "\\n",
                "fieldsEnclosedBy": '"',
                "ignoreHeaderLines": "1",
                "rowType": TERMS + row_type,
            },
        )
        child(child(table, "files"), "location", name)
        child(table, "id" if tag == "core" else "coreid", attributes={"index": "0"})
        for index, term in enumerate(terms):
            name_of = NOT_DARWIN_CORE.get(term, TERMS + term)
            child(table, "field", attributes={"index": str(index), "term": name_of})
    return _document(root)


def _eml(about: About) -> str:
    root = Element(
        "eml:eml",
        {
            "xmlns:eml": _EML,
            "packageId": plain(about.identifier),
            "system": "boxround",
            "xml:lang": "en",
        },
    )
    dataset = child(root, "dataset")
    child(dataset, "title", about.title)
    child(child(dataset, "creator"), "organizationName", about.title)
    child(dataset, "pubDate", about.published_on)
    child(dataset, "language", "en")
    child(child(dataset, "abstract"), "para", about.statement)
    if about.licence is not None:
        child(child(dataset, "intellectualRights"), "para", about.licence)
    coverage = child(dataset, "coverage")
    if about.bounds is not None:
        place = child(coverage, "geographicCoverage")
        child(place, "geographicDescription", about.title)
        edges = child(place, "boundingCoordinates")
        west, south, east, north = about.bounds
        for name, edge in (("west", west), ("east", east), ("north", north), ("south", south)):
            child(edges, f"{name}BoundingCoordinate", edge)
    if about.first is not None and about.last is not None:
        dates = child(child(coverage, "temporalCoverage"), "rangeOfDates")
        for tag, day in (("beginDate", about.first), ("endDate", about.last)):
            child(child(dates, tag), "calendarDate", day)
    child(child(dataset, "contact"), "organizationName", about.title)
    methods = child(dataset, "methods")
    for method in about.methods:
        child(child(child(methods, "methodStep"), "description"), "para", method)
    return _document(root)


def _document(root: Element) -> str:
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{tostring(root, encoding="unicode")}\n'
