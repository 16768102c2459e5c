"""Compile functions once per machine, and keep them.

Numba's own cache looks at one file's date only, so a change in a module that the
compiled one imports would go unseen. Ours is stored under a name made from the
content of every module that takes part.
"""

from __future__ import annotations

import functools
import hashlib
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import numba
import numpy as np
from numba.core.caching import UserProvidedCacheLocator


class ContentLocator(UserProvidedCacheLocator):
    """Finds compiled code again from any installation: a checkout, a copy of it, or a wheel.

    The cache folder is named by the content of the modules, so where they are does not matter.
    """

    @classmethod
    def get_suitable_cache_subpath(cls, py_file: str) -> str:
        """Folder of a module's functions below the cache folder."""
        path = Path(py_file)
        return f"{path.parent.name}_{path.stem}"


class Compiler:
    """A decorator that compiles a function; the Python original stays at its `py_func`.

    Where the cache folder cannot be written, functions are compiled anew in each process. They
    release Python's lock: other threads go on answering while the nests of a large trail are
    dated or a round is searched.

    Parameters
    ----------
    folder, parts
        The modules that take part, those that compiled code imports among them, as
        paths below a folder.
    """

    def __init__(self, folder: Path, parts: Sequence[str]) -> None:
        self._cache = _cache_folder([folder / name for name in parts])

    def __call__(self, function: Callable[..., Any]) -> Any:
        config: Any = numba.config
        if config.DISABLE_JIT:
            return _plain(function)
        if self._cache is None:
            return numba.njit(nogil=True)(function)
        before = config.CACHE_DIR, config.CACHE_LOCATOR_CLASSES
        config.CACHE_DIR = str(self._cache)
        config.CACHE_LOCATOR_CLASSES = f"{ContentLocator.__module__}.{ContentLocator.__qualname__}"
        try:
            return numba.njit(cache=True, nogil=True)(function)
        finally:
            config.CACHE_DIR, config.CACHE_LOCATOR_CLASSES = before

    @property
    def can_be_ready(self) -> bool:
        """Whether what is compiled can be stored on this machine."""
        return self._cache is not None

    @property
    def is_ready(self) -> bool:
        """Whether everything was compiled ahead, by this or an earlier process."""
        return self._cache is not None and (self._cache / "ready").exists()

    def set_ready(self) -> None:
        """Record that everything is compiled, where the cache folder can be written."""
        if self._cache is not None:
            with suppress(OSError):
                (self._cache / "ready").touch()


def _plain(function: Callable[..., Any]) -> Any:
    """`function` as plain Python: rows of tables have their fields as attributes there too."""

    @functools.wraps(function)
    def called(*given: Any) -> Any:
        return function(
            *(
                one.view(np.recarray)
                if isinstance(one, np.ndarray) and one.dtype.names and one.dtype.type is np.void
                else one
                for one in given
            )
        )

    called.py_func = function  # type: ignore[attr-defined]
    return called


def _cache_folder(modules: Sequence[Path]) -> Path | None:
    """Where the compiled code of these modules is stored; None if nothing can be written there."""
    content = b"".join(path.read_bytes() for path in (Path(__file__), *modules))
    mark = hashlib.sha256(content + numba.__version__.encode()).hexdigest()[:16]
    home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(home) / "boxround" / mark
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None
