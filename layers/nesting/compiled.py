"""Compile the reading of nests once per machine, and keep it.

Numba's own cache looks at one file's date only, so a change in a module that the
compiled one imports would go unseen. Ours is kept under a name made from the
content of every module that takes part.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba

_PARTS = (
    "attempt_columns.py",
    "dating/laying.py",
    "dating/model.py",
    "dating/summing.py",
    "dating/terms.py",
    "dating/weighing.py",
    "ending.py",
    "reading.py",
    "settling.py",
    "taking.py",
    "timeline.py",
)


def _cache_folder() -> Path | None:
    here = Path(__file__).parent
    content = b"".join((here / name).read_bytes() for name in _PARTS)
    mark = hashlib.sha256(content + numba.__version__.encode()).hexdigest()[:16]
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(home) / "boxround" / mark
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None


_FOLDER = _cache_folder()


def compiled(function: Callable[..., Any]) -> Any:
    """`function` compiled; the Python original stays at its `py_func`.

    Where the cache folder cannot be written it is compiled anew in each process.
    """
    if _FOLDER is None:
        return numba.njit(function)
    config: Any = numba.config
    before, config.CACHE_DIR = config.CACHE_DIR, str(_FOLDER)
    try:
        return numba.njit(cache=True)(function)
    finally:
        config.CACHE_DIR = before
