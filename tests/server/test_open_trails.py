"""Many apps in one process: bounded, each from start to end, and none waits for another."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from fastapi import FastAPI

from layers.errors import NotATrail
from server.serving.open_trails import OpenTrails
from tests.server.running import in_own_thread


class Recorded:
    """Makes apps, and records when each is started and ended."""

    def __init__(self) -> None:
        self.events: list[str] = []
        self.slow = threading.Event()

    def __call__(self, name: str) -> FastAPI:
        if name == "broken":
            raise NotATrail("Expected a trail file, got broken.gpkg")
        if name == "slow":
            assert self.slow.wait(20)

        @asynccontextmanager
        async def lifespan(_: FastAPI) -> AsyncIterator[None]:
            self.events.append(f"+{name}")
            yield
            self.events.append(f"-{name}")

        return FastAPI(lifespan=lifespan)


def test_the_one_longest_unused_gives_way_and_is_opened_again() -> None:
    async def run() -> list[str]:
        recorded = Recorded()
        trails = OpenTrails(recorded, most=2)
        for name in "abac":
            trails.done(await trails.opened(name))
        trails.done(await trails.opened("b"))
        assert len(trails) == 2
        await trails.close()
        return recorded.events

    events = in_own_thread(run())
    assert events[:5] == ["+a", "+b", "-b", "+c", "-a"]
    assert sorted(events[5:]) == ["+b", "-b", "-c"]


def test_a_trail_goes_only_once_its_requests_are_answered() -> None:
    async def run() -> None:
        recorded = Recorded()
        trails = OpenTrails(recorded, most=1)
        first = await trails.opened("a")
        again = trails.at_once("a")
        assert again is first
        waiting = asyncio.create_task(trails.opened("b"))
        for _ in range(5):
            await asyncio.sleep(0)
        trails.done(first)
        await asyncio.sleep(0.01)
        assert recorded.events == ["+a"]
        assert not waiting.done()
        trails.done(first)
        trails.done(await waiting)
        assert recorded.events == ["+a", "-a", "+b"]
        await trails.close()

    in_own_thread(run())


def test_a_request_to_one_that_is_leaving_has_it_opened_anew() -> None:
    async def run() -> list[str]:
        recorded = Recorded()
        trails = OpenTrails(recorded, most=1)
        trails.done(await trails.opened("a"))
        other = asyncio.create_task(trails.opened("b"))
        while (one := trails.at_once("a")) is not None:
            trails.done(one)
            await asyncio.sleep(0)
        same = asyncio.create_task(trails.opened("a"))
        trails.done(await other)
        trails.done(await same)
        await trails.close()
        return recorded.events

    events = in_own_thread(run())
    assert events == ["+a", "-a", "+b", "-b", "+a", "-a"]


def test_one_that_cannot_be_opened_is_reported_and_tried_again_and_holds_up_no_other() -> None:
    async def run() -> None:
        recorded = Recorded()
        trails = OpenTrails(recorded, most=2)
        slow = asyncio.create_task(trails.opened("slow"))
        for _ in range(3):
            with pytest.raises(NotATrail, match="got broken"):
                await trails.opened("broken")
        trails.done(await trails.opened("a"))
        assert recorded.events == ["+a"]
        recorded.slow.set()
        trails.done(await slow)
        assert recorded.events == ["+a", "+slow"]
        await trails.close()

    in_own_thread(run())


def test_many_requests_at_once_open_a_trail_once_and_no_more_than_there_is_room_for() -> None:
    async def run() -> None:
        recorded = Recorded()
        trails = OpenTrails(recorded, most=3)

        async def request(number: int) -> None:
            one = await trails.opened(f"trail {number % 8}")
            assert len(trails) <= 3
            assert one.app is not None
            await asyncio.sleep(0)
            trails.done(one)

        await asyncio.gather(*(request(number) for number in range(200)))
        started = sum(event[0] == "+" for event in recorded.events)
        assert started < 60
        await trails.close()
        assert sum(event[0] == "-" for event in recorded.events) == started
        assert len(trails) == 0

    in_own_thread(run())
