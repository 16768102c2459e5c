"""Sound files of every format, and the same with a few things changed at random."""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import shapely

from layers.trail.importing import Kind
from tests.trail.importing.book_files import ods, xls, xlsx, zip_of
from tests.trail.importing.vector_files import GPX, KML, by_gdal, segment, waypoint, zipped

VISITS = """box,date,time,observer,species,nest,eggs,young,young_days,note
A1,2026-05-14,10:20,Ann,eastern bluebird,lined cup,5,,,ants
A2,2026-05-14,10:30,Ann,tree swallow,,0,4,6,"two, at least"
B1,2026-05-21,,Bea,,loose material,0,0,,
A1,2026-05-21,,Bea,eastern bluebird,,4,1,,warm
"""
MESSY = """Mill Creek 2026;;;;;;

Box #;Checked;Bird;Contents;Temp F;Remarks
Box A1;5/14/26;EABL;5 eggs warm;61;
A2;5/15/26;Tree Swalow;2E 3Y;58;ants
a1;14-May-26;e. bluebird;~4 babies;64;
B1;21 May;;empty;;
Total;;;;;
"""
ACROSS = [
    ["Box", "14 May 2026", "21 May 2026"],
    ["A1", "5 eggs", "4 young ~6 d"],
    ["A2", "empty", "2E 3Y"],
    ["B1", "", "1 egg"],
]
BOXES = """box,latitude,longitude,hole_mm,facing,note
N1,42.6010,-77.9012,38,NE,oak
N2,"42° 36' 5"" N",77 54.1 W,32,90,
N3,42.6031,-77.9000,,,"by the gate, left"
"""
PROJECTED = """box;Easting;Northing
N1;262000,5;4720000
N2;262100;4720100
"""
LINES = """name,kind,geometry
Lane,footpath,"LINESTRING (-77.9 42.6, -77.901 42.601, -77.902 42.6)"
Ride,track,"MULTILINESTRING ((-77.9 42.6, -77.9 42.601), (-77.91 42.6, -77.91 42.601))"
"""
POINTS = [shapely.Point(-77.9, 42.6), shapely.Point(-77.901, 42.601)]
PATHS = [shapely.LineString([(-77.9, 42.6), (-77.901, 42.601), (-77.902, 42.6)])]
ZONES = [shapely.Point(-77.9, 42.6).buffer(0.001, quad_segs=2)]


@dataclass(frozen=True)
class Seed:
    """A sound file, and what it is imported as."""

    name: str
    kind: Kind
    content: bytes
    crs: str | None = None

    @property
    def suffix(self) -> str:
        return Path(self.name).suffix


def seeds(folder: Path) -> list[Seed]:
    """A file of every format and kind."""
    plain: Mapping[tuple[str, Kind], str] = {
        ("visits.csv", "visits"): VISITS,
        ("messy.csv", "visits"): MESSY,
        ("boxes.csv", "boxes"): BOXES,
        ("paths.csv", "paths"): LINES,
        ("boxes.gpx", "boxes"): GPX.format(
            waypoint("N1", -77.9, 42.6, "<ele>300</ele>") + waypoint("PARKING", -77.901, 42.601)
        ),
        ("paths.gpx", "paths"): GPX.format(
            f"<trk><name>Lane</name>{segment((-77.9, 42.6, 300), (-77.901, 42.6, 301))}"
            f"{segment((-77.9, 42.601))}</trk>"
        ),
        ("boxes.kml", "boxes"): KML.format(
            "<Placemark><name>N1</name><Point><coordinates>-77.9,42.6,0</coordinates></Point>"
            "</Placemark>"
        ),
        ("paths.kml", "paths"): KML.format(
            "<Placemark><name>Lane</name><LineString><coordinates>-77.9,42.6 -77.901,42.6"
            "</coordinates></LineString></Placemark>"
        ),
    }
    found = [Seed(name, kind, text.encode()) for (name, kind), text in plain.items()]
    found += [
        Seed("visits.tsv", "visits", VISITS.replace(",", "\t").encode("utf-16")),
        Seed("across.txt", "visits", _lines(ACROSS).encode("cp1252")),
        Seed("projected.csv", "boxes", PROJECTED.encode(), crs="EPSG:32618"),
        Seed("visits.xlsx", "visits", xlsx({"Sheet1": _table(VISITS, ",")})),
        Seed("messy.xlsx", "visits", xlsx({"Sheet1": _table(MESSY, ";")})),
        Seed("boxes.xlsx", "boxes", xlsx({"Sheet1": _table(BOXES, ",")})),
        Seed("boxes.kmz", "boxes", zip_of({"doc.kml": plain["boxes.kml", "boxes"].encode()})),
        Seed("visits.ods", "visits", ods({"Sheet1": _table(VISITS, ",")})),
        Seed("visits.xls", "visits", xls({"Sheet1": _table(VISITS, ",")})),
        Seed("messy.xls", "visits", xls({"Sheet1": _table(MESSY, ";")})),
    ]
    for suffix in (".geojson", ".gpkg", ".fgb", ".parquet"):
        path = by_gdal(folder / f"boxes{suffix}", POINTS, box=["N1", "N2"])
        found.append(Seed(path.name, "boxes", path.read_bytes()))
    shape = zipped(by_gdal(folder / "boxes.shp", POINTS, box=["N1", "N2"]))
    paths = by_gdal(folder / "paths.geojson", PATHS, name=["Lane"], kind=["footpath"])
    zones = by_gdal(folder / "zones.geojson", ZONES, name=["Pond"], kind=["water"])
    found.append(Seed(shape.name, "boxes", shape.read_bytes()))
    found.append(Seed(paths.name, "paths", paths.read_bytes()))
    found.append(Seed(zones.name, "zones", zones.read_bytes()))
    return found


