"""Vector files by fiona or pyarrow, in a process of its own (see `vector_worker`)."""

from __future__ import annotations

import json
import subprocess
import threading
import time
import zipfile
from collections.abc import Generator, Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import IO, Any, Self

from layers.errors import Fault
from layers.trail.importing.sealed import sealed
from layers.trail.importing.source import Progress, Row, Table, refused
from layers.trail.schema import TABLES

DRIVERS: Mapping[str, str] = MappingProxyType(
    {
        ".gpx": "GPX",
        ".geojson": "GeoJSON",
        ".json": "GeoJSON",
        ".shp": "ESRI Shapefile",
        ".zip": "ESRI Shapefile",
        ".kml": "KML",
        ".kmz": "KML",
        ".fgb": "FlatGeobuf",
        ".gpkg": "GPKG",
        ".parquet": "GeoParquet",
    }
)
"""The one driver that may read a file, by its suffix; no other is let near it."""

NAMES_BOXES = frozenset({".gpx", ".kml", ".kmz"})
"""Formats without columns of their own, where the name of a point is what people fill in."""

_INSIDE: Mapping[str, tuple[str, str]] = MappingProxyType(
    {".zip": (".shp", "shapefile"), ".kmz": (".kml", "KML file")}
)
"""Zipped formats: what the file inside ends with, and its name."""

TIMEOUT_S = 120.0
"""How long the reader may be silent; a sound 200 MB GPX file is silent for about 30 s."""

_MEMORY_BYTES, _PROCESSOR_S = 4 << 30, 600
_WORKER = Path(__file__).with_name("vector_worker.py")
_REPORT_EVERY_ROWS = 500
_WANTED = {"POINT": "Point", "LINESTRING": "LineString", "POLYGON": "Polygon", "": "None"}


@contextmanager
def open_vector(path: Path, *, kind: str, progress: Progress) -> Iterator[Table]:
    """The features of a vector file that fit `kind`, while the block lasts.

    Raises
    ------
    Refused
        The file cannot be read, or holds several layers of which none is the one.
    """
    geometry = TABLES[kind].geometry or ""
    inside = _INSIDE.get(path.suffix.lower())
    source = str(path.absolute()) if inside is None else _inside_zip(path, *inside)
    command = [source, DRIVERS[path.suffix.lower()], kind, _WANTED[geometry]]
    reader = subprocess.Popen(
        [*sealed(_WORKER, memory_bytes=_MEMORY_BYTES, processor_s=_PROCESSOR_S), *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        stdin=subprocess.DEVNULL,
    )
    try:
        with closing(_lines(reader, path.name)) as lines:
            first = next(lines)
            table = Table(
                file=path.name,
                header=tuple(first["header"]),
                rows=iter(()),
                shaped=bool(geometry),
                crs=first["crs"] or None,
            )
            table.rows = _rows(lines, table, first, progress)
            yield table
    finally:
        reader.kill()
        reader.wait()
        assert reader.stdout is not None
        reader.stdout.close()


def _inside_zip(path: Path, ending: str, what: str) -> str:
    expected = f"a zip file that holds one {what}"
    try:
        with zipfile.ZipFile(path) as archive:
            names = [name for name in archive.namelist() if name.lower().endswith(ending)]
    except zipfile.BadZipFile as error:
        raise refused(path.name, expected, "a file that is no zip file") from error
    # Beside each file, some systems put another of its name that holds no content.
    names = [name for name in names if not name.startswith("__MACOSX/") and "/._" not in f"/{name}"]
    if len(names) != 1:
        raise refused(path.name, expected, f"{len(names)} {what}s")
    # Braces, so that another .zip in the path of the folder is not taken for the file.
    return f"/vsizip/{{{path.absolute()}}}/{names[0]}"


def _lines(reader: subprocess.Popen[bytes], file: str) -> Generator[dict[str, Any]]:
    """The messages of the reader, up to its last one."""
    assert reader.stdout is not None
    expected = "a file that can be read"
    with _Watch(reader) as watch:
        while True:
            line = watch.next_line(reader.stdout)
            if watch.timed_out:
                raise refused(file, expected, f"no answer for {TIMEOUT_S:g} seconds")
            if not line.endswith(b"\n"):
                raise refused(file, expected, "one that crashes the library that reads it")
            message: dict[str, Any] = json.loads(line)
            if "expected" in message:
                raise refused(file, message["expected"], message["came"])
            yield message
            if "unread" in message:
                return


class _Watch:
    """Kills a process that lets a reader of its output wait for longer than `TIMEOUT_S`."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.timed_out = False
        self._process = process
        self._waiting_since: float | None = None
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        self._thread.join()

    def next_line(self, stream: IO[bytes]) -> bytes:
        self._waiting_since = time.monotonic()
        line = stream.readline()
        self._waiting_since = None
        return line

    def _watch(self) -> None:
        while not self._done.wait(min(1.0, TIMEOUT_S / 4)):
            since = self._waiting_since
            if since is not None and time.monotonic() - since > TIMEOUT_S:
                self.timed_out = True
                self._process.kill()
                return


def _rows(
    lines: Iterator[dict[str, Any]], table: Table, first: Mapping[str, Any], progress: Progress
) -> Iterator[Row | Fault]:
    total = first["total"] if first["total"] >= 0 else None
    several = len(first["layers"]) > 1
    for done, message in enumerate(lines):
        if done % _REPORT_EVERY_ROWS == 0 or "unread" in message:
            progress(done, total)
        if "unread" in message:
            table.unread += message["unread"]
            return
        file = f"{table.file} ({message['layer']})" if several else table.file
        yield Row(message["row"], file, message["cells"], message["shape"])
