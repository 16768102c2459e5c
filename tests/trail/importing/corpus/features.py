"""Thirty-two files of boxes and twenty of paths: tables, tracks and files of a GIS."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import shapely
from pyproj import Transformer

from tests.trail.importing.book_files import ods, xls
from tests.trail.importing.corpus.files import Made, Rows
from tests.trail.importing.corpus.keepers import LANGUAGES, Language
from tests.trail.importing.vector_files import GPX, KML, by_gdal, segment, waypoint, zipped

LON, LAT = -77.9, 42.6
HEADS = {
    "en": ("Box #", "Lat", "Long", "Area", "Hole (mm)", "Comments", "Coordinates", "Height"),
    "de": (
        "Kasten Nr.",
        "Breite",
        "Länge",
        "Gebiet",
        "Einflugloch (mm)",
        "Bemerkung",
        "Koordinaten",
    ),
    "es": ("N.º de caja", "Latitud", "Longitud", "Zona", "Entrada mm", "Notas", "Coordenadas"),
    "fr": ("Nichoir n°", "Latitude", "Longitude", "Secteur", "Trou mm", "Remarques", "Coordonnées"),
    "nl": (
        "Nestkast",
        "Breedtegraad",
        "Lengtegraad",
        "Gebied",
        "Vlieggat mm",
        "Opmerking",
        "Coördinaten",
    ),
}
AREAS = ("Mill Wood", "Long Meadow")
_TO_UTM = Transformer.from_crs("EPSG:4326", "EPSG:32618", always_xy=True)
Cells = dict[str, Any]


def places(seed: int, count: int = 8) -> list[Cells]:
    """True boxes."""
    rng = random.Random(seed)
    return [
        {
            "box": str(number),
            "lat": round(LAT + rng.uniform(0, 0.01), 6),
            "lon": round(LON + rng.uniform(0, 0.01), 6),
            "section": AREAS[number % 2],
            "hole_mm": float(rng.choice((32, 38, 45))),
            "note": rng.choice((None, "oak", "needs a guard")),
        }
        for number in range(1, count + 1)
    ]


def _shown(found: Sequence[Cells], *names: str) -> list[Cells]:
    return [
        {n: one[n] for n in ("box", "lat", "lon", *names) if one[n] is not None} for one in found
    ]


def _row(one: Cells, lat: object, lon: object) -> list[Any]:
    return [one["box"], lat, lon, one["section"], one["hole_mm"], one["note"] or ""]


def _text(name: str, language: Language, rows: Rows, truth: list[Cells], **more: Any) -> Made:
    return Made(
        f"{name}-{language.name}",
        name,
        {"": rows},
        truth,
        delimiter=language.delimiter,
        encoding=language.encoding,
        **more,
    )


_ALL = ("section", "hole_mm", "note")


def plain(language: Language, seed: int) -> Made:
    """A header of the keeper's own; decimal commas where the language has them."""
    found = places(seed)
    comma = language.delimiter == ";"
    rows: Rows = [list(HEADS[language.name][:6])]
    for one in found:
        at = [f"{one[n]:.6f}".replace(".", "," if comma else ".") for n in ("lat", "lon")]
        rows.append(_row(one, *at))
    return _text("boxes plain", language, rows, _shown(found, *_ALL))


def titled(language: Language, seed: int) -> Made:
    """Title lines, lines of their own for each area, a sum, and a remark below."""
    found = sorted(places(seed), key=lambda one: str(one["section"]))
    rows: Rows = [["Alderbeck, invented"], ["Ann 2026"], [], list(HEADS[language.name][:6])]
    rows += [_row(one, one["lat"], one["lon"]) for one in found]
    rows += [[], [language.total, len(found)], ["* the ladder is in the barn"]]
    return _text("boxes titled", language, rows, _shown(found, *_ALL))


def in_one_cell(language: Language, seed: int) -> Made:
    """Latitude and longitude in one cell, as a map program copies them."""
    found = places(seed)
    head = HEADS[language.name]
    rows: Rows = [[head[0], head[6], head[3]]]
    rows += [[one["box"], f"{one['lat']}, {one['lon']}", one["section"]] for one in found]
    return _text("boxes in one cell", language, rows, _shown(found, "section"))


def _minutes(degrees: float, sides: str) -> str:
    size = abs(degrees)
    minutes = (size - int(size)) * 60
    return f"{int(size)}° {minutes:.4f}' {sides[degrees < 0]}"


def minutes(language: Language, seed: int) -> Made:
    """Degrees and minutes, as a receiver shows them."""
    found = places(seed)
    rows: Rows = [list(HEADS[language.name][:6])]
    rows += [_row(one, _minutes(one["lat"], "NS"), _minutes(one["lon"], "EW")) for one in found]
    return _text("boxes minutes", language, rows, _shown(found, *_ALL))


