"""A line to a server that can be cut and mended at once: no signal without another server."""

from __future__ import annotations

import socket
import threading
from contextlib import suppress


class Line:
    """Forwards connections to a port of this machine from one of its own, until it is cut."""

    def __init__(self, port: int) -> None:
        self._to = ("127.0.0.1", port)
        self._at = ("127.0.0.1", 0)
        self._open: set[socket.socket] = set()
        self.mend()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._at[1]}"

    def mend(self) -> None:
        listening = socket.create_server(self._at, backlog=50)
        self._at = listening.getsockname()
        self._open.add(listening)
        threading.Thread(target=self._listen, args=(listening,), daemon=True).start()

    def cut(self) -> None:
        """Connections end, and new ones are refused."""
        for one in list(self._open):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
        self._open.clear()

    def _listen(self, listening: socket.socket) -> None:
        with suppress(OSError):
            while True:
                near, _ = listening.accept()
                far = socket.create_connection(self._to)
                self._open |= {near, far}
                for one, other in ((near, far), (far, near)):
                    threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while some := one.recv(65536):
                other.sendall(some)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
            self._open.discard(end)
