"""Numbers of things in words."""

from __future__ import annotations


def counted(number: int, one: str, many: str) -> str:
    """`1 nest`, `4 nests`."""
    return f"{number} {one if number == 1 else many}"
