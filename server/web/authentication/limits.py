"""How often a request may come: a bucket of turns that fills up again with time."""

from __future__ import annotations

import ipaddress
from collections import OrderedDict

MAX_BUCKETS = 10_000
"""Remembered at a time; the one longest unused goes first. About 2 MB."""


class Buckets:
    """A bucket of turns for each key, such as an address or a person.

    Parameters
    ----------
    at_once
        Turns in a full bucket.
    per_minute
        Turns that flow back.
    """

    def __init__(self, *, at_once: int, per_minute: float, most: int = MAX_BUCKETS) -> None:
        self._at_once = at_once
        self._per_s = per_minute / 60
        self._most = most
        self._levels: OrderedDict[object, tuple[float, float]] = OrderedDict()

    def take(self, key: object, *, now_s: float) -> float:
        """Take a turn if there is one; seconds to wait if there is none, else 0."""
        level, at_s = self._levels.pop(key, (self._at_once, now_s))
        level = min(self._at_once, level + (now_s - at_s) * self._per_s)
        there_is_one = level >= 1
        self._levels[key] = (level - there_is_one, now_s)
        if len(self._levels) > self._most:
            self._levels.popitem(last=False)
        return 0.0 if there_is_one else (1 - level) / self._per_s

    def __len__(self) -> int:
        return len(self._levels)


def network_of(address: str) -> str:
    """An address, or for IPv6 its network of 64 bits: one household or phone has all of it."""
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return address
    if known.version == 4:
        return address
    return str(ipaddress.ip_network((known, 64), strict=False))
