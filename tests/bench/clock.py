"""How long something takes, and how a result is printed."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def best_of(times: int, work: Callable[[], T]) -> tuple[float, T]:
    """The shortest of several runs in seconds, and the last result."""
    shortest = float("inf")
    for _ in range(times):
        begun = time.perf_counter()
        result = work()
        shortest = min(shortest, time.perf_counter() - begun)
    return shortest, result


def say_time(seconds: float) -> str:
    """Seconds in the unit that reads best."""
    if seconds < 1e-3:
        return f"{seconds * 1e6:.1f} µs"
    return f"{seconds * 1e3:.1f} ms" if seconds < 1 else f"{seconds:.2f} s"


def line(what: str, ours_s: float, *, plain: str | None = None, plain_s: float = 0.0) -> None:
    """Print one measurement, with its ratio against the plain way of the same run."""
    text = f"  {what:<58} {say_time(ours_s):>10}"
    if plain is not None:
        text += f"   {plain}: {say_time(plain_s)}, {plain_s / ours_s:,.0f} times as long"
    print(text, flush=True)


def heading(text: str) -> None:
    print(f"\n{text}", flush=True)
