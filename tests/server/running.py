"""Coroutines in tests."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")


async def _awaited(work: Awaitable[T]) -> T:
    return await work


def in_own_thread(work: Awaitable[T]) -> T:
    """Run a coroutine; in this thread the browser of other tests keeps an event loop."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, _awaited(work)).result()
