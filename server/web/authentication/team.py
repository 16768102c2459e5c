"""The team as a running server sees it: who holds which key, always as the file says now."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from layers.errors import BadValue, EnvironmentFault, NotKnown
from server.web.authentication.records import Key
from server.web.authentication.side_file import people_path
from server.web.authentication.store import People
from server.web.authentication.tokens import digest

MAX_KEYS_REMEMBERED = 10_000


def expect_keeper(trail: Path, *, now: datetime) -> None:
    """See that a person could sign in as keeper.

    Raises
    ------
    BadValue
        No one could; the message says what to do.
    """
    try:
        with People.open(trail) as people:
            there_is_one = people.has_keeper(now=now)
    except NotKnown:
        there_is_one = False
    if not there_is_one:
        raise BadValue(
            "a keeper before others can reach the trail (run: boxround invite "
            f"{trail.name} --name YOUR-NAME --role keeper)",
            "none",
        )


class Team:
    """The people of a trail for one server process.

    `refresh` is called in the event loop and costs microseconds where nothing changed.

    Parameters
    ----------
    alone
        Whether only people at this very machine can reach the server. Then no one needs
        to sign in, until a person is invited.
    """

    def __init__(self, trail: Path, *, alone: bool, busy_s: float) -> None:
        self._trail = trail
        self._path = people_path(trail)
        self._alone = alone
        self._busy_s = busy_s
        self._reader: People | None = None
        self._file_number = 0
        self._keys: dict[bytes, Key] = {}
        self._anybody = False
        self.is_open = False
        """Whether no one needs to sign in."""
        self.trouble: EnvironmentFault | None = None
        """Why no one can be let in, where the side file cannot be used."""
        self.mark = ""

    def close(self) -> None:
        if self._reader is not None:
            self._reader.close()
            self._reader = None

    def refresh(self) -> None:
        """Catch up with the side file: a person may have been invited or revoked."""
        try:
            self._catch_up()
            self.trouble = None
        except (NotKnown, EnvironmentFault) as error:
            self.close()
            self.trouble = (
                error if isinstance(error, EnvironmentFault) else EnvironmentFault(str(error))
            )
        # Once a person was invited, a file that is gone opens nothing to anybody.
        self.is_open = self._alone and not self._anybody and self.trouble is None

    def _catch_up(self) -> None:
        try:
            number = self._path.stat().st_ino
        except OSError:
            number = 0
        if number != self._file_number or self._reader is None:
            self.close()
            self._keys.clear()
            self._file_number = number
            if number == 0:
                return
            self._reader = People.open(self._trail, busy_s=self._busy_s)
            self.mark = self._reader.mark
        if self._reader.changed():
            self._keys.clear()
            self._anybody = self._anybody or self._reader.anybody()

    def key(self, token: str) -> Key | None:
        """The key with this secret, whether or not it still holds; None if there is none."""
        hashed = digest(token)
        key = self._keys.get(hashed)
        if key is None and self._reader is not None:
            key = self._reader.key(hashed)
            if key is not None:
                self.remember(token, key)
        return key

    def remember(self, token: str, key: Key) -> None:
        """Answer with this for a secret until the file changes."""
        if len(self._keys) >= MAX_KEYS_REMEMBERED:
            self._keys.clear()
        self._keys[digest(token)] = key

    @contextmanager
    def people(self, *, busy_s: float | None = None) -> Iterator[People]:
        """The side file, open for this thread until the block ends.

        Parameters
        ----------
        busy_s
            How long a write waits for another's; None = as long as a save does.
        """
        with People.open(self._trail, busy_s=self._busy_s if busy_s is None else busy_s) as people:
            yield people