def _table(text: str, delimiter: str) -> list[list[object]]:
    return [
        [int(cell) if cell.isdecimal() else cell for cell in line.split(delimiter)]
        for line in text.splitlines()
    ]


def _lines(rows: list[list[str]]) -> str:
    return "\r\n".join(";".join(row) for row in rows)


_NUMBER = re.compile(rb"\d+(?:\.\d+)?")
_TEXTS = (
    *(b"NaN inf 1e999 -1 0 91 -180.5 9999999999999999999999 1/2/2026 2026-02-30 24:61".split()),
    *(
        b"\0 \xff\xfe \xe2\x80\x8b \xef\xbb\xbf \" ' ; , | \t \r \n < > & ]]> { } [ null".split(
            b" "
        )
    ),
    *(b"=1+1 #N/A #REF! TRUE -9999 A1 a1 \xc3\xa4 \xe4 eggs 5? 3-4 &#0; ../.. %s".split()),
)


def mutated(content: bytes, rng: random.Random) -> bytes:
    """The same with one to four things changed; zipped formats inside, too."""
    if content[:2] == b"PK" and rng.random() < 0.75:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = {name: archive.read(name) for name in archive.namelist()}
        name = rng.choice([name for name in members if members[name]])
        members[name] = mutated(members[name], rng)
        if rng.random() < 0.05:
            del members[rng.choice(list(members))]
        return zip_of(members)
    for _ in range(rng.randint(1, 4)):
        content = rng.choice(_CHANGES)(content, rng)
    return content


def _byte(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) + 1)
    return content[:at] + bytes([rng.randrange(256)]) + content[at + 1 :]


def _cut(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) + 1)
    return content[:at] + content[at + rng.choice((1, 2, 8, 40, 400)) :]


def _repeat(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) + 1)
    return content[: at + rng.choice((1, 8, 60, 400))] + content[at:]


def _insert(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) + 1)
    return content[:at] + rng.choice(_TEXTS) * rng.choice((1, 1, 1, 50)) + content[at:]


def _shorten(content: bytes, rng: random.Random) -> bytes:
    return content[: rng.randrange(len(content) + 1)]


def _number(content: bytes, rng: random.Random) -> bytes:
    places = list(_NUMBER.finditer(content))
    if not places:
        return content
    start, end = rng.choice(places).span()
    return content[:start] + rng.choice(_TEXTS) + content[end:]


def _swap_lines(content: bytes, rng: random.Random) -> bytes:
    lines = content.split(b"\n")
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


_CHANGES: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _byte,
    _cut,
    _repeat,
    _insert,
    _insert,
    _number,
    _number,
    _swap_lines,
    _shorten,
)
