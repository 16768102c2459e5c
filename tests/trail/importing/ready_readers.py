"""Runs the processes that read foreign files by forking one that has loaded the libraries.

Twenty thousand starts of Python would take hours; what runs in each process is the same.
`python -m tests.trail.importing.ready_readers WORKER MODULES` is that process.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from importlib import import_module
from itertools import count
from pathlib import Path
from typing import IO, Any, Self

MOST_S = 10
_ROOT = Path(__file__).parents[3]
WORKERS = ("layers.trail.importing.vector_worker", "layers.trail.importing.proposing.book_worker")


class Ready:
    """Stands in for the module `subprocess` where readers are started; a context manager."""

    PIPE = subprocess.PIPE
    DEVNULL = subprocess.DEVNULL
    TimeoutExpired = subprocess.TimeoutExpired

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._number = count()
        self._parents: dict[tuple[str, ...], subprocess.Popen[str]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for parent in self._parents.values():
            parent.communicate(timeout=20)

    def _parent(self, *modules: str) -> subprocess.Popen[str]:
        """The process that has loaded these modules alone: the smaller, the faster it forks."""
        if modules not in self._parents:
            self._parents[modules] = subprocess.Popen(
                [sys.executable, "-m", __name__, *modules],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=_ROOT,
                text=True,
            )
        return self._parents[modules]

    def Popen(self, command: Sequence[str], **_: Any) -> Reader:  # noqa: N802
        """A reader that a command would start."""
        worker = next(one for one in WORKERS if one.rpartition(".")[2] in " ".join(command))
        at = next(i for i, part in enumerate(command) if worker.rpartition(".")[2] in part)
        # One pipe a reader: what the one before still writes must not come out of it.
        pipe = self._folder / f"reader{next(self._number)}"
        os.mkfifo(pipe)
        memory_bytes = command[at - 2]  # as `sealed` writes it
        order = {
            "arguments": command[at + 1 :],
            "to": str(pipe),
            "memory_bytes": int(memory_bytes),
        }
        more = ["pyarrow.parquet"] if "GeoParquet" in command else []
        pid = _ordered(self._parent(worker, *more), order)
        reader = Reader(pid, pipe.open("rb"))
        pipe.unlink()
        return reader

    def late(self) -> bool:
        """Whether a reader since the last call took more than `MOST_S` of processor time."""
        return sum(_ordered(parent, {}) for parent in self._parents.values()) > 0

    def run(
        self, command: Sequence[str], *, timeout: float, **_: Any
    ) -> subprocess.CompletedProcess[bytes]:
        """What a reader wrote until it ended."""
        reader = self.Popen(command)
        late = threading.Timer(timeout, reader.kill)
        late.start()
        with reader.stdout:
            output = reader.stdout.read()
        if not late.is_alive():
            raise subprocess.TimeoutExpired(command, timeout)
        late.cancel()
        return subprocess.CompletedProcess(command, 0, output)


class Reader:
    """One reader under way."""

    def __init__(self, pid: int, stdout: IO[bytes]) -> None:
        self._pid = pid
        self.stdout = stdout

    def kill(self) -> None:
        try:
            os.kill(self._pid, signal.SIGKILL)
        except ProcessLookupError:
            return

    def wait(self) -> None:
        """Nothing: the process that forked it waits for it."""


def _ordered(parent: subprocess.Popen[str], order: dict[str, Any]) -> int:
    assert parent.stdin is not None and parent.stdout is not None
    parent.stdin.write(json.dumps(order) + "\n")
    parent.stdin.flush()
    return int(parent.stdout.readline())


def main() -> None:
    worker, *more = sys.argv[1:]
    run = import_module(worker).main
    for name in more:
        import_module(name)
    children: list[int] = []
    for line in sys.stdin:
        order = json.loads(line)
        if not order:
            ends = [os.waitpid(pid, 0)[1] for pid in children]
            children.clear()
            print(
                sum(os.WIFSIGNALED(e) and os.WTERMSIG(e) == signal.SIGPROF for e in ends),
                flush=True,
            )
            continue
        pid = os.fork()
        children += [pid] * bool(pid)
        if pid:
            print(pid, flush=True)
            continue
        with Path(order["to"]).open("wb") as out:
            os.dup2(out.fileno(), 1)
        signal.setitimer(signal.ITIMER_PROF, MOST_S)  # ends the process
        before = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (before + order["memory_bytes"],) * 2)
        sys.argv = [worker, *order["arguments"]]
        try:
            run()
            sys.stdout.flush()
        finally:
            os._exit(0)


if __name__ == "__main__":
    main()
