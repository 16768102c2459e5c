"""Small rounds around a loop, and rounds of a made park."""

from __future__ import annotations

from typing import Any

from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.pace import Flat
from layers.walking.round import Round, RoundProblem, StopRequest, plan
from tests.walking.parks import line, make_park, site

LOOP = build_network([line((0, 0), (300, 0), (300, 200), (0, 200), (0, 0))])[0]
CAR_PARK = site(0, 0, "Car Park")


def request(x: float, y: float, box: str, **asked: Any) -> StopRequest:
    at = site(x, y, box)
    return StopRequest(box, at.lon, at.lat, **asked)


def planned(requests: list[StopRequest], *, network: Network = LOOP, **asked: Any) -> Round:
    start = asked.pop("start", CAR_PARK)
    return plan(RoundProblem(network, tuple(requests), start, **asked), pace=Flat(5.0))


def park_problem(boxes: int, **asked: Any) -> RoundProblem:
    park = make_park(3, boxes=60)
    network, _ = build_network(park.lines())
    requests = [
        StopRequest(at.name, at.lon, at.lat, urgency=1.0 + number % 5)
        for number, at in enumerate(park.sites()[:boxes])
    ]
    return RoundProblem(network, tuple(requests), site(500, 20, "Car Park"), **asked)


AROUND = [request(300, 100, "B2"), request(150, -3, "B1"), request(150, 205, "B3")]
