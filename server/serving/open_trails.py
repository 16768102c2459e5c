"""Apps of many trails in one process: each opened when it is requested, let go when others are.

An open trail costs some 9 MB and 5 to 10 file handles, so only so many are open at a time; the one
longest unused gives way. It gives way only once its requests are answered, and a request that comes
meanwhile waits until it is closed and opens it again. Each has a task of its own, from the start of
its app to the end of it, so a trail that opens slowly or not at all holds up no other.
"""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

from anyio import to_thread
from fastapi import FastAPI

MAX_OPEN = 20
"""Trails open at a time; with it 200 trails need less than 256 file handles (measured)."""


@dataclass(eq=False)
class OpenTrail:
    """A trail from its first request until it is let go."""

    name: str
    app: FastAPI | None = None
    trouble: Exception | None = None
    requests: int = 0
    """Under way, those that wait for the opening included."""
    is_leaving: bool = False
    ready: asyncio.Event = field(default_factory=asyncio.Event)
    leave: asyncio.Event = field(default_factory=asyncio.Event)
    gone: asyncio.Event = field(default_factory=asyncio.Event)
    task: asyncio.Task[None] | None = None


class OpenTrails:
    """The open ones; used within one event loop.

    Parameters
    ----------
    make
        Gives the app of a trail by its name; called in a thread.
    most
        Open at a time.
    """

    def __init__(self, make: Callable[[str], FastAPI], *, most: int = MAX_OPEN) -> None:
        self._make = make
        self._places = asyncio.Semaphore(most)
        self._known: OrderedDict[str, OpenTrail] = OrderedDict()
        self._waiting = 0

    def __len__(self) -> int:
        return sum(one.app is not None for one in self._known.values())

    def at_once(self, name: str) -> OpenTrail | None:
        """A trail that is open already, with one request more; give it back with `done`."""
        one = self._known.get(name)
        if one is None or one.app is None or one.is_leaving:
            return None
        self._known.move_to_end(name)
        one.requests += 1
        return one

    async def opened(self, name: str) -> OpenTrail:
        """A trail with one request more, opened if need be; give it back with `done`.

        Raises
        ------
        BoxroundError
            It cannot be opened. The next request tries again.
        """
        while (one := self._known.get(name)) is not None and one.is_leaving:
            await one.gone.wait()
        if one is None:
            one = self._known[name] = OpenTrail(name)
            one.task = asyncio.create_task(self._run(one))
        self._known.move_to_end(name)
        one.requests += 1
        try:
            await one.ready.wait()
        except BaseException:
            self.done(one)
            raise
        if one.trouble is not None:
            self.done(one)
            raise one.trouble
        return one

    def done(self, one: OpenTrail) -> None:
        """A request is answered."""
        one.requests -= 1
        if self._waiting:
            self._make_room()

    async def close(self) -> None:
        """Let all go, and wait until they are closed."""
        for one in list(self._known.values()):
            one.is_leaving = True
            one.leave.set()
        await asyncio.gather(*(one.gone.wait() for one in list(self._known.values())))

    async def _run(self, one: OpenTrail) -> None:
        try:
            await self._take_place()
            try:
                app = await to_thread.run_sync(self._make, one.name)
                async with app.router.lifespan_context(app):
                    one.app = app
                    one.ready.set()
                    await one.leave.wait()
            finally:
                self._places.release()
        except Exception as error:
            one.trouble = error
        finally:
            del self._known[one.name]
            one.ready.set()
            one.gone.set()

    async def _take_place(self) -> None:
        self._waiting += 1
        try:
            if self._places.locked():
                self._make_room()
            await self._places.acquire()
        finally:
            self._waiting -= 1

    def _make_room(self) -> None:
        """Let as many go as wait for a place: those longest unused, and no request under way."""
        leaving = sum(one.is_leaving for one in self._known.values())
        for one in list(self._known.values()):
            if leaving >= self._waiting:
                return
            if one.app is not None and not one.requests and not one.is_leaving:
                one.is_leaving = True
                one.leave.set()
                leaving += 1
