"""What goes into a Darwin Core Archive: the team's visits, or the published nests."""

from __future__ import annotations

import calendar
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from itertools import chain
from pathlib import Path
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from layers.publishing.attempts import Measured, PooledAttempt, counts_of
from layers.publishing.identifiers import Identifiers
from layers.publishing.tables import PublicSource
from layers.trail.exporting.collection import TRAIL_ID, Collection, Row, Source
from layers.trail.exporting.darwin import BOX_EVENT, VISIT_EVENT, About, Cells, write_archive
from layers.trail.field import Table
from layers.trail.map_schema import BOXES
from layers.trail.schema import VISITS

Scientific = Callable[[str], str | None]
"""Common name -> scientific name, None where it is not known."""

BIRD = "Aves"
"""The taxon of a bird whose species is not recorded."""

DATUM = "EPSG:4326"
HOW: Mapping[str | None, str] = {
    "yes": "nest box opened and checked",
    "no": "nest box looked at from outside",
    None: "nest box visited",
}
NEST_EVENT = "nesting attempt"
NOT_FOR_ALL = (
    "Not for publication: it shows exact places, observers and nests in use. Ask the keepers of "
    "the trail before you pass any of it on."
)
_ONE_BOX: Cells = MappingProxyType({"sampleSizeValue": 1, "sampleSizeUnit": "nest box"})
READ_INTO_NESTS = "nest boxes visited about once a week, and visits read into nesting attempts"


def write_full_archive(
    path: Path,
    source: Source,
    *,
    scientific: Scientific,
    on: date,
    identifiers: Identifiers,
    attempts: Sequence[PooledAttempt],
) -> None:
    """Every box, nesting attempt and visit as an event at its exact place; what was found as
    occurrences, and what is known of an attempt as measurements.

    The parent of an attempt is its box, that of a visit the attempt that it belongs to, or the
    box. How exactly the places are known is not recorded, so their uncertainty is empty.
    """
    visits, boxes = source.collection("visits"), source.collection("boxes")
    by_box = {row.values["box"]: row for row in _rows(boxes)}
    first, last = _days(visits)
    parents = {visit: one.identifier for one in attempts for visit in one.visit_ids}
    stood = _days_stood(boxes, visits, on=on)
    about = About(
        identifier=identifiers.trail,
        title=source.title,
        statement=source.statement,
        licence=source.licence or NOT_FOR_ALL,
        published_on=on.isoformat(),
        bounds=boxes.bounds,
        first=first,
        last=last,
        methods=tuple(HOW.values()),
    )
    write_archive(
        path,
        about,
        events=(
            {**_of_trail(source), **event}
            for event in chain(
                (_box(row, identifiers, stood) for row in _rows(boxes)),
                (_attempt(one, by_box.get(one.box), identifiers) for one in attempts),
                (_visit(row, by_box, visits.zone, identifiers, parents) for row in _rows(visits)),
            )
        ),
        occurrences=chain(
            (_bird(one, scientific) for one in attempts),
            (occurrence for row in _rows(visits) for occurrence in _found(row, scientific)),
        ),
        measurements=(
            _measurement(one.identifier, measured) for one in attempts for measured in one.measured
        ),
    )


def _of_trail(source: Source) -> dict[str, Any]:
    of_trail = {column.name: value for column, value in source.of_trail}
    return {
        "datasetID": of_trail[TRAIL_ID.name],
        "datasetName": source.title,
        "license": source.licence,
    }


def _measurement(event: str, measured: Measured) -> Cells:
    return {
        "eventID": event,
        "measurementID": f"{event}:{measured.kind}",
        "measurementType": measured.kind,
        "measurementValue": measured.value,
        "measurementUnit": measured.unit,
        "measurementMethod": measured.method,
    }


