"""Runs a reader of foreign files with bounded memory and time, and without a network.

As a script, in a process of its own: `sealed.py BYTES SECONDS READER ARGUMENTS`. The reader is
a script, or the name of a module of Boxround.
"""

from __future__ import annotations

import ctypes
import os
import resource
import runpy
import sys
from pathlib import Path

_SCRIPT = Path(__file__)
_NEW_USERS, _NEW_NETWORK = 0x10000000, 0x40000000
"""CLONE_NEWUSER and CLONE_NEWNET (Linux, `include/uapi/linux/sched.h`)."""


def sealed(reader: Path | str, *, memory_bytes: int, processor_s: int) -> list[str]:
    """The command that runs a reader; its arguments are to follow."""
    # -P: the folder of the script is no place to import from.
    command = [sys.executable, "-P", str(_SCRIPT), str(memory_bytes), str(processor_s)]
    return [*command, str(reader)]


def _without_network() -> None:
    """Take the network away, where the system lets an ordinary process do so."""
    try:
        unshare = ctypes.CDLL(None).unshare
    except (OSError, AttributeError):
        return  # not Linux
    if unshare(_NEW_NETWORK):
        unshare(_NEW_USERS | _NEW_NETWORK)


def main() -> None:
    memory_bytes, processor_s, reader, *arguments = sys.argv[1:]
    resource.setrlimit(resource.RLIMIT_AS, (int(memory_bytes),) * 2)
    resource.setrlimit(resource.RLIMIT_CPU, (int(processor_s),) * 2)
    os.environ["PROJ_NETWORK"] = "OFF"
    _without_network()
    sys.argv = [reader, *arguments]
    if reader.endswith(".py"):
        runpy.run_path(reader, run_name="__main__")
        return
    sys.path.insert(0, str(_SCRIPT.parents[3]))
    runpy.run_module(reader, run_name="__main__")


if __name__ == "__main__":
    main()
