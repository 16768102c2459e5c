"""Compiled code is found again by any installation of the same modules, and by no other; it
releases Python's lock.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ADDING = """
from pathlib import Path
from layers.compiled import Compiler

compiled = Compiler(Path(__file__).parent, ("adding.py",))


@compiled
def add(a, b):
    return a + b


print(add(1, 2), len(add.stats.cache_hits))
"""


def run(folder: Path, cache: Path) -> str:
    words = [sys.executable, str(folder / "adding.py")]
    root = str(Path(__file__).parent.parent)
    surroundings = {**os.environ, "XDG_CACHE_HOME": str(cache), "PYTHONPATH": root}
    return subprocess.check_output(words, env=surroundings, text=True).strip()


def test_a_copy_elsewhere_loads_what_was_compiled_and_other_content_does_not(
    tmp_path: Path,
) -> None:
    first = tmp_path / "first/room"
    first.mkdir(parents=True)
    (first / "adding.py").write_text(ADDING, encoding="utf-8")
    assert run(first, tmp_path) == "3 0"
    copied = Path(shutil.copytree(first, tmp_path / "second/room"))
    assert run(copied, tmp_path) == "3 1"
    (copied / "adding.py").write_text(ADDING.replace("a + b", "a - b"), encoding="utf-8")
    assert run(copied, tmp_path) == "-1 0"


LONG = """
import threading, time
from pathlib import Path
from layers.compiled import Compiler

compiled = Compiler(Path(__file__).parent, ("adding.py",))


@compiled
def steps(count):
    at = 1
    for _ in range(count):
        at = at * 48271 % 2147483647
    return at


def call():
    began.append(time.monotonic())
    steps(300_000_000)
    ended.append(time.monotonic())


began, ended, seen = [], [], []
steps(1)
thread = threading.Thread(target=call)
thread.start()
while not ended:
    seen.append(time.monotonic())
    time.sleep(0.001)
thread.join()
middle = [at for at in seen if began[0] + 0.2 < at < ended[0] - 0.2]
print(ended[0] - began[0] > 0.5, len(middle) > 0)
"""


def test_other_threads_go_on_while_compiled_code_runs(tmp_path: Path) -> None:
    (tmp_path / "adding.py").write_text(LONG, encoding="utf-8")
    assert run(tmp_path, tmp_path / "cache") == "True True"