def _attempt(one: PooledAttempt, box: Row | None, identifiers: Identifiers) -> Cells:
    days = (date.fromisoformat(one.last_seen) - date.fromisoformat(one.first_seen)).days + 1
    return {
        "eventID": one.identifier,
        "parentEventID": identifiers.box(one.box),
        "eventType": NEST_EVENT,
        "eventDate": f"{one.first_seen}/{one.last_seen}",
        "samplingProtocol": READ_INTO_NESTS,
        "samplingEffort": f"{len(one.visit_ids)} visits in {days} days",
        **_ONE_BOX,
        "eventRemarks": f"fate: {one.fate}",
        "locationID": identifiers.box(one.box),
        **_where(one.box, box),
    }


def _where(name: str, box: Row | None) -> dict[str, Any]:
    """The place of a box, which may have none."""
    if box is None:
        return {"locality": name}
    held = box.values
    return {
        "locality": ", ".join(part for part in (name, held["name"], held["section"]) if part),
        "habitat": held["habitat"],
        **_at(box),
    }


def _bird(one: PooledAttempt, scientific: Scientific) -> Cells:
    return {
        "eventID": one.identifier,
        "occurrenceID": f"{one.identifier}:nest",
        "basisOfRecord": "HumanObservation",
        "occurrenceStatus": "detected",
        "reproductiveCondition": "breeding",
        **_taxon(one.species, scientific),
    }


def write_public_archive(path: Path, source: PublicSource, *, scientific: Scientific) -> None:
    """Every published nest as an event at its cell, its birds as occurrences, and the counts that
    are published of it as measurements.
    """
    nests = source.collection("nests")
    months = [row.values["ended"] for row in _rows(nests)]
    about = About(
        identifier=source.view.identifier,
        title=source.title,
        statement=source.statement,
        licence=source.licence,
        published_on=source.view.published_until.isoformat(),
        bounds=source.bounds,
        first=f"{min(months)}-01" if months else None,
        last=_last_day(max(months)) if months else None,
        methods=(READ_INTO_NESTS,),
    )
    write_archive(
        path,
        about,
        events=({**_of_trail(source), **_nest(row, source)} for row in _rows(nests)),
        occurrences=(bird for row in _rows(nests) for bird in _birds_of_nest(row, scientific)),
        measurements=(
            _measurement(str(row.id), measured)
            for row in _rows(nests)
            for measured in counts_of(*(row.values[name] for name in ("eggs", "young", "fledged")))
        ),
    )


def _rows(collection: Collection) -> Iterator[Row]:
    return (row for page in collection.pages() for row in page)


def _days(visits: Collection) -> tuple[str | None, str | None]:
    days = [row.values["seen_on"] for row in _rows(visits)]
    return min(days, default=None), max(days, default=None)


def _last_day(month: str) -> str:
    """EML has years and days, no months."""
    year, number = (int(part) for part in month.split("-"))
    return f"{month}-{calendar.monthrange(year, number)[1]}"


def _visit(
    row: Row,
    boxes: Mapping[str, Row],
    zone: ZoneInfo,
    identifiers: Identifiers,
    parents: Mapping[str, str],
) -> Cells:
    visit = row.values
    moment = visit["seen_at"]
    return {
        "eventID": row.id,
        "parentEventID": parents.get(str(row.id), identifiers.box(visit["box"])),
        "eventType": VISIT_EVENT,
        "eventDate": visit["seen_on"] if moment is None else _local(moment, zone),
        "samplingProtocol": HOW.get(visit["opened"], HOW[None]),
        "samplingEffort": "1 visit",
        **_ONE_BOX,
        "eventRemarks": visit["note"],
        "locationID": identifiers.box(visit["box"]),
        "dynamicProperties": _stored(visit, VISITS),
        **_where(visit["box"], boxes.get(visit["box"])),
    }


