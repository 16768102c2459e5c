"""Whenever a writer dies, an archive is the old one or the new one, whole."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from layers.pooling.archive import Archive, Pooled
from layers.pooling.manifest import read_manifest
from server.pooling.source import read_trail
from tests.pooling.conftest import NAMES, ON, files_of, rows_of

_KILLED = """
import os, shutil, sys
from pathlib import Path
from layers.pooling import archive as a
from layers.pooling import manifest, parquet

source, what = Path(sys.argv[1]), sys.argv[2]

def dying(at):
    # Ends the process, without another word, at the step of this number on the disk.
    left = [at]
    def step(wrapped):
        def call(*given, **named):
            left[0] -= 1
            if left[0] < 0:
                os._exit(9)
            return wrapped(*given, **named)
        return call
    for owner, name in ((Path, "replace"), (Path, "unlink"), (Path, "write_bytes"),
                        (manifest, "sync"), (parquet, "sync"), (os, "fsync")):
        setattr(owner, name, step(getattr(owner, name)))

for at in range(0, 10_000, 3):
    copy = source.with_name(f"killed-{what[:7]}-{at}")
    shutil.copytree(source, copy)
    child = os.fork()
    if child == 0:
        dying(at)
        a.Archive(copy).compact() if what == "compact" else a.Archive(copy).take_back(what)
        os._exit(0)
    if os.waitpid(child, 0)[1] == 0:
        break
print(at)
"""


@pytest.fixture
def small(made_trails: dict[str, Path], tmp_path: Path) -> Path:
    """An archive of two trails, with one season of visits and no other table."""
    path = tmp_path / "small"
    for name in NAMES[:2]:
        given = read_trail(made_trails[name], release="full", on=ON)
        Archive(path).put(
            [Pooled(given.entry, {key: given.parts[key] for key in (("visits", 2026),)})]
        )
    return path


@pytest.mark.skipif(sys.platform == "win32", reason="needs fork")
@pytest.mark.parametrize("what", ["take back", pytest.param("compact", marks=pytest.mark.long)])
def test_at_whichever_step_a_writer_dies_the_archive_is_the_old_or_the_new(
    small: Path, ids: dict[str, str], what: str
) -> None:
    archive = small
    before, name = rows_of(archive), ids[NAMES[0]]
    after = before if what == "compact" else before - Counter({name: before[name]})
    done = subprocess.run(
        [sys.executable, "-c", _KILLED, str(archive), what if what == "compact" else name],
        capture_output=True,
        text=True,
        check=True,
    )
    steps, seen = int(done.stdout), set()
    assert steps > 5
    for at in range(0, steps + 1, 3):
        killed = archive.with_name(f"killed-{what if what == 'compact' else name[:7]}-{at}")
        found = rows_of(killed)
        assert found in (before, after)
        seen.add(found == after)
        if at % 2 == 1:
            # The next change removes what was left over.
            Archive(killed).compact()
            assert files_of(killed).keys() == {one.file for one in read_manifest(killed).files}
    assert what == "compact" or seen == {True, False}


_REAL = """
import sys
from pathlib import Path
from layers.pooling.archive import Archive
archive = Archive(Path(sys.argv[1]))
print("ready", flush=True)
archive.compact()
archive.take_back(sys.argv[2])
"""


@pytest.mark.long
@pytest.mark.parametrize("after_s", (0.0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5))
def test_a_writer_killed_at_a_moment_leaves_the_old_archive_or_the_new(
    archive: Path, ids: dict[str, str], after_s: float
) -> None:
    before, name = rows_of(archive), ids[NAMES[0]]
    with subprocess.Popen(
        [sys.executable, "-c", _REAL, str(archive), name], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(after_s)
        process.send_signal(signal.SIGKILL)
    assert rows_of(archive) in (before, before - Counter({name: before[name]}))
    Archive(archive).compact()
    assert files_of(archive).keys() == {one.file for one in read_manifest(archive).files}
