"""GPX files that another reader is tested with: each line that it sees goes in as a path."""

from __future__ import annotations

from pathlib import Path

import gpxpy
import pytest

from layers.errors import BoxroundError
from layers.trail.store import Trail
from layers.walking.network.build import build_network
from layers.walking.network.lines import lines_from
from tests.sampling import one_in
from tests.trail.importing.imports import imported
from tests.trail.importing.ready_readers import Ready

FILES = sorted((Path(__file__).parent / "gpxpy").glob("*.gpx"))


@pytest.mark.parametrize("name", one_in(7, [file.name for file in FILES]))
def test_the_lines_of_a_gpx_file_go_in_as_paths(name: str, empty: Trail, readers: Ready) -> None:
    file = next(file for file in FILES if file.name == name)
    parsed = gpxpy.parse(file.read_bytes())
    runs = [track.segments for track in parsed.tracks]
    lines = [max(len(part.points) for part in run) for run in runs if run]
    lines += [len(route.points) for route in parsed.routes]
    wanted = sum(count > 1 for count in lines)
    if wanted == 0:
        with pytest.raises(BoxroundError, match="Expected rows to add, got none"):
            imported("paths", file, empty, far_is_right=True)
        return
    assert imported("paths", file, empty, far_is_right=True).added == wanted
    paths, unused = lines_from(empty.paths().to_dict("records"))
    assert unused == ()
    assert build_network(paths)[0].edges > 0
