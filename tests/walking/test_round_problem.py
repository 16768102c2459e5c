"""Requests and problems of rounds that make no sense are refused."""

from __future__ import annotations

import math
from typing import Any

import pytest

from layers.errors import BadValue
from layers.walking.round import StopRequest
from layers.walking.round.clock import clock
from tests.walking.small_rounds import AROUND, planned, request


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"minutes": -1.0}, "minutes at B1 from 0"),
        ({"urgency": 0.0}, "urgency of B1 above 0"),
        ({"urgency": math.inf}, "urgency of B1 above 0"),
        ({"opens_at": 2000.0}, "time of day for B1"),
        ({"opens_at": 600.0, "closes_at": 540.0}, "begin before they end, got 10:00 to 09:00"),
    ],
)
def test_a_call_that_makes_no_sense_is_refused(asked: dict[str, Any], said: str) -> None:
    with pytest.raises(BadValue, match=said):
        StopRequest("B1", 0.0, 0.0, **asked)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"budget_minutes": 0.0}, "more than 0 minutes"),
        ({"walkers": 0}, "1 to 20 walkers"),
        ({"leave_at": -5.0}, "time of day to leave at"),
    ],
)
def test_a_problem_that_makes_no_sense_is_refused(asked: dict[str, Any], said: str) -> None:
    with pytest.raises(BadValue, match=said):
        planned(AROUND, **asked)


def test_a_box_asked_for_twice_is_refused() -> None:
    with pytest.raises(BadValue, match="each box once, got B1"):
        planned([request(1, 0, "B1"), request(100, 0, "B1")])


def test_clock_times_past_midnight_go_on() -> None:
    assert [clock(0.0), clock(545.4), clock(1445.0)] == ["00:00", "09:05", "00:05"]
