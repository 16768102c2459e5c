"""Plain instructions for a leg."""

from __future__ import annotations

from typing import Literal

from layers.trail.measures import said_distance
from layers.walking.compass import compass
from layers.walking.round.result import Leg

Units = Literal["metric", "us"]


def instruction(leg: Leg, *, look: bool = False, units: Units = "metric") -> str:
    """What to do on one leg: "follow Pond Loop east 240 m; B12 on the left, 12 m off the path"."""

    def said(length_m: float) -> str:
        return said_distance(length_m, units)

    parts = []
    for number, stride in enumerate(leg.strides):
        way = compass(stride.bearing_deg)
        if not stride.name:
            parts.append(f"walk straight {way} {said(stride.length_m)}")
        elif number == 0:
            parts.append(f"follow {stride.name} {way} {said(stride.length_m)}")
        else:
            parts.append(f"{stride.turn} {stride.name} {said(stride.length_m)}")
    if not leg.strides and leg.length_m >= 0.5:
        parts.append(f"walk {compass(leg.bearing_deg)} {said(leg.length_m)}")
    way_there = ", then ".join(parts)
    if look:
        arrival = f"look at {leg.end}{f' {leg.side}' if leg.side else ''} from the path"
        arrival += f", {said(leg.away_m)} away"
    elif leg.side:
        arrival = f"{leg.end} {leg.side}, {said(leg.away_m)} off the path"
    else:
        arrival = f"{leg.end} is here" if not parts else leg.end
    return f"{way_there}; {arrival}" if way_there else arrival
