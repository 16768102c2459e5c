"""What reads foreign files has bounded memory and no network."""

from __future__ import annotations

import socket
import subprocess
from pathlib import Path

import pytest

from layers.trail.importing.sealed import sealed
from tests.trail.importing.imports import written


def printed(folder: Path, text: str, *arguments: str) -> str:
    """What a reader prints, run with a quarter of a gigabyte."""
    reader = written(folder / "reader.py", text)
    command = sealed(reader, memory_bytes=1 << 28, processor_s=20)
    done = subprocess.run([*command, *arguments], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_a_reader_reaches_no_network(tmp_path: Path) -> None:
    own = Path("/proc/self/ns/net")
    if printed(tmp_path, f"import os; print(os.readlink('{own}'))") == str(own.readlink()):
        pytest.skip("this system lets no ordinary process leave its network")
    with socket.create_server(("127.0.0.1", 0)) as server:
        text = (
            "import socket, sys\n"
            "try:\n    socket.create_connection(('127.0.0.1', int(sys.argv[1])), timeout=5)\n"
            "except OSError:\n    print('refused')\n"
        )
        assert printed(tmp_path, text, str(server.getsockname()[1])) == "refused"


def test_a_reader_may_not_fill_the_memory(tmp_path: Path) -> None:
    text = "try:\n    bytes(1 << 29)\nexcept MemoryError:\n    print('too much')\n"
    assert printed(tmp_path, text) == "too much"