def _days_stood(boxes: Collection, visits: Collection, *, on: date) -> Mapping[str, str]:
    """From when until when each box stood, as far as it is known: an interval of ISO days."""
    seen: dict[str, str] = {}
    for row in _rows(visits):
        box, day = row.values["box"], row.values["seen_on"]
        seen[box] = min(day, seen.get(box, day))
    days = {}
    for row in _rows(boxes):
        box, last = row.values, row.values["removed_on"] or on.isoformat()
        first = box["installed_on"] or seen.get(box["box"], last)
        days[box["box"]] = f"{min(first, last)}/{last}"
    return days


def _box(row: Row, identifiers: Identifiers, stood: Mapping[str, str]) -> Cells:
    box = row.values
    return {
        "eventID": identifiers.box(box["box"]),
        "eventType": BOX_EVENT,
        "eventDate": stood[box["box"]],
        "samplingProtocol": READ_INTO_NESTS,
        **_ONE_BOX,
        "locationID": identifiers.box(box["box"]),
        "dynamicProperties": _stored(box, BOXES),
        **_where(box["box"], row),
    }


def _stored(values: Mapping[str, Any], table: Table) -> str:
    """All that the trail stores in a row, as JSON, so that the archive can be imported again."""
    held = {name: values[name] for name in table.columns if values[name] is not None}
    return json.dumps(held, ensure_ascii=False, default=str)


def _local(moment: str, zone: ZoneInfo) -> str:
    return datetime.fromisoformat(moment).astimezone(zone).isoformat(timespec="minutes")


def _at(row: Row) -> Cells:
    if row.shape is None:
        return {}
    return {"decimalLatitude": row.shape.y, "decimalLongitude": row.shape.x, "geodeticDatum": DATUM}


def _taxon(species: str | None, scientific: Scientific) -> Cells:
    named = None if species is None else scientific(species)
    return {"scientificName": named or BIRD, "vernacularName": species}


def _found(row: Row, scientific: Scientific) -> Iterator[Cells]:
    visit = row.values
    shared = {
        "eventID": row.id,
        "basisOfRecord": "HumanObservation",
        "occurrenceStatus": "detected",
        "recordedBy": visit["observer"],
        **_taxon(visit["species"], scientific),
    }
    if visit["adult"] not in (None, "none"):
        yield shared | {
            "occurrenceID": f"{row.id}:adult",
            "lifeStage": "adult",
            "behavior": visit["adult"],
        }
    for column, stage, vitality in (
        ("eggs", "egg", None),
        ("young", "nestling", "alive"),
        ("dead_young", "nestling", "dead"),
    ):
        if visit[column]:
            yield shared | {
                "occurrenceID": f"{row.id}:{column}",
                "individualCount": visit[column],
                "lifeStage": stage,
                "vitality": vitality,
            }


def _nest(row: Row, source: PublicSource) -> Cells:
    cell = source.cell(row.values["cell"])
    return {
        "eventID": row.id,
        "eventType": NEST_EVENT,
        "eventDate": row.values["ended"],
        "samplingProtocol": READ_INTO_NESTS,
        **_ONE_BOX,
        "eventRemarks": f"fate: {row.values['fate']}",
        "locationID": cell.cell,
        "coordinateUncertaintyInMeters": cell.uncertainty_m,
        "coordinatePrecision": cell.size_deg,
        "footprintWKT": cell.footprint.wkt,
        "dataGeneralizations": source.generalised,
        "informationWithheld": source.withheld,
        **_at(row),
    }


def _birds_of_nest(row: Row, scientific: Scientific) -> Iterator[Cells]:
    nest = row.values
    shared = {
        "eventID": row.id,
        "basisOfRecord": "HumanObservation",
        "occurrenceStatus": "detected",
        **_taxon(nest["species"], scientific),
    }
    counted = [(name, nest[name]) for name in ("eggs", "young") if nest[name]]
    for name, count in counted:
        yield shared | {
            "occurrenceID": f"{row.id}:{name}",
            "individualCount": count,
            "lifeStage": {"eggs": "egg", "young": "nestling"}[name],
        }
    if not counted:
        yield shared | {"occurrenceID": f"{row.id}:nest", "reproductiveCondition": "breeding"}