def projected(language: Language, seed: int) -> Made:
    """Eastings and northings without a word on their system: one question."""
    found = places(seed)
    east, north = {"de": ("Rechtswert", "Hochwert")}.get(language.name, ("UTM E", "UTM N"))
    rows: Rows = [[HEADS[language.name][0], east, north]]
    for one in found:
        x, y = _TO_UTM.transform(one["lon"], one["lat"])
        rows.append([one["box"], f"{x:.2f}", f"{y:.2f}"])
    answers = {"columns": {"reference system": "EPSG:32618"}}
    return _text("boxes projected", language, rows, _shown(found), answers=answers)


def odd_places(language: Language, seed: int) -> Made:
    """A forgotten minus, and a hole without a unit: two questions."""
    found = places(seed)
    head = HEADS[language.name]
    rows: Rows = [[head[0], head[1], head[2], "Hole"]]
    for number, one in enumerate(found):
        rows.append(
            [one["box"], one["lat"], -one["lon"] if number == 3 else one["lon"], one["hole_mm"]]
        )
    answers = {"columns": {"Hole": "hole_mm"}, "places": {"far away": "leave out"}}
    truth = _shown([one for number, one in enumerate(found) if number != 3], "hole_mm")
    return _text("boxes odd", language, rows, truth, answers=answers)


def _waypoints(found: Sequence[Cells], language: Language) -> list[tuple[str, float, float]]:
    parking = {"en": "PARKING", "de": "Parkplatz", "nl": "Parkeerplaats"}.get(language.name, "Gate")
    named = [(language.of_box(one["box"]), one["lon"], one["lat"]) for one in found]
    return [*named, (parking, LON, LAT)]


def _named(found: Sequence[Cells], language: Language) -> list[Cells]:
    return [one | {"box": language.of_box(one["box"])} for one in _shown(found)]


def waypoints(language: Language, seed: int) -> Made:
    """A receiver's waypoints, one of them no box: one question."""
    found = places(seed)
    points = _waypoints(found, language)
    text = GPX.format("".join(waypoint(*one, "<sym>Flag</sym>") for one in points))
    answers = {"waypoints": {points[-1][0]: "start"}}
    name = f"waypoints-{language.name}.gpx"
    made = Made(name, "waypoints", {}, _named(found, language), answers=answers)
    return replace(made, content=text.encode())


def placemarks(language: Language, seed: int) -> Made:
    """Placemarks in folders."""
    found = places(seed)
    marks = "".join(
        f"<Placemark><name>{language.of_box(one['box'])}</name><Point><coordinates>{one['lon']},"
        f"{one['lat']},0</coordinates></Point></Placemark>"
        for one in found
    )
    text = KML.format(f"<Folder><name>Boxes</name>{marks}</Folder>")
    name, content = f"marks-{language.name}.kml", text.encode()
    if language.name == "de":
        name, content = f"marks-{language.name}.kmz", _zip("doc.kml", content)
    return Made(name, "placemarks", {}, _named(found, language), content=content)


