"""Compiled code is found again by any installation of the same modules, and by no other."""

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
