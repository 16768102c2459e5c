"""Plain instructions for a leg."""

from __future__ import annotations

from typing import Literal

from layers.walking.compass import compass
from layers.walking.round.result import Leg

Units = Literal["metric", "us"]

# International Yard and Pound Agreement 1959: a foot is 0.3048 m, a mile 5,280 feet.
FOOT_M = 0.3048
MILE_M = 5280 * FOOT_M


def length_text(length_m: float, *, units: Units = "metric") -> str:
    """A length as people say it: metres below a kilometre, or feet below 1,000 feet."""
    if units == "metric":
        return f"{length_m:.0f} m" if length_m < 999.5 else f"{length_m / 1000.0:.1f} km"
    feet = length_m / FOOT_M
    return f"{feet:.0f} ft" if feet < 999.5 else f"{length_m / MILE_M:.1f} mi"


def instruction(leg: Leg, *, look: bool = False, units: Units = "metric") -> str:
    """What to do on one leg: "follow Pond Loop east 240 m; B12 on the left, 12 m off the path"."""

    def said(length_m: float) -> str:
        return length_text(length_m, units=units)

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