def _zip(name: str, content: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr(name, content)
    return held.getvalue()


def of_a_gis(folder: Path, suffix: str, seed: int) -> Made:
    """Points with columns, as a desktop GIS saves them."""
    found = places(seed)
    points = [shapely.Point(one["lon"], one["lat"]) for one in found]
    path = by_gdal(
        folder / f"sites-made{suffix.replace('.zip', '.shp')}",
        points,
        box=[one["box"] for one in found],
        section=[one["section"] for one in found],
        hole_mm=[one["hole_mm"] for one in found],
        note=[one["note"] for one in found],
    )
    path = zipped(path) if suffix == ".zip" else path
    truth = _shown(found, *_ALL)
    return Made(f"sites{suffix}", "of a GIS", {}, truth, content=path.read_bytes())


def spreadsheet(suffix: str, seed: int) -> Made:
    """A workbook with a title merged across the columns, or a sheet of an office program."""
    found = places(seed)
    rows: Rows = [["Boxes of the Alderbeck"], list(HEADS["en"][:6])]
    rows += [_row(one, one["lat"], one["lon"]) for one in found]
    if suffix == ".ods":
        content = ods({"Sheet1": rows})
    elif suffix == ".xls":
        content = xls({"Sheet1": rows})
    else:
        book = openpyxl.Workbook()
        for row in rows:
            book.worksheets[0].append(row)
        book.worksheets[0].merge_cells("A1:F1")
        held = io.BytesIO()
        book.save(held)
        content = held.getvalue()
    return Made(f"sheet{suffix}", "spreadsheet", {}, _shown(found, *_ALL), content=content)


def box_files(folder: Path) -> Iterator[Made]:
    """Thirty-two files of boxes in eleven layouts."""
    of = {language.name: language for language in LANGUAGES}
    for at, language in enumerate(LANGUAGES):
        yield plain(language, at)
        yield titled(language, 10 + at)
    for at, name in enumerate(("en", "fr", "nl", "es")):
        yield in_one_cell(of[name], 20 + at)
    yield from (minutes(of[name], 30) for name in ("en", "es"))
    yield from (projected(of[name], 40) for name in ("de", "en"))
    yield from (odd_places(of[name], 50) for name in ("en", "fr"))
    yield from (waypoints(of[name], 60) for name in ("en", "de", "nl"))
    yield from (placemarks(of[name], 70) for name in ("en", "de"))
    for at, suffix in enumerate((".geojson", ".zip", ".fgb", ".parquet")):
        yield of_a_gis(folder, suffix, 80 + at)
    yield from (spreadsheet(suffix, 90) for suffix in (".xlsx", ".ods", ".xls"))


def lines(seed: int, count: int = 3) -> list[Cells]:
    """True paths."""
    rng = random.Random(seed)
    return [
        {
            "name": f"{('Lane', 'Ride', 'Bank')[number % 3]} {number + 1}",
            "kind": ("footpath", "track")[number % 2],
            "line": [
                (round(LON + 0.001 * at, 6), round(LAT + rng.uniform(0, 0.005), 6))
                for at in range(number, number + 6)
            ],
        }
        for number in range(count)
    ]


PATH_HEADS = {
    "en": ("Path", "Type", "WKT"),
    "de": ("Weg", "Art", "Geometrie"),
    "es": ("Sendero", "Tipo", "Geometria"),
    "fr": ("Sentier", "Type", "Geometrie"),
    "nl": ("Pad", "Soort", "WKT"),
}


def path_table(language: Language, seed: int) -> Made:
    """Lines as well-known text, below a title."""
    found = lines(seed)
    rows: Rows = [["Paths 2026"], [], list(PATH_HEADS[language.name])]
    rows += [[one["name"], one["kind"], shapely.LineString(one["line"]).wkt] for one in found]
    made = _text("paths", language, rows, found)
    return replace(made, delimiter=";", encoding="utf-8")


def _track(one: Cells, *more: str, line: Sequence[Sequence[float]] | None = None) -> str:
    kept = segment(*(line or one["line"]))
    return f"<trk><name>{one['name']}</name>{kept}{''.join(more)}</trk>"


def tracks(name: str, seed: int) -> Made:
    """Tracks as a receiver writes them, with what goes wrong on a walk."""
    found = lines(seed)
    first, *rest = found
    line = list(first["line"])
    odd: list[Sequence[float]] = []
    answers = {}
    if name == "zero":
        odd = [*line[:3], (0, 0), *line[3:]]
    elif name == "leap":
        odd = [*line[:3], (line[2][0] + 2, line[2][1]), *line[3:]]
    elif name == "heights":
        odd = [(*line[0], 300.0), *((*vertex, -9999.0) for vertex in line[1:])]
    one_point = segment((LON, LAT)) if name == "pauses" else ""
    text = "".join((_track(first, one_point, line=odd or None), *map(_track, rest)))
    if name == "switched on":
        text += _track({"name": "Nothing", "line": [(LON, LAT)]})
    if odd:
        answers = {"shapes": {"wrong vertices": "without them"}}
    truth = [{"name": one["name"], "line": one["line"]} for one in found]
    content = GPX.format(text).encode()
    return Made(
        f"{name}-{seed}.gpx", f"tracks, {name}", {}, truth, answers=answers, content=content
    )


def drawn(suffix: str, seed: int) -> Made:
    """Lines drawn on a map."""
    found = lines(seed)
    marks = "".join(
        f"<Placemark><name>{one['name']}</name><LineString><coordinates>"
        f"{' '.join(f'{lon},{lat}' for lon, lat in one['line'])}</coordinates></LineString>"
        "</Placemark>"
        for one in found
    )
    content = KML.format(marks).encode()
    content = _zip("doc.kml", content) if suffix == ".kmz" else content
    truth = [{"name": one["name"], "line": one["line"]} for one in found]
    return Made(f"drawn{suffix}", "drawn", {}, truth, content=content)


def paths_of_a_gis(folder: Path, suffix: str, seed: int) -> Made:
    """Lines with columns, as a desktop GIS saves them."""
    found = lines(seed)
    shapes = [shapely.LineString(one["line"]) for one in found]
    path = by_gdal(
        folder / f"ways-made{suffix.replace('.zip', '.shp')}",
        shapes,
        name=[one["name"] for one in found],
        kind=[one["kind"] for one in found],
    )
    path = zipped(path) if suffix == ".zip" else path
    return Made(f"ways{suffix}", "paths of a GIS", {}, found, content=path.read_bytes())


def path_files(folder: Path) -> Iterator[Made]:
    """Twenty-one files of paths in five layouts."""
    for at, language in enumerate(LANGUAGES):
        yield path_table(language, at)
    for name in ("plain", "zero", "leap", "heights", "pauses", "switched on"):
        yield tracks(name, 20)
    yield from (tracks("plain", seed) for seed in (31, 32, 33))
    yield from (drawn(suffix, 40) for suffix in (".kml", ".kmz"))
    for at, suffix in enumerate((".geojson", ".zip", ".fgb", ".gpkg", ".parquet")):
        yield paths_of_a_gis(folder, suffix, 50 + at)
