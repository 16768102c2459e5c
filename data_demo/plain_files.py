"""The demo as a keeper's own files before she has a trail file: CSV and GPX."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from gpxpy.gpx import GPX, GPXTrack, GPXTrackPoint, GPXTrackSegment

from data_demo.demo import TIMEZONE, Demo
from data_demo.records import Row

_BOX_COLUMNS = (
    *("box", "name", "section", "latitude", "longitude", "hole_mm", "floor_mm", "depth_mm"),
    *("height_m", "facing_deg", "mount", "guards", "opens", "pair", "habitat", "installed_on"),
    *("removed_on", "note"),
)
_VISIT_COLUMNS = (
    *("box", "date", "time", "observer", "species", "nest", "eggs", "eggs_warm", "young"),
    *("young_days", "dead_young", "adult", "signs", "actions", "opened", "note"),
)


def write_plain_files(demo: Demo, folder: Path, *, year: int) -> list[Path]:
    """Write `boxes.csv`, `visits-YEAR.csv` and `paths.gpx`; the files written.

    Visits are as they stand after all corrections, with local times.
    """
    folder.mkdir(parents=True, exist_ok=True)
    boxes, visits, paths = (
        folder / name for name in ("boxes.csv", f"visits-{year}.csv", "paths.gpx")
    )
    _write_csv(boxes, _BOX_COLUMNS, (_box(row) for row in demo.reserve.boxes))
    replaced = {row["replaces"] for row in demo.visits()}
    kept = [
        row
        for row in demo.visits()
        if row["seen_on"].year == year and row["visit_id"] not in replaced
    ]
    kept.sort(key=lambda row: (row["seen_on"], row["box"]))
    _write_csv(visits, _VISIT_COLUMNS, (_visit(row) for row in kept))
    _write_tracks(paths, demo.reserve.paths)
    return [boxes, visits, paths]


def _box(row: Row) -> Row:
    return row | {"latitude": row["geometry"].y, "longitude": row["geometry"].x}


def _visit(row: Row) -> Row:
    seen_at = row["seen_at"]
    local = None if seen_at is None else seen_at.astimezone(ZoneInfo(TIMEZONE))
    return row | {"date": row["seen_on"], "time": local and local.strftime("%H:%M")}


def _write_csv(path: Path, columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)


def _write_tracks(path: Path, rows: Iterable[Row]) -> None:
    """Paths as GPX tracks with heights; a track knows a name and a type, no level."""
    gpx = GPX()
    for row in rows:
        points = [GPXTrackPoint(lat, lon, height) for lon, lat, height in row["geometry"].coords]
        track = GPXTrack(name=row["name"])
        track.type = row["kind"]
        track.segments = [GPXTrackSegment(points)]
        gpx.tracks.append(track)
    path.write_text(gpx.to_xml(), encoding="utf-8")
